"""Spans: facts of the ergonomic model, from memory; scaling is this project's own."""

from hypothesis import given
from hypothesis import strategies as st

from scores.music.fingering.hand import MEDIUM, PAIRS, from_reach, hand


def test_the_medium_hand_has_the_recalled_table():
    assert hand("right").by_pair == MEDIUM
    assert from_reach("right", 13, 15).by_pair == MEDIUM


def test_the_left_hand_mirrors_the_right():
    assert hand("right").span(1, 60, 3, 64) == 4
    assert hand("left").span(1, 64, 3, 60) == 4
    assert hand("left").reaches(5, 48, 1, 60)
    assert not hand("left").reaches(5, 60, 1, 48)


def test_small_medium_and_large_hands_reach_more_and_more():
    small, medium, large = (hand("right", size) for size in ("small", "medium", "large"))
    assert small.largest < medium.largest < large.largest
    assert not small.reaches(1, 60, 5, 75)
    assert medium.reaches(1, 60, 5, 75)
    assert large.reaches(1, 60, 5, 77)


def test_an_unknown_size_is_read_as_medium():
    assert hand("right", "enormous") == hand("right", "medium")


def test_a_measured_pair_stands_and_the_others_are_scaled():
    measured = from_reach("right", 13, 15, pairs={"2-5": (7, 9), "9-1": (1, 2), "x": (1, 2), "1-2": ()})
    assert measured.by_pair[(2, 5)].max_comfortable == 7
    assert measured.by_pair[(2, 5)].max_practical == 9
    assert measured.by_pair[(1, 2)] == MEDIUM[(1, 2)]


def test_odd_reaches_are_brought_inside():
    odd = from_reach("left", 40, -3)
    assert odd.comfortable <= odd.largest
    assert odd.largest >= 3


@given(st.floats(0, 30), st.floats(0, 30), st.floats(0, 5), st.floats(0, 5))
def test_spans_are_in_order_and_grow_with_the_reach(comfortable, largest, more, further):
    smaller = from_reach("right", comfortable, largest)
    larger = from_reach("right", comfortable + more, largest + further)
    for pair in PAIRS:
        a, b = smaller.by_pair[pair], larger.by_pair[pair]
        assert a.min_practical <= a.min_comfortable <= a.min_relaxed
        assert a.min_relaxed <= a.max_relaxed <= a.max_comfortable <= a.max_practical
        assert b.min_practical <= a.min_practical
        assert b.min_comfortable <= a.min_comfortable
        assert b.min_relaxed == a.min_relaxed
        assert b.max_relaxed >= a.max_relaxed
        assert b.max_comfortable >= a.max_comfortable
        assert b.max_practical >= a.max_practical
