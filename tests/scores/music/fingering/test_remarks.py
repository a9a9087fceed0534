"""What is said of a fingering: common practice, on music invented here."""

import re

import pytest

from scores.music.fingering import checks, obstacles, remarks
from scores.music.fingering.hand import from_reach, hand
from scores.music.fingering.options import best, judge
from tests.scores.music.fingering import make
from tests.scores.music.fingering.handbook import scales

RIGHT = hand("right")


def said(names, fingers, one=RIGHT, **options):
    notes = make.line(names, side=one.side)
    return judge(notes, make.fingers(notes, fingers), one, score=make.score(notes), **options).remarks


def messages(found):
    return [remark.message for remark in found]


def test_a_chord_wider_than_is_comfortable_says_by_how_much_and_carries_the_caution():
    found = said("E4+C#5", "25", from_reach("right", 13, 15))
    (stretch,) = [remark for remark in found if remark.kind == "stretch"]
    assert str(stretch) == "A stretch of 9 semitones between 2 and 5, where 8 are comfortable for this hand."
    assert stretch.notes == ("n1", "n2")
    assert (stretch.params["measure"], stretch.params["beat"]) == ("1", "1")
    assert [remark.tone for remark in found if remark.message == remarks.CAUTION] == ["caution"]


def test_no_hand_is_told_that_a_five_finger_position_is_a_stretch():
    found = said("C4 D4 E4 F4 G4 F4 E4 D4 C4", "123454321", from_reach("right", 9, 10))
    assert "stretch" not in [remark.kind for remark in found]


def test_a_wide_chord_is_spoken_of_once():
    found = said("C4+E4+G4+C5", "1235", hand("right", "small"))
    assert [remark.kind for remark in found].count("stretch") == 1


def test_without_a_stretch_there_is_no_caution():
    assert remarks.CAUTION not in messages(said("C4+E4+G4 D4", "1352"))


def test_the_same_stretch_is_none_for_a_larger_hand():
    assert "stretch" in [remark.kind for remark in said("C4+D5", "15", hand("right", "medium"))]
    assert "stretch" not in [remark.kind for remark in said("C4+D5", "15", hand("right", "large"))]


@pytest.mark.parametrize(
    ("names", "fingers", "message"),
    [
        ("Eb4 Eb4", "22", remarks.LIFT_BLACK),
        ("E4 E4", "22", remarks.LIFT),
        ("E4 E4", "32", remarks.SAFE_CHANGE),
        ("D4 Eb4", "21", remarks.THUMB_BLACK),
        ("D5 Eb5", "45", remarks.FIFTH_BLACK),
        ("E4 F4", "31", remarks.UNDER),
        ("Eb4 F4", "31", remarks.UNDER_ROOM),
        ("E4 F#4", "31", remarks.UNDER_TO_BLACK),
        ("F4 E4", "13", remarks.OVER),
        ("F4 Eb4", "13", remarks.OVER_ROOM),
        ("E4 F4", "43", remarks.CROSSES),
        ("C4 C6", "15", remarks.SHIFT),
        ("Eb4 D4", "33", remarks.SLIDE),
        ("E4 G4", "33", remarks.SAME_FINGER_ON),
        ("C4 B4", "15", remarks.OPENS),
        ("C4 D4", "15", remarks.CLOSES),
        ("E4 F4 G4 F4", "3454", remarks.WEAK_IN_TURN),
        ("C4+G4 C4+A4", "1415", remarks.GUIDE),
        ("C4 D4 E4 F4 G4", "12345", remarks.ONE_POSITION),
    ],
)
def test_each_thing_worth_saying_is_said(names, fingers, message):
    assert message in messages(said(names, fingers))


@pytest.mark.parametrize(
    ("names", "fingers", "notes", "sentence"),
    [
        (
            "E4+C#5",
            "25",
            {"n1", "n2"},
            "A stretch of 9 semitones between 2 and 5, where 8 are comfortable for this hand.",
        ),
        ("Bb4 Bb4", "22", {"n1", "n2"}, "Finger 2 must lift to repeat the same black key."),
        ("D4 Eb4 F4", "213", {"n2"}, "Thumb on a black key, E♭4: play closer to the fallboard."),
        ("C4 B4", "15", {"n1", "n2"}, "From 1 to 5 over 11 semitones: the hand turns outward and opens."),
        ("E4 E4", "32", {"n1", "n2"}, "Safe change on the repeated note, 3 to 2."),
    ],
)
def test_the_trade_words_are_said_of_the_notes_they_belong_to(names, fingers, notes, sentence):
    (remark,) = [remark for remark in said(names, fingers) if str(remark) == sentence]
    assert set(remark.notes) == notes
    assert remark.params["measure"] == "1"


@pytest.mark.parametrize(
    ("names", "fingers", "word"),
    [
        ("E4+C5", "25", "stretch"),
        ("Bb4 Bb4", "32", "must lift"),
        ("D4 Eb4 F4", "123", "fallboard"),
        ("C4 G4", "15", "turns outward"),
        ("E4 E4", "22", "Safe change"),
    ],
)
def test_the_trade_words_are_kept_for_where_they_are_true(names, fingers, word):
    assert not [remark for remark in said(names, fingers) if word in str(remark)]


def test_the_left_hand_hears_the_same_in_its_mirror():
    assert remarks.UNDER in messages(said("F3 E3", "31", hand("left")))
    assert remarks.OVER in messages(said("E3 F3", "13", hand("left")))


def test_a_silent_change_is_said_with_both_fingers():
    notes = (make.note("held", "C5", 0, 4), make.note("a", "A4", 1), make.note("b", "D5", 2))
    found = judge(notes, {"held": "5-4", "a": "1", "b": "5"}, RIGHT, score=make.score(notes)).remarks
    (change,) = [remark for remark in found if remark.kind == "substitution"]
    assert str(change) == "Change silently from 5 to 4 while C5 is held."


def test_a_pattern_that_returns_is_praised_and_one_that_does_not_is_not():
    notes = scales()[0].notes
    good = judge(notes, make.fingers(notes, "123123412312345"), RIGHT).remarks
    other = judge(notes, make.fingers(notes, "123412341234123"), RIGHT).remarks
    assert remarks.RETURNS in messages(good)
    assert remarks.RETURNS not in messages(other)


def test_broad_fingers_are_told_where_the_black_keys_are_near():
    broad = hand("right", traits=["broad fingers"])
    assert remarks.BETWEEN_BLACKS in messages(said("F#4 G4", "23", broad))
    assert remarks.BETWEEN_BLACKS not in messages(said("F#4 G4", "23"))


def test_every_option_of_a_scale_says_something_tied_to_its_notes():
    notes = scales()[3].notes
    ids = {note.id for note in notes}
    for option in best(notes, RIGHT, 3):
        assert option.remarks
        assert all(set(remark.notes) <= ids for remark in option.remarks)


def test_all_sentences_are_listed_for_translators():
    for module in (checks, obstacles, remarks):
        constants = {value for name, value in vars(module).items() if name.isupper() and isinstance(value, str)}
        assert constants <= set(module.MESSAGES)
        for message in module.MESSAGES:
            assert re.sub(r"%\(\w+\)s", "", message).count("%") == 0
