"""Reading what was typed by hand, through the same door as a file that was sent."""

from fractions import Fraction

from django.utils.translation import gettext as _

from scores.entering import compose
from scores.entry_forms import EntryForm
from scores.music.notation import SIDES, Score, Side
from scores.reading_files import ReadEdition
from scores.repertoire import read_apart

READ = "scores.numbering:read_numbered"


def read_typed(form: EntryForm, *, title: str) -> tuple[str, ReadEdition]:
    """The text and the music of a valid form. Raises `CannotRead` and `WorkshopFailed`."""
    text = compose(form.typed(title=title))
    first = form.cleaned_data["first_number"] - (1 if form.cleaned_data["pickup"] else 0)
    return text, read_apart(READ, text, max(0, first))


def shown_notices(form: EntryForm, read: ReadEdition) -> list[str]:
    """What the reading remarked, in the reader's language, and where one hand stops before the other."""
    remarked = [_(message) % params for message, params in read.notices]
    words = {
        "right": _("The right hand is shorter than the left in measure %(measures)s."),
        "left": _("The left hand is shorter than the right in measure %(measures)s."),
    }
    for side in SIDES:
        # Where no bar line stands at the end, the last measure is still being typed.
        short = short_measures(read.score, side, whole=form.cleaned_data[side].rstrip().endswith(("|", "]")))
        remarked += [words[side] % {"measures": ", ".join(short)}] if short else []
    return remarked


def short_measures(score: Score, side: Side, *, whole: bool) -> list[str]:
    """The numbers of the measures that a hand begins and does not fill; its last one only if that is `whole`."""
    ends: dict[int, Fraction] = {}
    for one in (*score.notes, *score.rests):
        if one.side == side:
            ends[one.measure] = max(ends.get(one.measure, Fraction(0)), one.onset + one.length)
    open_one = -1 if whole or not ends else max(ends)
    short = [place for place in sorted(ends) if ends[place] < score.measures[place].end and place != open_one]
    return [score.measures[place].number for place in short]
