"""Reading what was typed by hand, through the same door as a file that was sent."""

from django.utils.translation import gettext as _

from scores.entering import compose
from scores.entry_forms import EntryForm
from scores.reading_files import ReadEdition
from scores.repertoire import read_apart

READ = "scores.numbering:read_numbered"


def read_typed(form: EntryForm, *, title: str) -> tuple[str, ReadEdition]:
    """The text and the music of a valid form. Raises `CannotRead` and `WorkshopFailed`."""
    text = compose(form.typed(title=title))
    first = form.cleaned_data["first_number"] - (1 if form.cleaned_data["pickup"] else 0)
    return text, read_apart(READ, text, max(0, first))


def shown_notices(read: ReadEdition) -> list[str]:
    """What the reading remarked, in the reader's language."""
    return [_(message) % params for message, params in read.notices]
