"""Exact lengths as note values that can be engraved: type, dots, tuplet; several tied where one does not do."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from scores.music.notation import Tuplet

# MusicXML's note types with their lengths in quarters.
TYPES: tuple[tuple[str, Fraction], ...] = tuple(
    (name, Fraction(8) / 2**place)
    for place, name in enumerate(
        ("breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th", "256th", "512th", "1024th")
    )
)


@dataclass(frozen=True, slots=True)
class Value:
    """One written note value; `length` is what it lasts in quarters, the tuplet reckoned in."""

    type: str
    dots: int
    tuplet: Tuplet | None
    length: Fraction


def values(length: Fraction) -> tuple[Value, ...]:
    """The note values that last `length` quarters together, the longest first, to be tied; () for a length that no
    value fits (shorter than a 1024th, or not above 0).

    A third of a quarter is an eighth of a triplet; a fifth is a 16th of five in the time of four.
    """
    if length <= 0:
        return ()
    odd = length.denominator
    while odd % 2 == 0:
        odd //= 2
    normal = 1 << (odd.bit_length() - 1)
    tuplet = Tuplet(odd, normal) if odd > 1 else None
    share = Fraction(normal, odd)
    left = length / share
    found: list[Value] = []
    while left:
        best = next(
            (
                (name, dots, value)
                for name, plain in TYPES
                for dots in (2, 1, 0)
                if (value := plain * (2 - Fraction(1, 2**dots))) <= left and (dots < 2 or value == left)
            ),
            None,
        )
        if best is None:
            return ()
        name, dots, value = best
        found.append(Value(name, dots, tuplet, value * share))
        left -= value
    return tuple(found)
