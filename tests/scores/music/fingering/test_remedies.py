"""What is said to help does help: the change is made to the notes and the hand asked again. Music invented here."""

import random
from dataclasses import replace
from fractions import Fraction

import pytest

from scores.music.fingering import obstacles
from scores.music.fingering.checks import key_name
from scores.music.fingering.hand import hand
from scores.music.fingering.options import best, judge
from tests.scores.music.fingering import make

RIGHT, LEFT, SMALL = hand("right"), hand("left"), hand("right", "small")
GIVEN = {
    obstacles.TOO_MANY_NOTES,
    obstacles.TOO_MANY_GIVE,
    obstacles.TOO_WIDE_TO_GRIP,
    obstacles.TOO_WIDE_GIVE,
    obstacles.NO_FINGER_GIVE,
}
LET_GO = {
    obstacles.TOO_WIDE_TO_HOLD,
    obstacles.TOO_WIDE_TO_HOLD_ALL,
    obstacles.LET_GO,
    obstacles.LET_GO_ALL,
}
ROLLED = {
    obstacles.TOO_MANY_NOTES,
    obstacles.TOO_MANY_ROLL,
    obstacles.TOO_WIDE_TO_GRIP,
    obstacles.TOO_WIDE_ROLL,
    obstacles.NO_FINGER_ROLL,
}


def crowded_notes(dice, side):
    """Few moments, with wide and full chords and keys that are held for long."""
    notes = []
    for place in range(dice.randint(1, 4)):
        low = dice.randint(48, 66)
        keys = {low} | {low + dice.randint(1, 26) for _ in range(dice.choice([0, 1, 2, 3, 4, 6]))}
        for key in sorted(keys):
            length = dice.choice([1, 3, 3])
            notes.append(make.note(f"n{len(notes)}", key, place, length, side=side, voice=str(len(notes))))
    return tuple(notes)


def given_away(notes, problem, onset):
    """The notes without those named; what is held from before ends at the moment."""
    named = str(problem.params["give"]).split(", ")
    left = []
    for note in notes:
        sounds = note.onset <= onset < note.end
        if not sounds or key_name(note) not in named:
            left.append(note)
        elif note.onset < onset:
            left.append(replace(note, length=onset - note.onset))
    assert left != list(notes)
    return left


def rolled(notes, onset):
    """The chord from the bottom, each note let go for the next."""
    chord = sorted((note for note in notes if note.onset == onset), key=lambda note: note.pitch.midi)
    each = Fraction(1, 32)
    apart = [replace(note, onset=onset + place * each, length=each) for place, note in enumerate(chord)]
    return [note for note in notes if note.onset != onset] + apart


def blocked(notes, one, onset):
    """Whether something cannot be played from this moment until the next quarter."""
    notes = tuple(notes)
    if not notes:
        return False
    where = {note.id: note.onset for note in notes}
    option = best(notes, one, 1)[0]
    return any(onset <= max(where[id] for id in problem.notes) < onset + 1 for problem in option.impossible)


@pytest.mark.parametrize("one", [RIGHT, LEFT, SMALL])
def test_each_change_that_is_named_makes_the_moment_playable(one):
    dice, proved = random.Random(21), {"give": 0, "let go": 0, "roll": 0}
    for _ in range(60):
        notes = crowded_notes(dice, one.side)
        onset_of = {note.id: note.onset for note in notes}
        for problem in best(notes, one, 1)[0].impossible:
            onset = max(onset_of[id] for id in problem.notes)
            for name, messages in (("give", GIVEN), ("let go", LET_GO)):
                if problem.message in messages:
                    assert not blocked(given_away(notes, problem, onset), one, onset), str(problem)
                    proved[name] += 1
            if problem.message in ROLLED:
                assert not blocked(rolled(notes, onset), one, onset), str(problem)
                proved["roll"] += 1
    assert min(proved.values()) >= 5, proved


def test_as_many_notes_are_given_away_as_have_to_be_and_no_more():
    notes = make.line("C3+E3+C6+E6")
    (problem,) = best(notes, RIGHT, 1)[0].impossible
    assert problem.params["give"] == "C3, E3"
    (problem,) = best(make.line("C3+C6+E6"), RIGHT, 1)[0].impossible
    assert problem.params["give"] == "C3"
    (problem,) = best(make.line("C4+E4+E6"), RIGHT, 1)[0].impossible
    assert problem.params["give"] == "E6"


def test_a_chord_over_a_key_that_is_held_far_away_is_not_said_to_be_rolled():
    notes = (make.note("held", "C3", 0, 4), make.note("a", "C6", 1), make.note("b", "E6", 1))
    (problem,) = best(notes, RIGHT, 1)[0].impossible
    assert problem.message in LET_GO
    assert problem.params["give"] == "C3"


def test_fingers_that_do_not_reach_where_others_do_are_what_is_to_change():
    notes = make.line("C4+C5")
    (problem,) = judge(notes, {"n1": "2", "n2": "3"}, RIGHT).impossible
    assert str(problem).endswith("Roll the chord, or take other fingers, which reach it.")
    assert judge(notes, {}, RIGHT).is_playable
    apart = (notes[0], replace(notes[1], onset=Fraction(1, 4), length=Fraction(3, 4)))
    rolled_notes = (replace(apart[0], length=Fraction(1, 4)), apart[1])
    assert judge(rolled_notes, {"n1": "2", "n2": "3"}, RIGHT).is_playable
    # One after the other, with the first held on, there is no chord to roll.
    (problem,) = judge(apart, {"n1": "2", "n2": "3"}, RIGHT).impossible
    assert str(problem).endswith("Other fingers reach it.")
