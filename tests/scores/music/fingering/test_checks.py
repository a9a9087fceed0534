"""Each rule is common practice; the cases are invented."""

from scores.music.fingering.checks import check, check_join
from scores.music.fingering.hand import hand
from tests.scores.music.fingering import make


def kinds(problems, severity="cannot"):
    return [problem.kind for problem in problems if problem.severity == severity]


def test_a_plain_fingering_has_no_problem():
    notes = make.line("C4 D4 E4+G4 C4+E4+G4+C5 C5")
    assert check(notes, make.fingers(notes, "12351 2 3 5 5".replace(" ", "")), make.score(notes)) == ()


def test_unmarked_notes_say_nothing():
    notes = make.line("C4+E4+G4 C4+E4+G4")
    assert check(notes, make.fingers(notes, "1 _ _ _ 1 _"), make.score(notes)) == ()


def test_what_is_no_finger_is_said_with_its_place():
    notes = make.line("C4 D4 E4 F4 G4")
    (problem,) = check(notes, {"n5": "9"}, make.score(notes))
    assert problem.kind == "not-a-finger"
    assert str(problem).startswith("Measure 2, beat 1: “9”")


def test_one_finger_cannot_take_two_keys_at_once():
    notes = make.line("C4+E4+G4")
    (problem,) = check(notes, make.fingers(notes, "1 3 3"), make.score(notes))
    assert problem.kind == "same-finger"
    assert problem.severity == "cannot"
    assert problem.notes == ("n3", "n2")
    assert "finger 3" in str(problem)
    assert "E4 and G4" in str(problem)


def test_a_thumb_on_two_neighbouring_white_keys_is_unusual_but_can_be():
    notes = make.line("C4+D4+G4 C4+D#4+G4")
    problems = check(notes, make.fingers(notes, "1 1 4 1 1 4"), make.score(notes))
    assert [(problem.kind, problem.severity) for problem in problems] == [
        ("same-finger", "watch"),
        ("same-finger", "cannot"),
    ]


def test_a_finger_that_still_holds_a_note_cannot_play_another():
    notes = (make.note("held", "C5", 0, 4), make.note("a", "A4", 1), make.note("b", "B4", 2))
    (problem,) = check(notes, {"held": "5", "a": "2", "b": "5"}, make.score(notes))
    assert problem.kind == "still-held"
    assert problem.notes == ("b", "held")
    assert "beat 3" in str(problem)
    assert "holds C5, struck in measure 1, beat 1" in str(problem)


def test_a_note_that_ends_where_the_next_begins_frees_its_finger():
    notes = make.line("C4 E4 C4")
    assert kinds(check(notes, make.fingers(notes, "111"), make.score(notes))) == []


def test_a_substitution_frees_the_first_finger_and_binds_the_second():
    notes = (make.note("held", "C5", 0, 4), make.note("a", "A4", 1), make.note("b", "B4", 2))
    free = check(notes, {"held": "4-5", "a": "2", "b": "4"}, make.score(notes))
    bound = check(notes, {"held": "4-5", "a": "5"}, make.score(notes))
    assert kinds(free) == []
    assert kinds(bound) == ["still-held"]


def test_a_substitution_needs_a_free_finger():
    notes = (make.note("top", "C5", 0, 4), make.note("low", "E4", 0, 4))
    (problem,) = [p for p in check(notes, {"top": "5", "low": "1-5"}, make.score(notes)) if p.severity == "cannot"]
    assert problem.kind == "no-time"


def test_a_tie_holds_its_finger_to_the_end():
    notes = (
        make.note("a", "C5", 0, 4, tie="start"),
        make.note("b", "C5", 4, 2, tie="stop"),
        make.note("x", "A4", 5),
        make.note("y", "A4", 6),
    )
    problems = check(notes, {"a": "3", "x": "3", "y": "3"}, make.score(notes))
    assert [problem.notes for problem in problems] == [("x", "a")]


def test_a_finger_on_the_tied_note_takes_the_key_over():
    notes = (
        make.note("a", "C5", 0, 4, tie="start"),
        make.note("b", "C5", 4, 4, tie="stop"),
        make.note("x", "A4", 5),
        make.note("y", "G4", 6),
    )
    problems = check(notes, {"a": "3", "b": "5", "x": "3", "y": "5"}, make.score(notes))
    assert [problem.notes for problem in problems] == [("y", "b")]


def test_a_tie_that_leaves_the_passage_still_holds():
    held = make.note("a", "C5", 0, 2, tie="start")
    end = make.note("b", "C5", 2, 2, tie="stop")
    after = make.note("x", "E5", 3)
    problems = check((held, after), {"a": "1", "x": "1"}, make.score((held, end, after)))
    assert kinds(problems) == ["still-held"]


def test_crossed_fingers_in_a_chord_are_watched_in_either_hand():
    right = make.line("C4+E4")
    left = make.line("C3+E3", side="left")
    assert kinds(check(right, make.fingers(right, "31"), make.score(right)), "watch") == ["crossed"]
    assert kinds(check(left, make.fingers(left, "31"), make.score(left)), "watch") == []
    assert kinds(check(left, make.fingers(left, "13"), make.score(left)), "watch") == ["crossed"]


def test_the_thumb_may_pass_under_a_held_finger_and_the_others_may_not():
    notes = (make.note("held", "E4", 0, 4), make.note("a", "F4", 1), make.note("b", "G4", 2))
    problems = check(notes, {"held": "3", "a": "1", "b": "2"}, make.score(notes))
    assert [(p.kind, p.severity, p.notes) for p in problems] == [("crossed", "watch", ("b", "held"))]


def test_one_key_in_two_voices_needs_one_finger():
    notes = (make.note("a", "C5", 0, 2), make.note("b", "C5", 0, 1, voice="2"))
    assert check(notes, {"a": "3", "b": "3"}, make.score(notes)) == ()
    assert kinds(check(notes, {"a": "3", "b": "4"}, make.score(notes)), "watch") == ["one-key"]


def test_both_hands_are_looked_at_each_by_itself():
    notes = (*make.line("C5"), make.note("l", "C3", 0, side="left"))
    assert check(notes, {"n1": "1", "l": "1"}, make.score(notes)) == ()


def test_graces_may_use_the_finger_of_the_note_they_lead_to():
    notes = (make.note("g", "D5", 1, grace=0), make.note("a", "C5", 1))
    assert kinds(check(notes, {"g": "3", "a": "3"}, make.score(notes))) == []


def test_a_join_finds_a_finger_that_is_still_down():
    notes = (make.note("held", "C5", 0, 4), make.note("a", "A4", 1), make.note("b", "B4", 2))
    problems = check_join(make.score(notes), (notes[:2], {"held": "5", "a": "2"}), (notes[2:], {"b": "5"}))
    assert kinds(problems) == ["still-held"]


def test_a_join_finds_the_same_finger_on_the_next_key_unless_a_rest_parts_them():
    notes = make.line("C4 D4 E4 F4 _ F4")
    score = make.score(notes)
    first = (notes[:2], make.fingers(notes[:2], "12"))
    assert kinds(check_join(score, first, (notes[2:], {"n3": "2"})), "watch") == ["join-same-finger"]
    assert check_join(score, first, (notes[2:], {"n3": "3"})) == ()
    assert check_join(score, (notes[2:4], {"n4": "2"}), (notes[4:], {"n5": "2"})) == ()


def test_a_join_wider_than_the_hand_is_named_when_the_hand_is_known():
    notes = make.line("C4 B5")
    parts = (notes[:1], {"n1": "1"}), (notes[1:], {"n2": "5"})
    assert check_join(make.score(notes), *parts) == ()
    (problem,) = check_join(make.score(notes), *parts, hand=hand("right", "medium"))
    assert problem.kind == "join-too-wide"
    assert "from finger 1 on C4 to finger 5 on B5" in str(problem)


def test_joins_of_empty_parts_have_no_problem():
    notes = make.line("C4")
    assert check_join(make.score(notes), ((), {}), (notes, {"n1": "1"})) == ()
    assert check((), {"n1": "1"}, make.score(notes)) == ()
