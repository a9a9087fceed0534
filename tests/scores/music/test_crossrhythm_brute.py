"""The engine against counting on the time line itself: every stroke as a fraction of the cycle, every pair compared."""

from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scores.music.crossrhythm import audible, grid, of_span
from scores.music.notation import Note, Tuplet
from tests.scores.music.make_notes import note

RATIOS = list(product(range(1, 17), range(1, 17)))


def times(strokes: int) -> list[Fraction]:
    return [Fraction(number, strokes) for number in range(strokes)]


@pytest.mark.parametrize("upper", range(1, 17))
def test_order_gaps_and_meetings_are_those_of_the_time_line(upper: int) -> None:
    for lower in range(1, 17):
        right, left = times(upper), times(lower)
        every = sorted({*right, *left})
        made = grid(upper, lower)
        part = Fraction(1, made.parts)
        assert [at * part for at in made.struck] == every
        assert [gap * part for gap in made.gaps] == [b - a for a, b in zip(every, [*every[1:], 1], strict=True)]
        said = ["both" if at in right and at in left else "R" if at in right else "L" for at in every]
        assert list(made.order) == said
        # No coarser part holds all strokes.
        assert all(any(at / (part * factor) % 1 for at in every) for factor in (2, 3, 5, 7, 11, 13) if every[1:])


def test_near_misses_are_what_comes_closest_without_meeting_and_is_taken_for_a_meeting() -> None:
    for upper, lower in RATIOS:
        right, left = times(upper), times(lower)
        lonely = [(a, b) for a in right for b in left if a not in left and b not in right]
        least = min((abs(a - b) for a, b in lonely), default=Fraction(0))
        room = Fraction(1, max(upper, lower))
        expected = {(a, b) for a, b in lonely if abs(a - b) == least and 2 * least < room}
        made = grid(upper, lower)
        found = {(Fraction(miss.upper_at, made.parts), Fraction(miss.lower_at, made.parts)) for miss in made.near}
        assert found == expected, (upper, lower)


def test_skeletons_are_all_simpler_cross_rhythms_that_lie_in_the_strokes() -> None:
    for upper, lower in RATIOS:
        expected = set()
        for skip, leap in product(range(1, upper + 1), range(1, lower + 1)):
            right, left = times(upper)[::skip], times(lower)[::leap]
            evenly = right == times(len(right)) and left == times(len(left))
            crosses = len(right) % len(left) and len(left) % len(right)
            if evenly and crosses and (skip, leap) != (1, 1):
                expected.add((len(right), len(left), skip, leap))
        found = {(one.upper, one.lower, one.upper_every, one.lower_every) for one in grid(upper, lower).skeletons}
        assert found == expected, (upper, lower)


@pytest.mark.parametrize(
    ("quarters", "tempo", "ms"),
    [(3, 60, Fraction(125)), (3, 120, Fraction(125, 2)), (3, 300, Fraction(25)), (1, 144, Fraction(60_000, 144 * 24))],
)
def test_a_near_miss_of_eight_against_three_in_milliseconds(quarters: int, tempo: int, ms: Fraction) -> None:
    # By arithmetic: a cycle of so many quarters at so many a minute, in 24 parts. Told apart from 20 ms (Hirsh 1959,
    # from memory).
    made = grid(8, 3)
    heard = audible(made.near[0], made, Fraction(quarters), tempo)
    assert heard.ms == ms
    assert heard.apart == (ms >= 20)


@st.composite
def a_hand(draw: st.DrawFn, side: str) -> list[Note]:
    """Two quarters of one hand: tuplets of any kind, dotted pairs, rests among them, ties over their borders."""
    notes: list[Note] = []
    at = Fraction(0)
    for beat in range(2):
        actual = draw(st.sampled_from([1, 2, 3, 4, 5, 6, 7]))
        shares = draw(st.sampled_from([[1] * actual, [3, 1], [Fraction(1)] * actual]))
        whole = sum(shares)
        for place, share in enumerate(shares):
            length = Fraction(share) / Fraction(whole)
            if draw(st.integers(0, 4)):  # else a rest
                tied = bool(notes) and notes[-1].end == at and place == 0 and draw(st.booleans())
                tuplet = (
                    Tuplet(actual, 1 if actual < 2 else 2 if actual == 3 else 4) if actual in (3, 5, 6, 7) else None
                )
                name = f"{side[0]}{beat}{place}"
                notes.append(note(name, "C5", at, length, side=side, tie_stop=tied, tuplet=tuplet))
            at += length
    return notes


@settings(max_examples=150, deadline=None)
@given(a_hand("right"), a_hand("left"))
def test_any_figure_lies_exactly_on_its_grid(right: list[Note], left: list[Note]) -> None:
    crossing = of_span([*right, *left], Fraction(0), Fraction(2))
    struck = [[one.onset for one in hand if not one.tie_stop] for hand in (right, left)]
    if not all(struck):
        assert crossing is None
        return
    assert crossing is not None
    part = Fraction(2, crossing.grid.parts)
    assert [at * part for at in crossing.grid.upper] == struck[0]
    assert [at * part for at in crossing.grid.lower] == struck[1]
    assert [group[0] for group in crossing.upper_notes] == [one.id for one in right if not one.tie_stop]
    # Each hand's division is the least number of equal shares of the span that has a border at each of its strokes.
    for onsets, division in zip(struck, crossing.grid.divisions, strict=True):
        fits = next(count for count in range(1, 2000) if all((at * count / 2).denominator == 1 for at in onsets))
        assert division == fits
