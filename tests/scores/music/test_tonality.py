"""The key of a piece. The second opinion is music21's key analysis of the same corpus pieces; the polonaises' keys
stand on their title page too (E-flat, C, D, C)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import corpus

from scores.music.tonality import MAJORS, MINORS, key_of
from scores.reading_files.reading import read
from tests.scores.corpus_music import corpus_music

ENDING_AT_HOME = (
    "schumann_clara/polonaise_op1n1",
    "schumann_clara/polonaise_op1n2",
    "schumann_clara/polonaise_op1n3",
    "schumann_clara/polonaise_op1n4",
    "joplin/maple_leaf_rag",
    "beach/prayer_of_a_tired_child",
)
SCALE = "<note><pitch><step>{}</step><alter>{}</alter><octave>3</octave></pitch><duration>4</duration></note>"


@pytest.mark.parametrize("name", ENDING_AT_HOME)
def test_a_piece_that_ends_at_home_has_the_key_of_a_second_opinion(name):
    analysed = corpus.parse(name).analyze("key").tonicPitchNameWithCase.replace("-", "b")
    assert key_of(read("a.musicxml", corpus_music(name)).score) == analysed


def test_an_exposition_that_ends_in_another_key_is_left_to_the_teacher():
    assert key_of(read("a.musicxml", corpus_music("mozart/k545/movement1_exposition")).score) == ""


def one_note(fifths: int, step: str, alter: int) -> str:
    return key_of(
        read(
            "a.musicxml",
            (
                "<score-partwise version='4.0'><part-list><score-part id='P1'><part-name>Piano</part-name></score-part>"
                "</part-list><part id='P1'><measure number='1'><attributes><divisions>1</divisions>"
                f"<key><fifths>{fifths}</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
                f"{SCALE.format(step, alter)}</measure></part></score-partwise>"
            ).encode(),
        ).score
    )


@given(st.integers(-7, 7), st.booleans())
def test_each_signature_has_the_two_tonics_of_the_circle_of_fifths(fifths, is_minor):
    """The circle of fifths, F C G D A E B and on with sharps, backwards with flats (common practice)."""
    place = fifths + (4 if is_minor else 1)  # F is 0
    step, alter = "FCGDAEB"[place % 7], place // 7
    sign = {0: "", 1: "#", -1: "b"}[alter]
    expected = step.lower() + sign if is_minor else step + sign
    assert (MINORS if is_minor else MAJORS)[fifths + 7] == expected
    assert one_note(fifths, step, alter) == expected


def test_a_last_note_that_is_neither_tonic_decides_nothing():
    assert one_note(0, "D", 0) == ""
