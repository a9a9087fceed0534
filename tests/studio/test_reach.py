import pytest

from studio.reach import (
    INTERVALS,
    WHITE_KEYS,
    an_interval,
    both_hands_in_words,
    hands_together,
    interval_name,
    latest_hands,
    reach_in_words,
)
from tests import make


def test_white_key_intervals_from_c_are_the_major_scale():
    """The major scale's steps, 2 2 1 2 2 2 1 semitones: any theory primer."""
    steps, note, scale = (2, 2, 1, 2, 2, 2, 1), 0, []
    for step in steps * 2:
        note += step
        scale.append(note)
    assert list(WHITE_KEYS) == scale[: len(WHITE_KEYS)]


@pytest.mark.parametrize(
    ("semitones", "name"),
    [
        (7, "fifth"),
        (11, "seventh"),
        (12, "octave"),
        (14, "ninth"),
        (16, "tenth"),
        (13, "minor ninth"),
        (24, "two octaves"),
    ],
)
def test_intervals_have_their_names(semitones: int, name: str):
    assert interval_name(semitones) == name


def test_an_interval_stands_in_a_sentence_with_its_article():
    assert [an_interval(size) for size in (9, 11, 12, 17)] == ["a sixth", "a seventh", "an octave", "an eleventh"]
    assert an_interval(30) == "30 semitones"
    assert len(INTERVALS) == 24


def test_a_reach_is_said_in_words(cast):
    assert reach_in_words(make.hand(student=cast.oda)) == "an octave in comfort, a ninth at most"


def test_a_reach_without_room_to_spare_is_said_once(cast):
    hand = make.hand(student=cast.oda, comfortable=12, largest=12)
    assert reach_in_words(hand) == "an octave, in comfort and at most"


def test_the_newest_measurement_of_each_hand_counts(cast):
    make.hand(student=cast.oda, side="left", measured_on="2020-09-01", largest=16)
    make.hand(student=cast.oda, side="right", measured_on="2019-09-01", largest=12)
    newest = make.hand(student=cast.oda, side="right", measured_on="2020-09-02")
    latest = latest_hands(cast.oda.hands.all())
    assert list(latest) == ["right", "left"]
    assert latest["right"] == newest


def test_equal_hands_are_said_together_and_unequal_ones_apart(cast):
    make.hand(student=cast.oda, side="right")
    make.hand(student=cast.oda, side="left")
    assert both_hands_in_words(cast.oda.hands.all()) == ["both hands reach an octave in comfort, a ninth at most"]
    assert [label for label, _ in hands_together(latest_hands(cast.oda.hands.all()))] == ["both hands"]
    make.hand(student=cast.oda, side="left", measured_on="2020-10-01", largest=16)
    assert both_hands_in_words(cast.oda.hands.all()) == [
        "right hand reaches an octave in comfort, a ninth at most",
        "left hand reaches an octave in comfort, a tenth at most",
    ]
    assert both_hands_in_words([]) == []
