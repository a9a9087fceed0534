"""Note values for exact lengths; music21, which reckons by itself, agrees on types, dots and tuplets."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import duration

from scores.music.notation import Tuplet
from scores.music.ornaments.values import values

SIMPLE = [
    Fraction(1, 4),
    Fraction(3, 8),
    Fraction(7, 4),
    Fraction(1, 3),
    Fraction(1, 6),
    Fraction(1, 5),
    Fraction(1, 12),
]


@pytest.mark.parametrize("length", SIMPLE)
def test_a_simple_length_is_the_value_that_music21_gives(length: Fraction) -> None:
    (value,) = values(length)
    other = duration.Duration(length)
    assert (value.type, value.dots) == (other.type, other.dots)
    tuplets = [(one.numberNotesActual, one.numberNotesNormal) for one in other.tuplets]
    assert [(value.tuplet.actual, value.tuplet.normal)] == tuplets if value.tuplet else not tuplets


def test_a_length_that_no_single_value_has_is_tied() -> None:
    assert [(one.type, one.dots) for one in values(Fraction(5, 4))] == [("quarter", 0), ("16th", 0)]


@pytest.mark.parametrize("length", [Fraction(0), Fraction(-1), Fraction(1, 2**20)])
def test_a_length_that_cannot_be_written_gives_nothing(length: Fraction) -> None:
    assert values(length) == ()


@given(st.integers(1, 64), st.sampled_from([1, 2, 3, 4, 5, 6, 7, 8, 9, 12, 16, 24, 32, 13]))
def test_the_values_add_up(numerator: int, denominator: int) -> None:
    length = Fraction(numerator, denominator)
    found = values(length)
    assert sum(one.length for one in found) == length
    assert {one.tuplet for one in found} <= {None, found[0].tuplet}
    # Halves of halves are plain values; any other division needs a tuplet.
    is_plain = length.denominator & (length.denominator - 1) == 0
    assert {isinstance(one.tuplet, Tuplet) for one in found} == {not is_plain}
