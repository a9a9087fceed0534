"""Finger lines as the desk shows them: their numerals, what is wrong with them, and how parts join.

A line may be kept unfinished or wrong: nothing that a teacher typed is refused. `can_be_given` says whether a student
may be offered it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from django.utils.translation import gettext as _

from scores.inheriting import Inherited
from scores.models import Fingering, Passage, Source
from scores.music.fingering.checks import check, check_join
from scores.music.fingering.problems import Problem
from scores.music.fingering.text import Line, read_line, write_line
from scores.music.notation import Moment, Note, Side
from scores.noting import printed_fingers, version
from scores.stretches import key_of, place_of, sides_in, stretch, stretch_of

ROMAN = ((100, "C"), (90, "XC"), (50, "L"), (40, "XL"), (10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I"))
PRINTED = "printed"


@dataclass(frozen=True)
class SaidProblem:
    """A problem in the reader's language; `notes` are the ids it speaks of."""

    notes: tuple[str, ...]
    text: str
    severity: str

    @property
    def cannot(self) -> bool:
        return self.severity == "cannot"


@dataclass(frozen=True)
class ShownLine:
    """One finger line. `fingering` is None for the edition's own fingers. `where` is "" for the whole passage."""

    key: str
    numeral: str
    side: Side
    mark: str
    fingering: Fingering | None
    fingers: dict[str, str]
    moments: tuple[Moment, ...]
    where: str
    problems: tuple[SaidProblem, ...] = ()

    @property
    def text(self) -> str:
        return write_line(self.fingers, self.moments)

    @property
    def cannot(self) -> bool:
        return any(problem.cannot for problem in self.problems)

    @property
    def inherited(self) -> Inherited | None:
        """Where the line comes from, if it stands here because its music returns here."""
        return self.fingering.inherited if self.fingering else None

    @property
    def is_own(self) -> bool:
        """Written at this place, so that it can be typed into here."""
        return self.fingering is not None and self.inherited is None

    @property
    def label(self) -> str:
        """The numeral as it stands beside the notes; "II =" for a line of another place."""
        return f"{self.numeral} =" if self.inherited else self.numeral

    @property
    def version(self) -> str:
        return version(self.fingering) if self.fingering else ""

    @property
    def note_ids(self) -> tuple[str, ...]:
        return tuple(note.id for moment in self.moments for note in moment.notes)

    @property
    def count(self) -> tuple[int, int]:
        """How many notes have a finger, of how many."""
        return len(self.fingers), len(self.note_ids)


@dataclass(frozen=True)
class JoinCell:
    numeral: str
    problems: tuple[SaidProblem, ...]

    @property
    def cannot(self) -> bool:
        return any(problem.cannot for problem in self.problems)


@dataclass(frozen=True)
class Join:
    """Where one part ends and the next begins: a row for each option before, a cell for each option after."""

    side: Side
    measure: str
    beat: str
    after: tuple[str, ...]
    rows: tuple[tuple[str, tuple[JoinCell, ...]], ...]


def roman(number: int) -> str:
    written = ""
    for value, letters in ROMAN:
        times, number = divmod(number, value)
        written += letters * times
    return written


def problems_of(fingering: Fingering) -> tuple[Problem, ...]:
    """What cannot be, or looks like a slip, in a fingering as it stands."""
    score = fingering.passage.edition.score
    notes = [note for moment in stretch_of(fingering) for note in moment.notes]
    return check(notes, fingering.fingers, score)


def can_be_given(fingering: Fingering) -> bool:
    """Whether a student may be offered this line: something is marked and nothing in it is impossible."""
    return bool(fingering.fingers) and not any(problem.severity == "cannot" for problem in problems_of(fingering))


def said(problems: Sequence[Problem]) -> tuple[SaidProblem, ...]:
    """Problems in the reader's language."""
    return tuple(
        SaidProblem(problem.notes, _(problem.message) % dict(problem.params), problem.severity) for problem in problems
    )


def read_typed(text: str, moments: Sequence[Moment], passage: Passage) -> Line:
    """Reads a typed line; a line left blank marks nothing."""
    if not text.strip():
        return Line({}, ())
    return read_line(text, moments, passage.edition.score)


def shown_lines(passage: Passage, fingerings: Sequence[Fingering]) -> tuple[ShownLine, ...]:
    """The lines of each hand of the passage, numbered I, II, III within a hand; the edition's own come last."""
    found: list[ShownLine] = []
    for side in sides_in(passage):
        whole = stretch(passage, side)
        own = [fingering for fingering in fingerings if fingering.side == side]
        found += [shown_line(one, roman(number), whole) for number, one in enumerate(own, start=1)]
        printed = printed_fingers(passage, side)
        if printed:
            key = f"{PRINTED}-{side}"
            found.append(ShownLine(key, _("pr."), side, PRINTED, None, printed, whole, ""))
    return tuple(found)


def shown_line(fingering: Fingering, numeral: str, whole: Sequence[Moment]) -> ShownLine:
    """One line of a passage whose hand strikes the moments `whole`."""
    moments = stretch_of(fingering)
    return ShownLine(
        key=str(fingering.pk),
        numeral=numeral,
        side=fingering.side,
        mark="program" if fingering.source == Source.PROGRAM else "teacher",
        fingering=fingering,
        fingers=fingering.fingers,
        moments=moments,
        where="" if len(moments) == len(whole) else range_words(fingering.passage, moments),
        problems=said(problems_of(fingering)),
    )


def range_words(passage: Passage, moments: Sequence[Moment]) -> str:
    """ "m. 17, beat 2 to m. 18, beat 1" """
    if not moments:
        return ""
    start, end = (place_of(passage.edition.score, moment.notes[0]) for moment in (moments[0], moments[-1]))
    return _("m. %(measure)s, beat %(beat)s to m. %(last)s, beat %(last_beat)s") % {
        "measure": start.measure,
        "beat": start.beat,
        "last": end.measure,
        "last_beat": end.beat,
    }


def joins_of(passage: Passage, lines: Sequence[ShownLine]) -> tuple[Join, ...]:
    """Every place where a part ends and another begins at the very next moment, with each pair of options looked at."""
    found = []
    for side in sides_in(passage):
        whole = stretch(passage, side)
        parts = [line for line in lines if line.side == side and line.fingering and line.moments]
        for before, after in pairwise(whole):
            ending = [line for line in parts if key_of(line.moments[-1]) == key_of(before)]
            beginning = [line for line in parts if key_of(line.moments[0]) == key_of(after)]
            if ending and beginning:
                found.append(join_at(passage, side, after.notes[0], ending, beginning))
    return tuple(found)


def join_at(
    passage: Passage, side: Side, first: Note, ending: Sequence[ShownLine], beginning: Sequence[ShownLine]
) -> Join:
    place = place_of(passage.edition.score, first)
    rows = tuple(
        (
            earlier.numeral,
            tuple(JoinCell(later.numeral, said(problems_between(passage, earlier, later))) for later in beginning),
        )
        for earlier in ending
    )
    return Join(side, place.measure, place.beat, tuple(line.numeral for line in beginning), rows)


def problems_between(passage: Passage, earlier: ShownLine, later: ShownLine) -> tuple[Problem, ...]:
    return check_join(
        passage.edition.score,
        ([note for moment in earlier.moments for note in moment.notes], earlier.fingers),
        ([note for moment in later.moments for note in moment.notes], later.fingers),
    )
