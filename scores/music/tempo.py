"""Metronome marks, the ladder from one tempo to another, and milliseconds.

A tempo is beats a minute. Where a length in quarters is turned into milliseconds, the beat is the quarter.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from fractions import Fraction

from scores.music.refusal import Refusal

# The marks that mechanical metronomes share.
MARKS: tuple[int, ...] = (
    *(40, 42, 44, 46, 48, 50, 52, 54, 56, 58, 60, 63, 66, 69, 72, 76, 80, 84, 88, 92, 96),
    *(100, 104, 108, 112, 116, 120, 126, 132, 138, 144, 152, 160, 168, 176, 184, 192, 200, 208),
)
# Practice goes below and above what a mechanical metronome shows (common practice); the ladder goes on there in
# the steps of the scale's own ends, 2 and 8.
SLOWEST = 20
FASTEST = 300
RUNGS: tuple[int, ...] = (*range(SLOWEST, MARKS[0], 2), *MARKS, *range(MARKS[-1] + 8, FASTEST + 1, 8))

Number = int | float | Fraction


class BadTempo(Refusal):
    """A tempo that nobody can practise at."""


def checked(tempo: Number) -> Number:
    """`tempo` itself when it lies from `SLOWEST` to `FASTEST` beats a minute; raises `BadTempo` otherwise."""
    if not math.isfinite(tempo) or not SLOWEST <= tempo <= FASTEST:
        raise BadTempo(
            "A tempo lies between %(slowest)d and %(fastest)d beats a minute; %(tempo)s does not.",
            {"slowest": SLOWEST, "fastest": FASTEST, "tempo": str(tempo)},
        )
    return tempo


def nearest_mark(tempo: Number) -> int:
    """The standard mark nearest to `tempo` in ratio; the slower of two that are equally near. Raises `BadTempo`.

    Tempos beyond the ends of the scale get its end: 20 gives 40.
    """
    wanted = checked(tempo)
    return min(MARKS, key=lambda mark: (Fraction(max(mark, wanted)) / Fraction(min(mark, wanted)), mark))


def mark_above(tempo: Number, marks: int = 1) -> int | None:
    """The mark so many above `tempo`, beyond the scale in its own steps; None where they end. Raises `BadTempo`."""
    place = bisect_right(RUNGS, checked(tempo)) + marks - 1
    return RUNGS[place] if place < len(RUNGS) else None


def mark_below(tempo: Number, marks: int = 1) -> int | None:
    """The mark so many below `tempo`, beyond the scale in its own steps; None where they end. Raises `BadTempo`."""
    place = bisect_left(RUNGS, checked(tempo)) - marks
    return RUNGS[place] if place >= 0 else None


def ladder(now: int, goal: int, most: int = 12) -> tuple[int, ...]:
    """The tempos to practise at, from `now` to `goal`, in standard marks between; at most `most` of them.

    Both ends are kept as they are, standard marks or not. Too many marks are thinned so that the steps are even in
    ratio. Equal ends give one rung. A goal below `now` gives a ladder downwards: that is how a passage taken too fast
    is brought back. Raises `BadTempo` for a tempo outside 20 to 300 and `ValueError` for `most` below 2.
    """
    checked(now)
    checked(goal)
    if most < 2:
        raise ValueError("a ladder needs two rungs")
    if now == goal:
        return (now,)
    low, high = sorted((now, goal))
    rungs = (low, *(mark for mark in RUNGS if low < mark < high), high)
    if len(rungs) > most:
        rungs = _thinned(rungs, most)
    return rungs if now < goal else rungs[::-1]


def _thinned(rungs: tuple[int, ...], most: int) -> tuple[int, ...]:
    step = math.log(rungs[-1] / rungs[0]) / (most - 1)
    wanted = (rungs[0] * math.exp(step * place) for place in range(1, most - 1))
    inner = {min(rungs[1:-1], key=lambda mark: abs(math.log(mark / tempo))) for tempo in wanted}
    return (rungs[0], *sorted(inner), rungs[-1])


def milliseconds(quarters: Fraction, tempo: Number) -> Fraction:
    """How long `quarters` last at `tempo` quarters a minute, exactly. Raises `BadTempo`."""
    return quarters * 60_000 / Fraction(checked(tempo))
