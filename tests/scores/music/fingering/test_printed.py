"""The fingers printed in four piano pieces of the installed music21 corpus (C. Schumann) against the house rules.

A sane ceiling: pianists agree with each other on about 71 % of notes, and the best model with them on about 65 % (from
memory of Nakamura and others 2020, arXiv 1904.10237).
"""

from itertools import groupby
from pathlib import Path

import pytest
from music21 import corpus

from scores.music.fingering.hand import hand
from scores.music.fingering.options import best, judge
from scores.music.fingering.text import fingers_of
from scores.music.notation import SIDES
from scores.reading_files.reading import read

FOLDER = Path(corpus.__file__).parent / "schumann_clara"
DEEP = 100


@pytest.fixture(scope="module")
def scores():
    return [read(name, (FOLDER / name).read_bytes()).score for name in (f"polonaise_op1n{n}.mxl" for n in range(1, 5))]


def printed(score, side):
    return [note for note in score.notes if note.side == side and fingers_of(note.printed)]


def test_three_in_five_printed_fingers_are_those_of_the_best_fingering(scores):
    same = whole = 0
    for score in scores:
        for side in SIDES:
            marked = printed(score, side)
            if marked:
                notes = [note for note in score.notes if note.side == side]
                fingers = best(notes, hand(side), 1)[0].fingers
                same += sum(fingers_of(fingers[note.id])[0] == fingers_of(note.printed)[0] for note in marked)
                whole += len(marked)
    assert whole == 57
    assert same / whole >= 0.6


def measures_with_print(score, side):
    """The stretches of neighbouring measures that have printed fingers: (notes of the stretch, marked notes)."""
    marked = printed(score, side)
    places = sorted({note.measure for note in marked})
    for _, group in groupby(enumerate(places), key=lambda pair: pair[1] - pair[0]):
        inside = {place for _, place in group}
        yield (
            [note for note in score.notes if note.side == side and note.measure in inside],
            {note.id: note.printed for note in marked if note.measure in inside},
        )


def test_half_of_the_printed_stretches_are_near_the_front(scores):
    """Near the front: among the first hundred of all fingerings, which for these stretches are millions; or, where
    fewer digits are printed than notes, within a fifth of the least cost."""
    near, whole = 0, 0
    for score in scores:
        for side in SIDES:
            for notes, marks in measures_with_print(score, side):
                options = best(notes, hand(side), DEEP)
                ranks = [all(o.fingers[note] == text for note, text in marks.items()) for o in options]
                given = judge(notes, marks, hand(side))
                near += any(ranks) or given.cost <= 1.2 * options[0].cost
                whole += 1
                assert given.is_playable
    assert whole >= 8
    assert near / whole >= 0.5


def test_all_hands_of_all_pieces_get_an_answer(scores):
    for score in scores:
        for side in SIDES:
            notes = [note for note in score.notes if note.side == side]
            option = best(notes, hand(side), 1, score=score)[0]
            assert len(option.impossible) <= 3
            assert {note.id for note in notes if note.is_attack} - set(option.fingers) == {
                note for problem in option.impossible if problem.kind == "too-many-notes" for note in problem.notes
            }
