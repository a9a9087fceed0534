"""Reading what was typed by hand, through the same door as a file that was sent."""

from dataclasses import replace

from django.utils.translation import gettext as _
from lxml import etree

from scores.entering import compose
from scores.entry_forms import EntryForm
from scores.reading_files import Limits, ReadEdition, read_abc
from scores.reading_files.hands import ONE_STAFF_LEFT, ONE_STAFF_RIGHT, TWO_PARTS
from scores.repertoire import read_apart

READ = "scores.handwork:read_numbered"
KNOWN = {ONE_STAFF_LEFT, ONE_STAFF_RIGHT, TWO_PARTS}  # Which hand plays what was said by the one who typed.


def read_typed(form: EntryForm, *, title: str) -> tuple[str, ReadEdition]:
    """The text and the music of a valid form. Raises `CannotRead` and `WorkshopFailed`."""
    composed = compose(form.typed(title=title))
    first = form.cleaned_data["first_number"] - (1 if form.cleaned_data["pickup"] else 0)
    return composed.text, read_apart(READ, composed.text, max(0, first))


def read_numbered(text: str, first: int, limits: Limits) -> ReadEdition:
    """Reads ABC and gives its measures the numbers that they have in the book, from `first` on. Runs in the workshop.
    Raises `CannotRead`."""
    read = read_abc(text, limits)
    root = etree.fromstring(read.music)
    for number, measure in enumerate(root.iterfind("part/measure"), first):
        measure.set("number", str(number))
    numbers = {measure.number: str(first + measure.index) for measure in read.score.measures}
    measures = tuple(replace(measure, number=str(first + measure.index)) for measure in read.score.measures)
    return replace(
        read,
        music=etree.tostring(root, encoding="UTF-8", xml_declaration=True),
        score=replace(read.score, measures=measures),
        notices=tuple(
            (message, told_anew(params, numbers)) for message, params in read.notices if message not in KNOWN
        ),
    )


def told_anew(params: dict[str, str | int], numbers: dict[str, str]) -> dict[str, str | int]:
    """The places in a notice, in the book's numbers."""

    def anew(value: str | int) -> str:
        return ", ".join(numbers.get(part, part) for part in str(value).split(", "))

    return {name: anew(value) if name in ("measure", "measures") else value for name, value in params.items()}


def shown_notices(read: ReadEdition) -> list[str]:
    return [_(message) % params for message, params in read.notices]
