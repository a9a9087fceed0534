"""How a place in the music is read and written, and what marks a passage."""

from fractions import Fraction

import pytest

from scores.marking import beat_words, mark_all, note_at, read_beat


@pytest.mark.parametrize(
    ("text", "beat"),
    [
        ("2", Fraction(2)),
        ("2½", Fraction(5, 2)),
        (" 2 1/2 ", Fraction(5, 2)),
        ("5/2", Fraction(5, 2)),
        ("2.5", Fraction(5, 2)),
        ("2,25", Fraction(9, 4)),
        ("1⅔", Fraction(5, 3)),
        ("3⅙", Fraction(19, 6)),
        ("3+5/12", Fraction(41, 12)),
    ],
)
def test_a_beat_is_read_however_it_is_written(text, beat):
    assert read_beat(text) == beat


@pytest.mark.parametrize("text", ["", " ", "two", "1/0", "-1", "2½½", "9" * 20, "½2"])
def test_what_is_no_beat_is_refused(text):
    with pytest.raises(ValueError, match=r"^"):
        read_beat(text)


@pytest.mark.parametrize("beat", [Fraction(1), Fraction(5, 2), Fraction(7, 4), Fraction(5, 3), Fraction(13, 12)])
def test_a_written_beat_is_read_as_itself(beat):
    assert read_beat(beat_words(beat)) == beat


def test_the_notes_of_a_triplet_are_said_as_thirds_of_a_beat():
    assert [beat_words(Fraction(beat, 3)) for beat in (9, 10, 11)] == ["3", "3⅓", "3⅔"]


def test_the_place_of_a_beat_is_the_note_struck_there_or_next(cast):
    score = cast.edition.score
    assert note_at(score, "1", Fraction(2), "right", last=False).pitch.name == "E♭"
    assert note_at(score, "1", Fraction(9, 4), "right", last=False).pitch.name == "G"
    assert note_at(score, "1", Fraction(9, 4), "right", last=True).pitch.name == "E♭"
    assert note_at(score, "1", None, "left", last=True).onset == score.measures[1].start + 2
    assert note_at(score, "77", None, "left", last=True) is None


def test_the_beats_of_a_pick_up_count_from_the_end_of_its_measure(cast):
    assert note_at(cast.edition.score, "0", Fraction(3), "right", last=False).pitch.name == "B♭"


def test_the_whole_edition_can_be_marked(cast):
    passage = mark_all(edition=cast.edition)
    assert (passage.first_measure, passage.last_measure, passage.hands) == (0, 4, "both")
