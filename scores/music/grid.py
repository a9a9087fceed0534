"""The grid of two hands' rhythms: who strikes when, what meets, what nearly meets, and what of that is heard.

The right hand is the upper one. Positions are grid parts from 0.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from math import gcd, lcm
from typing import Literal

from scores.music.notation import Side
from scores.music.refusal import Refusal
from scores.music.tempo import Number, milliseconds

Struck = Literal["both", "R", "L"]

MOST_ATTACKS = 64
MOST_PARTS = MOST_ATTACKS * (MOST_ATTACKS - 1)

# Known sentences, one syllable for each stroke of the two hands together; from memory.
SENTENCES = {(3, 2): "nice cup of tea", (4, 3): "pass the golden butter"}

# Two onsets are told apart from about 20 ms (Hirsh 1959, from memory); pianists themselves put the melody about 30 ms
# ahead (Goebl 2001); one displaced tone is noticed from 6 ms where tones follow within 240 ms, and from 2.5 % of the
# time between them above (Friberg and Sundberg, abstract).
TOLD_APART_MS = 20
MELODY_LEAD_MS = 30
DISPLACED_MS = 6
DISPLACED_SHARE = Fraction(25, 1000)


class NoGrid(Refusal):
    """No grid can be drawn for this; the sentence says why."""


@dataclass(frozen=True, slots=True)
class Miss:
    """Two strokes that nearly meet. `upper` and `lower` count the hand's strokes from 1; `distance` is in parts."""

    upper: int
    lower: int
    upper_at: int
    lower_at: int

    @property
    def distance(self) -> int:
        return abs(self.upper_at - self.lower_at)

    @property
    def first(self) -> Side:
        """The hand that strikes first."""
        return "right" if self.upper_at < self.lower_at else "left"


@dataclass(frozen=True, slots=True)
class Skeleton:
    """A simpler ratio inside: every `upper_every`-th stroke of the upper hand, every `lower_every`-th of the lower."""

    upper: int
    lower: int
    upper_every: int
    lower_every: int

    @property
    def parts(self) -> int:
        return lcm(self.upper, self.lower)


@dataclass(frozen=True, slots=True)
class Count:
    """One word of the count aloud, `number` from 1, and which hands strike on it."""

    number: int
    upper: bool
    lower: bool


@dataclass(frozen=True, slots=True)
class Hearing:
    """A near miss at a tempo. `apart`: two onsets are heard. `as_lead`: no wider than a melody that leads by habit.
    `evenness`: striking both at once would be noticed as unevenness of the faster hand."""

    ms: Fraction
    apart: bool
    as_lead: bool
    evenness: bool


@dataclass(frozen=True)
class Grid:
    """One cycle cut into `parts`, and the parts on which each hand strikes (from 0, rising)."""

    parts: int
    upper: tuple[int, ...]
    lower: tuple[int, ...]

    @cached_property
    def together(self) -> tuple[int, ...]:
        """The parts on which both hands strike."""
        return tuple(sorted(set(self.upper) & set(self.lower)))

    @cached_property
    def struck(self) -> tuple[int, ...]:
        """The parts on which any hand strikes."""
        return tuple(sorted(set(self.upper) | set(self.lower)))

    @cached_property
    def order(self) -> tuple[Struck, ...]:
        """Who strikes, stroke by stroke."""
        upper, lower = set(self.upper), set(self.lower)
        return tuple("both" if at in upper and at in lower else "R" if at in upper else "L" for at in self.struck)

    @cached_property
    def gaps(self) -> tuple[int, ...]:
        """Parts from each stroke to the next, and from the last to the end of the cycle."""
        return self._distances(self.struck)

    @cached_property
    def nearest(self) -> tuple[Miss, ...]:
        """Strokes that meet none of the other hand's, and come nearest to one that meets none; empty without such."""
        misses = list(self._neighbours())
        least = min((miss.distance for miss in misses), default=0)
        return tuple(miss for miss in misses if miss.distance == least)

    @cached_property
    def near(self) -> tuple[Miss, ...]:
        """The nearest misses that a player takes for a meeting: less than half way to the hand's own next stroke.

        In 3 against 2 the two's second stroke lies half way, so there is none; in 4 against 3 there are.
        """
        room = min((*self._distances(self.upper), *self._distances(self.lower)), default=self.parts)
        return tuple(miss for miss in self.nearest if 2 * miss.distance < room)

    @cached_property
    def divisions(self) -> tuple[int, int]:
        """For each hand the coarsest even division of the cycle that holds all its strokes."""
        return self.parts // gcd(self.parts, *self.upper), self.parts // gcd(self.parts, *self.lower)

    @property
    def is_even(self) -> bool:
        """Each hand strikes on every one of its divisions."""
        return self.divisions == (len(self.upper), len(self.lower))

    @cached_property
    def is_cross(self) -> bool:
        """Neither hand's division fits inside the other's: there is something to learn."""
        upper, lower = self.divisions
        return upper % lower != 0 and lower % upper != 0

    @cached_property
    def ratio(self) -> tuple[int, int] | None:
        """(upper, lower) of one cycle in lowest terms, or None where the hands do not keep one division each."""
        upper, lower = self.divisions
        if not (self._keeps(self.upper, upper) and self._keeps(self.lower, lower)):
            return None
        if not (self.is_cross or self.is_even):
            return None
        cycles = gcd(upper, lower)
        return upper // cycles, lower // cycles

    @property
    def cycles(self) -> int:
        """How many times the ratio goes round: 6 against 4 is 3 against 2, twice."""
        return gcd(*self.divisions)

    @cached_property
    def skeletons(self) -> tuple[Skeleton, ...]:
        """Simpler cross-rhythms inside, the simplest first: 8 against 3 holds 2 against 3 on every fourth note."""
        if not self.is_even:
            return ()
        upper, lower = self.divisions
        found = (
            Skeleton(upper // skip, lower // leap, skip, leap)
            for skip in _divisors(upper)
            for leap in _divisors(lower)
            if skip * leap > 1
        )
        crossing = [one for one in found if one.upper % one.lower and one.lower % one.upper]
        return tuple(sorted(crossing, key=lambda one: (one.parts, one.upper + one.lower, one.upper_every)))

    @cached_property
    def counts(self) -> tuple[Count, ...]:
        """The count aloud, one number for every part."""
        upper, lower = set(self.upper), set(self.lower)
        return tuple(Count(at + 1, at in upper, at in lower) for at in range(self.parts))

    @property
    def sentence(self) -> str:
        """A known sentence whose syllables are the strokes, or ""."""
        if not self.is_even or self.cycles != 1 or self.ratio is None:
            return ""
        high, low = max(self.ratio), min(self.ratio)
        return SENTENCES.get((high, low), "")

    def _neighbours(self) -> Iterator[Miss]:
        """Each upper stroke that meets none, with the lower ones just before and just after it that meet none."""
        met = set(self.together)
        lower = [(place, at) for place, at in enumerate(self.lower, start=1) if at not in met]
        after = 0
        for place, at in enumerate(self.upper, start=1):
            if at in met:
                continue
            while after < len(lower) and lower[after][1] < at:
                after += 1
            for other in lower[max(0, after - 1) : after + 1]:
                yield Miss(place, other[0], at, other[1])

    def _distances(self, strokes: tuple[int, ...]) -> tuple[int, ...]:
        return tuple(after - at for at, after in pairwise((*strokes, self.parts)))

    def _keeps(self, strokes: tuple[int, ...], division: int) -> bool:
        """Some distance is one division long: 0, 3/5, 3/4 of a span is no division in 20 but two mixed ones."""
        return min((*self._distances(strokes), strokes[0] or self.parts)) * division == self.parts


def grid(upper: int, lower: int) -> Grid:
    """The grid of `upper` strokes of the right hand in the time of `lower` of the left, 1 to 64 each.

    Raises `NoGrid` outside that range.
    """
    for strokes in (upper, lower):
        if strokes < 1:
            raise NoGrid("Each hand needs at least one stroke; %(strokes)d is none.", {"strokes": strokes})
        if strokes > MOST_ATTACKS:
            raise NoGrid(
                "A grid takes up to %(most)d strokes in each hand; %(strokes)d are too many to count.",
                {"most": MOST_ATTACKS, "strokes": strokes},
            )
    parts = lcm(upper, lower)
    return Grid(parts, tuple(range(0, parts, parts // upper)), tuple(range(0, parts, parts // lower)))


def ms_per_part(grid: Grid, cycle_quarters: Fraction, tempo: Number) -> Fraction:
    """Milliseconds of one grid part when the cycle is `cycle_quarters` long, at `tempo` quarters a minute. Raises
    `BadTempo`."""
    return milliseconds(Fraction(cycle_quarters), tempo) / grid.parts


def audible(miss: Miss, grid: Grid, cycle_quarters: Fraction, tempo: Number) -> Hearing:
    """Whether a near miss can be heard at `tempo` quarters a minute (thresholds above). Raises `BadTempo`."""
    part = ms_per_part(grid, cycle_quarters, tempo)
    ms = miss.distance * part
    between = part * grid.parts / max(len(grid.upper), len(grid.lower))
    limit = Fraction(DISPLACED_MS) if between < 240 else between * DISPLACED_SHARE
    return Hearing(ms, ms >= TOLD_APART_MS, TOLD_APART_MS <= ms <= MELODY_LEAD_MS, ms >= limit)


def _divisors(number: int) -> list[int]:
    return [divisor for divisor in range(1, number + 1) if number % divisor == 0]
