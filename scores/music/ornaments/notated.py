"""Stretches of sounding keys as note values: which type, how many dots, which tuplet, what is tied."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import lcm

from scores.music.notation import Measure, Pitch, Score, Tuplet
from scores.music.ornaments.values import Value, values

AROUND = -1  # the order of a note that is none of the ornament's own
SHORTEST = ("breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th")
MOST_TIED = 2  # values that may stand for one length
LARGEST_TUPLET = 15


@dataclass(frozen=True, slots=True)
class Key:
    """One head of a written value. `order` is its place among the notes of `Realised.notes`, or `AROUND`; `source` the
    written note that it comes from. `from_before` and `goes_on` are the ends of ties."""

    pitch: Pitch
    source: str
    ornament: str = ""
    order: int = AROUND
    from_before: bool = False
    goes_on: bool = False


@dataclass(frozen=True, slots=True)
class Written:
    """A written value: `keys` from low to high, none for a rest. `at` is in quarters from the start of the measure
    (an index). Of a tuplet's values the first and the last say so."""

    measure: int
    at: Fraction
    value: Value
    keys: tuple[Key, ...]
    opens_tuplet: bool = False
    closes_tuplet: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """Keys that sound together from `start` to `end`, within one measure."""

    start: Fraction
    end: Fraction
    keys: tuple[Key, ...]


def measure_at(score: Score, moment: Fraction) -> Measure:
    """The measure in which a moment lies; the first or the last for one outside."""
    low, high = 0, len(score.measures)
    while high - low > 1:
        middle = (low + high) // 2
        if score.measures[middle].start <= moment:
            low = middle
        else:
            high = middle
    return score.measures[low]


def values_for(score: Score, parts: Sequence[Part]) -> tuple[Written, ...] | None:
    """Values for parts that follow one another; None where one of them cannot be read."""
    found: list[Written] = []
    place = 0
    while place < len(parts):
        group = _tuplet_group(score, parts, place)
        odd = _odd(score, group)
        if odd > LARGEST_TUPLET:
            return None
        tuplet = Tuplet(odd, 1 << (odd.bit_length() - 1)) if odd > 1 else None
        made: list[Written] = []
        for part in group:
            pieces = _pieces(score, part, tuplet)
            if not pieces:
                return None
            made += pieces
        if tuplet:
            made[0] = replace(made[0], opens_tuplet=True)
            made[-1] = replace(made[-1], closes_tuplet=True)
        found += made
        place += len(group)
    return tuple(found)


def _tuplet_group(score: Score, parts: Sequence[Part], place: int) -> Sequence[Part]:
    """The parts from `place` to the next that ends on a moment of the plain division of its measure."""
    stop = place
    while stop + 1 < len(parts) and _odd_place(score, parts[stop], parts[stop].end) > 1:
        stop += 1
    return parts[place : stop + 1]


def _odd(score: Score, group: Sequence[Part]) -> int:
    return lcm(*(_odd_place(score, part, moment) for part in group for moment in (part.start, part.end)))


def _odd_place(score: Score, part: Part, moment: Fraction) -> int:
    """The odd part of the denominator of a moment within the measure of a part: 1 where halving gets there."""
    odd = (moment - measure_at(score, part.start).start).denominator
    while odd % 2 == 0:
        odd //= 2
    return odd


def _pieces(score: Score, part: Part, tuplet: Tuplet | None) -> list[Written]:
    """The values of one part, tied; what is no single value, or one with two dots, is parted at a beat."""
    measure = measure_at(score, part.start)
    share = Fraction(tuplet.normal, tuplet.actual) if tuplet else Fraction(1)
    lengths = [part.end - part.start] if tuplet else _parted_at_beat(part, measure)
    found: list[Written] = []
    at = part.start - measure.start
    for length in lengths:
        plain = values(length / share)
        if not plain or len(plain) > MOST_TIED or any(one.type not in SHORTEST for one in plain):
            return []
        for one in plain:
            value = Value(one.type, one.dots, tuplet, one.length * share)
            found.append(Written(measure.index, at, value, part.keys))
            at += value.length
    return [
        replace(
            one,
            keys=tuple(
                replace(
                    key,
                    from_before=key.from_before or place > 0,
                    goes_on=key.goes_on or place < len(found) - 1,
                )
                for key in one.keys
            ),
        )
        for place, one in enumerate(found)
    ]


def _parted_at_beat(part: Part, measure: Measure) -> list[Fraction]:
    """The length of a part, in two where one value does not do: at the last beat that leaves two plain ones."""
    if _is_plain(part.end - part.start):
        return [part.end - part.start]
    beat = beat_length(measure)
    at = measure.start + (part.end - measure.start) // beat * beat
    found: list[list[Fraction]] = []
    while at > part.start:
        if at < part.end:
            found.append([at - part.start, part.end - at])
        at -= beat
    plain = (lengths for lengths in found if all(map(_is_plain, lengths)))
    return next(plain, found[0] if found else [part.end - part.start])


def _is_plain(length: Fraction) -> bool:
    """One value without a second dot lasts so long."""
    found = values(length)
    return len(found) == 1 and found[0].dots < 2


def beat_length(measure: Measure) -> Fraction:
    """What is felt as a beat, in quarters: three of the metre's units in compound time (common practice)."""
    compound = measure.beats % 3 == 0 and measure.beats > 3 and measure.beat_type >= 8
    return Fraction(4 * (3 if compound else 1), measure.beat_type)
