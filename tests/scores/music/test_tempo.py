"""Metronome marks: the scale that most mechanical metronomes share."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scores.music.tempo import (
    FASTEST,
    MARKS,
    RUNGS,
    SLOWEST,
    BadTempo,
    checked,
    ladder,
    mark_above,
    mark_below,
    milliseconds,
    nearest_mark,
)

SCALE = (
    "40 42 44 46 48 50 52 54 56 58 60 63 66 69 72 76 80 84 88 92 96 100 104 108 112 116 120 126 132 138 144 152 160"
    " 168 176 184 192 200 208"
)
tempos = st.integers(SLOWEST, FASTEST)


def test_the_marks_are_those_of_a_mechanical_metronome() -> None:
    assert " ".join(map(str, MARKS)) == SCALE


@pytest.mark.parametrize(
    ("tempo", "mark"), [(60, 60), (61, 60), (62, 63), (20, 40), (300, 208), (Fraction(145, 2), 72), (149.9, 152)]
)
def test_the_nearest_mark_is_nearest_in_ratio(tempo: float | Fraction, mark: int) -> None:
    assert nearest_mark(tempo) == mark


@pytest.mark.parametrize(
    ("tempo", "above", "below"),
    [(60, 63, 58), (61, 63, 60), (40, 42, 38), (208, 216, 200), (20, 22, None), (296, None, 288), (300, None, 296)],
)
def test_the_marks_next_to_a_tempo(tempo: int, above: int | None, below: int | None) -> None:
    assert mark_above(tempo) == above
    assert mark_below(tempo) == below


@given(st.integers(SLOWEST, FASTEST), st.integers(1, 60))
def test_marks_further_off_are_as_many_steps_of_one(tempo: int, marks: int) -> None:
    above = [mark for mark in RUNGS if mark > tempo]
    below = [mark for mark in reversed(RUNGS) if mark < tempo]
    assert mark_above(tempo, marks) == (above[marks - 1] if marks <= len(above) else None)
    assert mark_below(tempo, marks) == (below[marks - 1] if marks <= len(below) else None)


def test_a_short_ladder_has_every_mark_between() -> None:
    assert ladder(60, 80) == (60, 63, 66, 69, 72, 76, 80)


def test_free_tempos_stay_at_both_ends() -> None:
    assert ladder(61, 75) == (61, 63, 66, 69, 72, 75)


def test_equal_ends_are_one_rung() -> None:
    assert ladder(72, 72) == (72,)


def test_a_goal_below_leads_down() -> None:
    assert ladder(80, 60) == ladder(60, 80)[::-1]


def test_the_ladder_goes_on_beyond_the_scale() -> None:
    assert ladder(20, 30) == (20, 22, 24, 26, 28, 30)
    assert ladder(200, 230) == (200, 208, 216, 224, 230)


@given(tempos, tempos, st.integers(2, 20))
def test_a_ladder_keeps_its_ends_its_limit_and_its_direction(now: int, goal: int, most: int) -> None:
    rungs = ladder(now, goal, most)
    assert rungs[0] == now
    assert rungs[-1] == goal
    assert len(rungs) <= most
    assert list(rungs) == sorted(set(rungs), reverse=goal < now)


@given(st.integers(40, 60), st.integers(160, 208), st.integers(3, 12))
def test_thinned_steps_are_even_in_ratio(now: int, goal: int, most: int) -> None:
    rungs = ladder(now, goal, most)
    wanted = (goal / now) ** (1 / (most - 1))
    # The scale itself steps by at most 5.6 %: a rung stands within half of that of its even place.
    steps = [after / before for before, after in pairwise(rungs)]
    assert all(abs(step / wanted - 1) < 0.06 for step in steps)


@pytest.mark.parametrize("tempo", [0, -60, 900, 19, 301, float("nan"), float("inf")])
def test_an_impossible_tempo_is_refused_in_words(tempo: float) -> None:
    with pytest.raises(BadTempo, match="between 20 and 300"):
        checked(tempo)
    with pytest.raises(BadTempo):
        nearest_mark(tempo)
    with pytest.raises(BadTempo):
        mark_above(tempo)
    with pytest.raises(BadTempo):
        mark_below(tempo)
    with pytest.raises(BadTempo):
        milliseconds(Fraction(1), tempo)


@pytest.mark.parametrize(("now", "goal"), [(0, 60), (60, 0), (60, 900)])
def test_a_ladder_with_an_impossible_end_is_refused(now: int, goal: int) -> None:
    with pytest.raises(BadTempo) as refused:
        ladder(now, goal)
    assert refused.value.params["slowest"] == 20


def test_one_rung_cannot_hold_two_ends() -> None:
    with pytest.raises(ValueError, match="two rungs"):
        ladder(60, 80, most=1)


def test_a_quarter_at_sixty_lasts_a_second() -> None:
    assert milliseconds(Fraction(1), 60) == 1000
    assert milliseconds(Fraction(1, 3), 100) == 200
