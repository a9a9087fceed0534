"""How two hands' rhythms fit in a span of a score, and where in a score they cross.

A crossing's grid comes from what two hands strike in a span, or from a ratio ("8 against 3"); see `grid`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import gcd

from scores.music.grid import (
    MOST_ATTACKS,
    MOST_PARTS,
    Count,
    Grid,
    Hearing,
    Miss,
    NoGrid,
    Skeleton,
    Struck,
    audible,
    grid,
    ms_per_part,
)
from scores.music.notation import Measure, Note, Score, Side, reading_order

__all__ = [
    "MOST_ATTACKS",
    "MOST_PARTS",
    "Count",
    "Crossing",
    "Grid",
    "Hearing",
    "Miss",
    "NoGrid",
    "Skeleton",
    "Struck",
    "audible",
    "find",
    "grid",
    "ms_per_part",
    "of_ratio",
    "of_span",
]


@dataclass(frozen=True)
class Crossing:
    """A span of a score in which both hands strike. `start` and `end` in quarters; `upper_notes` and `lower_notes` give
    the ids of the notes of each stroke, in the order of the grid's `upper` and `lower`."""

    grid: Grid
    start: Fraction
    end: Fraction
    measure: int = 0
    upper_notes: tuple[tuple[str, ...], ...] = ()
    lower_notes: tuple[tuple[str, ...], ...] = ()

    @property
    def length(self) -> Fraction:
        return self.end - self.start

    @property
    def ratio(self) -> tuple[int, int] | None:
        return self.grid.ratio


def of_ratio(upper: int, lower: int, cycle_quarters: Fraction = Fraction(1)) -> Crossing:
    """A crossing without a score: the grid of a ratio, its cycle `cycle_quarters` long. Raises `NoGrid`."""
    if cycle_quarters <= 0:
        raise NoGrid("A cycle needs a length.")
    return Crossing(grid(upper, lower), Fraction(0), Fraction(cycle_quarters))


def of_span(notes: Iterable[Note], start: Fraction, end: Fraction) -> Crossing | None:
    """How the hands' strokes from `start` to before `end` (quarters) fit on their exact common subdivision.

    Graces are left out, later notes of a tie strike nothing. None when a hand strikes nothing in the span or the span
    is empty. The hands may fit plainly: see `Grid.is_cross`. Raises `NoGrid` when the subdivision has more than 4032
    parts, as times that a computer has recorded do.
    """
    struck = sorted((note for note in notes if _strikes(note) and start <= note.onset < end), key=reading_order)
    if not struck or end <= start:
        return None
    right, left = _strokes(struck, "right"), _strokes(struck, "left")
    if not right or not left:
        return None
    part = end - start
    for onset in (*right, *left):
        part = _common(part, onset - start)
    parts = (end - start) / part
    if parts > MOST_PARTS:
        raise NoGrid(
            "The hands' common subdivision has %(parts)d parts, more than the %(most)d that can be drawn."
            " Mark a shorter span, or quantise the file.",
            {"parts": int(parts), "most": MOST_PARTS},
        )
    positions = [tuple(int((onset - start) / part) for onset in hand) for hand in (right, left)]
    return Crossing(
        Grid(int(parts), positions[0], positions[1]),
        start,
        end,
        struck[0].measure,
        tuple(right.values()),
        tuple(left.values()),
    )


def find(score: Score) -> tuple[Crossing, ...]:
    """Every span where the hands' rhythms cross, in score order: a beat where that is enough, else half a measure or a
    whole one.

    A span never cuts a tuplet note. Beyond the beat only what is plainly one rhythm against another is taken: each
    hand strikes on all its divisions, or a tuplet is written. Measures whose times have no drawable grid are passed
    over.
    """
    by_measure: dict[int, list[Note]] = {}
    for note in score.notes:
        if not note.is_grace:
            by_measure.setdefault(note.measure, []).append(note)
    return tuple(
        crossing for measure in score.measures for crossing in _in_measure(measure, by_measure.get(measure.index, []))
    )


def _in_measure(measure: Measure, notes: list[Note]) -> list[Crossing]:
    found: list[Crossing] = []
    for start, end in _spans(measure):
        if any(one.start < end and start < one.end for one in found):
            continue
        if any(_is_tuplet(note) and (_within(start, note) or _within(end, note)) for note in notes):
            continue
        inside = [note for note in notes if start <= note.onset < end]
        try:
            crossing = of_span(inside, start, end)
        except NoGrid:
            continue
        if (
            crossing
            and crossing.grid.is_cross
            and (end - start <= _beat(measure) or _is_one_figure(crossing, inside, measure))
        ):
            found.append(crossing)
    return sorted(found, key=lambda one: one.start)


def _spans(measure: Measure) -> Iterator[tuple[Fraction, Fraction]]:
    """The beats of a measure, then its halves, then the whole."""
    beat = _beat(measure)
    sizes = [beat]
    if measure.nominal % (2 * beat) == 0:
        sizes.append(measure.nominal / 2)
    sizes.append(measure.length)
    origin = measure.end - measure.nominal if measure.is_pickup else measure.start
    for size in dict.fromkeys(sizes):
        if size <= 0:
            continue
        start = measure.start if size == measure.length else origin
        while start + size <= measure.end:
            if start >= measure.start:
                yield start, start + size
            start += size


def _beat(measure: Measure) -> Fraction:
    """One beat in quarters; three units make one in compound time (6/8, 9/8, 12/16)."""
    unit = Fraction(4, measure.beat_type)
    is_compound = measure.beats > 3 and measure.beats % 3 == 0 and measure.beat_type >= 8
    return 3 * unit if is_compound else unit


def _is_tuplet(note: Note) -> bool:
    return note.tuplet is not None or note.length.denominator & (note.length.denominator - 1) != 0


def _is_one_figure(crossing: Crossing, notes: list[Note], measure: Measure) -> bool:
    """One rhythm against another over several beats: both hands even throughout, or a tuplet that runs across a beat.

    A triplet in one beat and sixteenths in another never meet.
    """
    if crossing.ratio is None:
        return False
    beat = _beat(measure)
    beats = [measure.end - beat * place for place in range(1, int(measure.nominal / beat))]
    return crossing.grid.is_even or any(_is_tuplet(note) and any(_within(at, note) for at in beats) for note in notes)


def _within(moment: Fraction, note: Note) -> bool:
    return note.onset < moment < note.end


def _strikes(note: Note) -> bool:
    return note.is_attack and not note.is_grace


def _strokes(struck: Iterable[Note], side: Side) -> dict[Fraction, tuple[str, ...]]:
    strokes: dict[Fraction, tuple[str, ...]] = {}
    for note in struck:
        if note.side == side:
            strokes[note.onset] = (*strokes.get(note.onset, ()), note.id)
    return strokes


def _common(one: Fraction, other: Fraction) -> Fraction:
    """The greatest length that measures both."""
    return Fraction(
        gcd(one.numerator * other.denominator, other.numerator * one.denominator), one.denominator * other.denominator
    )
