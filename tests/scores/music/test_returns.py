"""Where the notes of a stretch come again: against trying everything, and by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from scores.music.notation import Pitch, Score, moment_key
from scores.music.recurrences import STROKES, STROKES_TRANSPOSED
from scores.music.returns import Weave
from tests.scores.music.test_recurrences import HIGHER, A, B, C, bars, repeats, score_of

HANDS = st.sampled_from(("both", "right", "left"))


def told(score: Score, first: str, last: str, hands: str) -> list[tuple]:
    return [(one.measures, one.semitones) for one in Weave(score).returns(first, last, hands)]


def test_a_stretch_from_the_middle_of_a_measure_comes_again_though_the_measure_does_not():
    other = ([74, 62, 64, 65], [48])  # the first eighth differs
    score = score_of(A, B, C, other, B)
    assert told(score, "m1r1", "m2r3", "right") == [((3, 4), 0)]
    assert told(score, "m1r0", "m2r3", "right") == []


def test_a_return_maps_each_note():
    score = score_of(A, B, C, *HIGHER)
    (one,) = Weave(score).returns("m1r1", "m2r2", "right")
    assert (one.semitones, one.steps) == (7, 4)
    assert list(one.notes.items())[:2] == [("m1r1", "m4r1"), ("m1r2", "m4r2")]


def test_something_more_between_first_and_last_is_no_return():
    score = score_of(A, B, C, A, ([67, 65, 64, 62], [43, 0, 45]))
    assert told(score, "m1r0", "m2r3", "both") == []
    assert told(score, "m1r0", "m2r3", "right") == [((3, 4), 0)]


def test_too_little_to_know_again_comes_nowhere_again():
    score = score_of(A, B, A, B)
    assert told(score, "m1r0", "m1r2", "right") == []


def test_a_pick_up_stands_where_the_whole_measure_has_it():
    whole = score_of(([0, 0, 65, 67], []), A, B, ([0, 0, 65, 67], []), A)
    pickup = replace(whole.measures[0], length=Fraction(1))
    measures = (pickup, *(replace(one, start=one.start - 1) for one in whole.measures[1:]))
    notes = tuple(replace(one, onset=one.onset - 1) for one in whole.notes)
    score = Score(measures, notes)
    assert told(score, "m1r2", "m2r3", "right") == [((3, 4), 0)]


def test_another_spelling_comes_again_all_the_same():
    score = score_of(A, B, A)
    respelled = replace(score.by_id["m3r1"], pitch=Pitch("E", -2, 4))
    score = replace(score, notes=tuple(respelled if one.id == "m3r1" else one for one in score.notes))
    assert told(score, "m1r0", "m1r3", "right") == [((2,), 0)]


@settings(deadline=None, max_examples=250)
@given(st.lists(bars, min_size=2, max_size=8), repeats, HANDS, st.data())
def test_trying_every_row_of_measures_finds_the_same(music, signs, hands, data):
    score = score_of(*music, signs=signs)
    own = [one for one in score.notes if hands in ("both", one.side)]
    if not own:
        return
    ends = sorted((data.draw(st.sampled_from(own)), data.draw(st.sampled_from(own))), key=moment_key)
    weave = Weave(score)
    assert {(one.measures, one.semitones) for one in weave.returns(ends[0].id, ends[1].id, hands)} == brute(
        score, weave.order, *ends, hands
    )


def brute(score: Score, order: tuple[int, ...], start, end, hands: str) -> set[tuple]:
    def window(rows, low, high):
        """Place in the row, hand, length and key of each note of the measures `rows` between two places."""
        found = []
        for place, row in enumerate(rows):
            for one in score.notes:
                spot = (place, one.onset - score.measures[row].start)
                if one.measure == row and hands in ("both", one.side) and low <= spot <= high:
                    found.append((*spot, one.side, one.length, one.pitch.midi, one.id))
        return sorted(found)

    rows = tuple(range(start.measure, end.measure + 1))
    low = (0, start.onset - score.measures[start.measure].start)
    high = (len(rows) - 1, end.onset - score.measures[end.measure].start)
    mine = window(rows, low, high)
    struck = len({one[:2] for one in mine})
    possible = {tuple(range(first, first + len(rows))) for first in range(len(score.measures) - len(rows) + 1)}
    possible |= {order[first : first + len(rows)] for first in range(len(order) - len(rows) + 1)}
    every = []
    for other in possible:
        theirs = window(other, low, high)
        if len(set(other)) < len(other) or [one[:4] for one in mine] != [one[:4] for one in theirs]:
            continue
        shifts = {two[4] - one[4] for one, two in zip(mine, theirs, strict=True)}
        if len(shifts) == 1:
            every.append((bool(shifts - {0}), other, shifts.pop(), {one[5] for one in theirs}))
    used, found = {one[5] for one in mine}, set()
    for is_moved, other, shift, ids in sorted(every, key=lambda one: one[:2]):
        if not ids & used and struck >= (STROKES_TRANSPOSED if is_moved else STROKES):
            used |= ids
            found.add((other, shift))
    return found
