"""The engine's answers, to sensible and to odd questions. Music invented here."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scores.music.fingering.checks import check
from scores.music.fingering.hand import from_reach, hand
from scores.music.fingering.options import best, compare, join, judge, propose, widest
from tests.scores.music.fingering import make
from tests.scores.music.fingering.test_search import random_notes

RIGHT, LEFT, SMALL = hand("right"), hand("left"), hand("right", "small")


def kinds(option):
    return [problem.kind for problem in option.impossible]


def test_a_judgement_adds_up_and_says_what_it_assumed():
    notes = make.line("C4 D4 E4 F4 G4")
    judgement = judge(notes, make.fingers(notes, "1 2 _ _ 5"), RIGHT)
    assert judgement.is_playable
    assert judgement.assumed == {"n3": "3", "n4": "4"}
    assert judgement.fingers == make.fingers(notes, "12345")
    assert judgement.cost == pytest.approx(sum(judgement.by_rule.values()))


def test_what_is_proposed_is_judged_the_same():
    dice = random.Random(9)
    for _ in range(25):
        notes = random_notes(dice, 7, chords=0.3, held=0.2)
        for option in propose(notes, RIGHT):
            judgement = judge(notes, option.fingers, RIGHT)
            assert judgement.cost == option.cost
            assert judgement.fingers == option.fingers


def test_playable_proposals_pass_the_checks():
    dice = random.Random(10)
    playable = 0
    for _ in range(60):
        notes = random_notes(dice, 7, chords=0.3, held=0.3)
        for option in propose(notes, RIGHT):
            if option.is_playable:
                playable += 1
                problems = check(notes, option.fingers, make.score(notes))
                assert [problem for problem in problems if problem.severity == "cannot"] == []
    assert playable > 60


def test_proposals_are_up_to_four_and_differ():
    notes = make.line("E4 F#4 G#4 A4 B4 C#5 D#5 E5")
    options = propose(notes, RIGHT)
    assert len(options) == 4
    assert options[0] == best(notes, RIGHT, 1)[0]
    assert [option.cost for option in options] == sorted(option.cost for option in options)
    for place, option in enumerate(options):
        assert all(len(compare(option.fingers, other.fingers, notes)) >= 2 for other in options[:place])


def test_fixed_fingers_are_kept_as_they_were_typed():
    notes = make.line("C4 D4 E4 F4+A4 G4", each=2)
    fixed = {"n3": "1", "n5": "4–5", "n4": "2"}
    for option in (*propose(notes, RIGHT, fixed=fixed), *best(notes, RIGHT, 5, fixed=fixed)):
        assert option.fingers["n3"] == "1"
        assert option.fingers["n5"] == "4-5"
        assert option.fingers["n4"] == "2"


def test_differences_are_shown_note_by_note():
    notes = make.line("C4 D4 E4")
    found = compare(make.fingers(notes, "123"), {"n1": "1", "n2": "3"}, notes)
    assert found == [("n2", "2", "3"), ("n3", "3", "")]


def test_the_easier_way_across_a_join_costs_less():
    notes = make.line("C4 D4 E4 F4 G4 A4 B4 C5")
    first, second = notes[:4], notes[4:]
    fingers = make.fingers(first, "1231")
    good = join((first, fingers), (second, make.fingers(second, "2345")), RIGHT)
    bad = join((first, fingers), (second, make.fingers(second, "1234")), RIGHT)
    assert good.cost < bad.cost


def test_the_widest_moment_is_found_in_chords_and_in_lines():
    chords = make.line("C4+E4 C4+A4 D4+F4")
    found = widest(chords, make.fingers(chords, "1 3 1 5 1 3"), RIGHT)
    assert ([note.id for note in found.notes], found.fingers, found.semitones) == (["n3", "n4"], ("1", "5"), 9)
    assert found.together
    line = make.line("C4 E4 B4 C6")
    found = widest(line, make.fingers(line, "1251"), RIGHT)
    assert ([note.id for note in found.notes], found.semitones, found.together) == (["n2", "n3"], 7, False)
    assert widest((), {}, RIGHT) is widest(make.line("C4"), {}, RIGHT) is None


def test_nothing_to_play_is_nothing_to_say():
    assert best((), RIGHT) == propose((), RIGHT) == ()
    judgement = judge((), {}, RIGHT)
    assert (judgement.cost, judgement.fingers, judgement.impossible) == (0.0, {}, ())
    assert propose(make.line("C4"), LEFT) == ()


def test_six_notes_at_once_name_the_note_to_give_away():
    for side, names, name in (("right", "C4+E4+F4+G4+A4+B4", "C4"), ("left", "C4+D4+E4+F4+G4+B4", "B4")):
        notes = make.line(names, side=side)
        (option,) = propose(notes, hand(side), score=make.score(notes))[:1]
        (problem,) = option.impossible
        assert problem.kind == "too-many-notes"
        assert "6 keys at once" in str(problem)
        assert f"Give {name} to the other hand" in str(problem)
        assert len(option.fingers) == 5


def test_a_thumb_lies_across_two_neighbours_when_six_keys_need_it():
    notes = make.line("C4+D4+E4+G4+A4+B4")
    option = propose(notes, RIGHT)[0]
    assert option.is_playable
    assert [option.fingers[f"n{i}"] for i in (1, 2)] == ["1", "1"]


def test_four_octaves_at_once_say_roll_or_give():
    notes = make.line("C3+C7")
    option = propose(notes, RIGHT, score=make.score(notes))[0]
    (problem,) = option.impossible
    assert problem.kind == "too-wide"
    assert problem.params["span"] == 48
    assert "measure 1, beat 1".casefold() in str(problem).casefold()
    assert "Roll the chord, or give C3 to the other hand" in str(problem)


def test_a_chord_is_too_wide_for_one_hand_and_not_for_another():
    notes = make.line("C4+G4+D5")
    assert best(notes, RIGHT, 1)[0].is_playable
    assert kinds(best(notes, SMALL, 1)[0]) == ["too-wide"]
    assert best(notes, from_reach("right", 12, 14), 1)[0].is_playable


def test_one_chord_that_is_too_wide_is_one_obstacle():
    notes = make.line("B3+F4+G4+D5")
    assert kinds(best(notes, SMALL, 1)[0]) == ["too-wide"]


def test_leaps_of_four_octaves_in_a_line_are_hard_but_not_impossible():
    option = best(make.line("C3 C7 C3"), RIGHT, 1)[0]
    assert option.is_playable
    assert option.cost > 20


def test_a_note_too_far_from_a_held_one_is_to_be_let_go():
    notes = (make.note("held", "C4", 0, 4), make.note("far", "C6", 2))
    (problem,) = best(notes, RIGHT, 1, score=make.score(notes))[0].impossible
    assert problem.kind == "too-wide"
    assert "Let go of C4" in str(problem)
    assert "beat 3" in str(problem)


def test_more_voices_than_fingers_say_which_key_to_let_go():
    names = ["C4", "D4", "E4", "F4", "G4", "A4"]
    notes = tuple(make.note(f"v{i}", name, i, 12, voice=str(i)) for i, name in enumerate(names))
    option = best(notes, RIGHT, 1)[0]
    assert kinds(option) == ["let-go"]
    assert "leave it to the pedal" in str(option.impossible[0])


def test_fixed_fingers_that_contradict_each_other_are_named():
    chord = make.line("C4+E4+G4")
    assert kinds(propose(chord, RIGHT, fixed={"n1": "2", "n3": "2"})[0]) == ["same-finger"]
    held = (make.note("held", "C5", 0, 4), make.note("a", "A4", 1))
    option = propose(held, RIGHT, fixed={"held": "5", "a": "5"})[0]
    assert kinds(option) == ["still-held"]
    assert option.fingers == {"held": "5", "a": "5"}
    assert kinds(judge(held, {"held": "5", "a": "5"}, RIGHT)) == ["still-held"]


def test_crossed_fixed_fingers_are_kept_when_the_hand_can():
    notes = make.line("C4+E4")
    assert judge(notes, {"n1": "2", "n2": "1"}, RIGHT).is_playable
    assert kinds(judge(notes, {"n1": "5", "n2": "2"}, RIGHT)) == ["too-crossed"]


def test_a_tie_is_one_note_and_a_grace_is_fingered_too():
    notes = (
        make.note("a", "C5", 0, 4, tie="start"),
        make.note("b", "C5", 4, 2, tie="stop"),
        make.note("g", "D5", 6, grace=0),
        make.note("c", "C5", 6),
    )
    option = best(notes, RIGHT, 1)[0]
    assert set(option.fingers) == {"a", "g", "c"}
    assert option.fingers["g"] != option.fingers["c"]


def test_a_unison_of_two_voices_is_one_key_and_one_finger():
    notes = (make.note("a", "C5", 0, 2), make.note("b", "C5", 0, 1, voice="2"), make.note("c", "D5", 1))
    option = best(notes, RIGHT, 1)[0]
    assert option.is_playable
    assert option.fingers["a"] == option.fingers["b"]


def test_a_tie_from_before_the_passage_holds_a_finger():
    notes = (make.note("b", "C5", 0, 4, tie="stop"), make.note("x", "A4", 1), make.note("y", "G4", 2))
    for option in best(notes, RIGHT, 10):
        assert set(option.fingers) == {"x", "y"}
        assert option.is_playable
    # Six keys under one hand, the tied one counted: it does take a finger away.
    chord = tuple(make.note(f"c{i}", name, 1) for i, name in enumerate(["G4", "A4", "B4", "D5", "E5"]))
    assert best(chord, RIGHT, 1)[0].is_playable
    assert not best((notes[0], *chord), RIGHT, 1)[0].is_playable


def test_fingerings_that_differ_under_a_tie_only_are_offered_once():
    notes = (make.note("b", "C5", 0, 4, tie="stop"), make.note("x", "A4", 1), make.note("y", "G4", 2))
    for options in (best(notes, RIGHT, 10), propose(notes, RIGHT)):
        read = [tuple(sorted(option.fingers.items())) for option in options]
        assert len(read) > 1
        assert len(set(read)) == len(read)


def test_a_passage_of_nothing_but_a_tie_has_nothing_to_finger():
    notes = (make.note("b", "C5", 0, 4, tie="stop"),)
    assert best(notes, RIGHT) == propose(notes, RIGHT) == ()
    assert judge(notes, {"b": "3"}, RIGHT).fingers == {}


def test_odd_settings_are_answered():
    notes = make.line("C4 E4")
    for tempo in (0, -5, 1e9, 0.001):
        assert best(notes, RIGHT, 1, tempo=tempo)
    assert best(notes, RIGHT, 0) == ()
    assert propose(notes, RIGHT, count=0) == ()
    assert len(best(notes, RIGHT, 10_000)) == 25
    assert best(notes, RIGHT, 1, fixed={"n1": "banana", "other": "3", "n2": ""})[0] == best(notes, RIGHT, 1)[0]


TIE = st.sampled_from(["", "stop", "start", "start stop"])
LENGTH = st.sampled_from([0, 0.25, 1, 2, 5])
NOTE = st.tuples(st.integers(21, 108), st.integers(0, 6), LENGTH, st.booleans(), TIE)
FINGER = st.sampled_from(["", "1", "2", "3", "4", "5", "4-5", "1-2-1", "7", "x"])


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(NOTE, FINGER), max_size=12), st.sampled_from(["house", "published"]))
def test_any_notes_and_fingers_are_answered_without_an_exception(made, rules):
    notes = tuple(
        make.note(f"n{i}", key, onset, length, grace=i if grace else None, tie=tie, voice=str(i % 3))
        for i, ((key, onset, length, grace, tie), _) in enumerate(made)
    )
    fingers = {f"n{i}": finger for i, (_, finger) in enumerate(made)}
    score = make.score(notes)
    judgement = judge(notes, fingers, SMALL, rules=rules, score=score)
    options = propose(notes, SMALL, fixed=fingers, rules=rules, score=score)
    assert bool(options) == bool(judgement.fingers)
    for answer in (judgement, *options):
        assert all(str(one) for one in (*answer.impossible, *answer.remarks))
        assert answer.cost >= 0
    check(notes, fingers, score)
