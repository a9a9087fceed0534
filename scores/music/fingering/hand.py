"""A hand: how far each pair of fingers reaches, and what comes easily to it.

Spans are semitones, signed for the right hand: positive where the higher finger is on the higher key, negative where
the two are crossed. The left hand mirrors them. The medium table is recalled from memory from the ergonomic model of
Parncutt, Sloboda, Clarke, Raekallio and Desain (1997, Music Perception 14(4)); how it is scaled to other hands is this
project's own: reach grows and shrinks in proportion, while how close two fingers like to lie stays as it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from scores.music.notation import Side

Trait = Literal["slow fourth finger", "broad fingers", "slow thumb"]
Pair = tuple[int, int]

PAIRS: tuple[Pair, ...] = ((1, 2), (1, 3), (1, 4), (1, 5), (2, 3), (2, 4), (2, 5), (3, 4), (3, 5), (4, 5))
LEAST_REACH, MOST_REACH = 3.0, 24.0


@dataclass(frozen=True, slots=True)
class Spans:
    """What one pair of fingers spans: smallest and largest practical, comfortable and relaxed, in semitones."""

    min_practical: float
    min_comfortable: float
    min_relaxed: float
    max_relaxed: float
    max_comfortable: float
    max_practical: float


# From memory.
MEDIUM: dict[Pair, Spans] = {
    (1, 2): Spans(-5, -3, 1, 5, 8, 10),
    (1, 3): Spans(-4, -2, 3, 7, 10, 12),
    (1, 4): Spans(-3, -1, 5, 9, 12, 14),
    (1, 5): Spans(-1, 1, 7, 10, 13, 15),
    (2, 3): Spans(1, 1, 1, 2, 3, 5),
    (2, 4): Spans(1, 1, 3, 4, 5, 7),
    (2, 5): Spans(2, 2, 5, 6, 8, 10),
    (3, 4): Spans(1, 1, 1, 2, 2, 4),
    (3, 5): Spans(1, 1, 3, 4, 5, 7),
    (4, 5): Spans(1, 1, 1, 2, 3, 5),
}
# Reach between thumb and fifth finger, comfortable and largest: an octave and a ninth, a ninth and a tenth, a tenth and
# an eleventh. Common practice; never inferred from who the person is.
PRESETS: dict[str, tuple[float, float]] = {"small": (11, 13), "medium": (13, 15), "large": (15, 17)}


@dataclass(frozen=True)
class Hand:
    """One hand. `spans` in the order of `PAIRS`; `traits` change the weights of what they name."""

    side: Side
    spans: tuple[Spans, ...]
    traits: frozenset[Trait] = frozenset()

    @cached_property
    def by_pair(self) -> dict[Pair, Spans]:
        return dict(zip(PAIRS, self.spans, strict=True))

    @property
    def largest(self) -> float:
        """The widest interval, in semitones, between thumb and fifth finger."""
        return self.by_pair[(1, 5)].max_practical

    @property
    def comfortable(self) -> float:
        return self.by_pair[(1, 5)].max_comfortable

    def span(self, finger: int, key: int, other: int, other_key: int) -> float:
        """The signed span of two different fingers on two keys (MIDI numbers): negative where they are crossed."""
        interval = other_key - key if finger < other else key - other_key
        return interval if self.side == "right" else -interval

    def reaches(self, finger: int, key: int, other: int, other_key: int) -> bool:
        """Whether two fingers can be down on these keys at once."""
        if finger == other:
            return key == other_key
        spans = self.by_pair[(min(finger, other), max(finger, other))]
        return spans.min_practical <= self.span(finger, key, other, other_key) <= spans.max_practical


def hand(side: Side, size: str = "medium", traits: Sequence[Trait] = ()) -> Hand:
    """A preset hand: "small", "medium" or "large"; any other word is read as medium."""
    comfortable, largest = PRESETS.get(size, PRESETS["medium"])
    return from_reach(side, comfortable, largest, traits=traits)


def from_reach(
    side: Side,
    comfortable: float,
    largest: float,
    *,
    pairs: Mapping[str, Sequence[float]] | None = None,
    traits: Sequence[Trait] = (),
) -> Hand:
    """A hand from the intervals, in semitones, between thumb and fifth finger that it reaches in comfort and at most.

    `pairs` holds what was measured between two fingers: {"2-5": (8, 10)}, comfortable and largest; a pair that is not
    there is scaled from the reach. Reaches outside 3 to 24 are brought inside, a comfortable one above the largest is
    brought down to it, and pairs that name no two fingers are passed over.
    """
    most = within_reach(largest)
    comfort = min(within_reach(comfortable), most)
    whole = MEDIUM[(1, 5)]
    measured = {pair: reach for name, reach in (pairs or {}).items() if (pair := pair_named(name)) and len(reach) == 2}
    spans = []
    for pair in PAIRS:
        scaled = scale(MEDIUM[pair], comfort / whole.max_comfortable, most / whole.max_practical)
        spans.append(with_reach(MEDIUM[pair], scaled, *measured[pair]) if pair in measured else scaled)
    return Hand(side, tuple(spans), frozenset(traits))


def within_reach(semitones: float) -> float:
    return min(max(float(semitones), LEAST_REACH), MOST_REACH)


def pair_named(name: str) -> Pair | None:
    """ "2-5" -> (2, 5)."""
    low, _, high = name.partition("-")
    pair = (int(low), int(high)) if low.isdecimal() and high.isdecimal() else (0, 0)
    return pair if pair in MEDIUM else None


def scale(spans: Spans, comfort: float, reach: float) -> Spans:
    """Spans for a hand that reaches `comfort` times as far in comfort and `reach` times as far at most.

    A larger hand is never worse off: its largest spans grow, its crossed spans too, and the smallest relaxed span,
    which says how close fingers like to lie, is the same for all. No hand is so small that a five-finger position is a
    stretch for it: fingers other than the thumb stay comfortable as far as a medium hand is relaxed.
    """
    least = spans.min_relaxed if spans.min_practical < 0 else spans.max_relaxed
    max_practical = max(spans.max_practical * reach, least)
    max_comfortable = max(min(spans.max_comfortable * comfort, max_practical), least)
    max_relaxed = max(min(spans.max_relaxed * comfort, max_comfortable), least)
    crossed = spans.min_practical < 0
    min_practical = spans.min_practical * reach if crossed else spans.min_practical
    min_comfortable = spans.min_comfortable * comfort if spans.min_comfortable < 0 else spans.min_comfortable
    return Spans(
        min_practical,
        max(min_comfortable, min_practical),
        spans.min_relaxed,
        max_relaxed,
        max_comfortable,
        max_practical,
    )


def with_reach(medium: Spans, scaled: Spans, comfortable: float, largest: float) -> Spans:
    """Spans of a pair whose comfortable and largest interval were measured; what was not stays as scaled."""
    most = max(float(largest), medium.min_relaxed)
    comfort = max(min(float(comfortable), most), medium.min_relaxed)
    relaxed = max(min(medium.max_relaxed * comfort / medium.max_comfortable, comfort), medium.min_relaxed)
    return Spans(scaled.min_practical, scaled.min_comfortable, scaled.min_relaxed, relaxed, comfort, most)
