"""ABC with the measure numbers of the book it was typed from. Runs in the workshop, so it knows nothing of Django's
models and forms."""

from dataclasses import replace

from lxml import etree

from scores.reading_files import Limits, ReadEdition
from scores.reading_files.hands import ONE_STAFF_LEFT, ONE_STAFF_RIGHT, TWO_PARTS
from scores.reading_files.reading import read_abc

KNOWN = {ONE_STAFF_LEFT, ONE_STAFF_RIGHT, TWO_PARTS}  # Which hand plays what was said by the one who typed.


def read_numbered(text: str, first: int, limits: Limits) -> ReadEdition:
    """Reads ABC and gives its measures the numbers that they have in the book, from `first` on. Raises `CannotRead`."""
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
