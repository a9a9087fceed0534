from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scores.music.fingering.text import NotAFinger, parse_finger, read_line, write_finger, write_line
from scores.music.notation import moments
from tests.scores.music.fingering import make

FINGER = st.lists(st.integers(1, 5), min_size=1, max_size=3).filter(
    lambda digits: all(a != b for a, b in pairwise(digits))
)


def kinds(line):
    return [problem.kind for problem in line.problems]


@pytest.mark.parametrize(
    ("text", "fingers"), [("3", (3,)), ("4-5", (4, 5)), ("4–5", (4, 5)), ("５", (5,)), ("1-2-1", (1, 2, 1))]
)
def test_a_finger_is_a_digit_or_a_substitution(text, fingers):
    assert parse_finger(text) == fingers


@pytest.mark.parametrize("text", ["0", "6", "", "x", "4-", "-4", "4--5", "4-4", "45", "٣", "1.5", "4-5" * 50])
def test_what_is_no_finger_is_refused(text):
    with pytest.raises(NotAFinger) as refused:
        parse_finger(text)
    assert "1 to 5" in str(refused.value)


def test_a_line_gives_each_moment_its_fingers_from_low_to_high():
    notes = make.line("C4 E4+G4+C5 D5 F4+A4 B4")
    line = read_line("1 | 1(2-3)5 4-5 .2 _", moments(notes), make.score(notes))
    assert line.problems == ()
    assert line.fingers == {"n1": "1", "n2": "1", "n3": "2-3", "n4": "5", "n5": "4-5", "n7": "2"}


def test_a_short_line_names_the_first_place_without_a_token():
    notes = make.line("C4 D4 E4 F4 G4 A4")
    line = read_line("1 2 3 1", moments(notes), make.score(notes))
    assert kinds(line) == ["too-few"]
    assert "measure 2, beat 1" in str(line.problems[0])
    assert "4 of 6" in str(line.problems[0])
    assert line.fingers == {"n1": "1", "n2": "2", "n3": "3", "n4": "1"}


def test_a_long_line_names_the_last_note_and_both_counts():
    notes = make.line("C4 D4")
    line = read_line("1 2 3 4", moments(notes), make.score(notes))
    assert kinds(line) == ["too-many"]
    assert "measure 1, beat 2" in str(line.problems[0])
    assert "4 typed for 2 places" in str(line.problems[0])


def test_wrong_chords_are_named_one_by_one_and_the_rest_is_kept():
    notes = make.line("C4+E4+G4 D4+F4 E4 F4")
    line = read_line("15 123 7 4", moments(notes), make.score(notes))
    assert kinds(line) == ["too-few", "too-many", "not-a-finger"]
    assert [problem.params["beat"] for problem in line.problems] == ["1", "2", "3"]
    assert "2 for 3 notes" in str(line.problems[0])
    assert "3 for 2 notes" in str(line.problems[1])
    assert "“7”" in str(line.problems[2])
    assert line.fingers == {"n7": "4"}


def test_a_tied_note_and_a_rest_need_no_token_and_a_grace_needs_its_own():
    notes = (
        make.note("a", "C5", 0, tie="start"),
        make.note("b", "C5", 1, tie="stop"),
        make.note("g", "D5", 3, grace=0),
        make.note("c", "C5", 3),
    )
    line = read_line("5 4 3", moments(notes), make.score(notes))
    assert line.fingers == {"a": "5", "g": "4", "c": "3"}
    assert line.problems == ()


def test_a_beat_between_beats_is_said_as_it_is_counted():
    notes = make.line("C4 D4 E4", each=0.5)
    line = read_line("1 x", moments(notes), make.score(notes))
    assert line.problems[0].params["beat"] == "1½"


def test_a_line_for_no_notes_says_so():
    assert kinds(read_line("1", (), make.score(()))) == ["no-notes"]
    assert read_line("", (), make.score(())).problems == ()


@given(st.data(), st.lists(st.integers(1, 4), min_size=1, max_size=8))
def test_what_is_written_is_read_back(data, chords):
    names = ["+".join(["C4", "E4", "G4", "B4"][:size]) for size in chords]
    notes = make.line(" ".join(names))
    fingers = {n.id: write_finger(data.draw(FINGER)) for n in notes if data.draw(st.booleans())}
    line = read_line(write_line(fingers, moments(notes)), moments(notes), make.score(notes))
    assert line.problems == ()
    assert line.fingers == fingers


@given(st.text(max_size=30))
def test_any_text_is_answered_without_an_exception(text):
    notes = make.line("C4 E4+G4 C5")
    line = read_line(text, moments(notes), make.score(notes))
    assert set(line.fingers) <= {n.id for n in notes}
    assert all(parse_finger(typed) for typed in line.fingers.values())
    assert all(str(problem) for problem in line.problems)
    # What is read without a complaint can be written, and reads the same again.
    if not line.problems:
        assert read_line(write_line(line.fingers, moments(notes)), moments(notes), make.score(notes)) == line
