"""Two editions measure by measure. Corpus pieces are changed by known edits, and exactly these edits are found."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scores.music.aligning import Strokes, aligned_measures, same_notes
from scores.music.notation import Measure, Note, Ornament, Pitch, Score, reading_order
from scores.music.readings import compare
from scores.reading_files.reading import read
from tests.scores.corpus_music import corpus_music
from tests.scores.music.make_notes import line, score

PIECES = ("schumann_clara/polonaise_op1n1", "schumann_clara/polonaise_op1n3", "mozart/k545/movement1_exposition")
pieces = st.sampled_from(PIECES)
places = st.integers(0, 10_000)


@cache
def piece(name: str) -> Score:
    return read("piece.musicxml", corpus_music(name)).score


def joined(rows: list[tuple[Measure, list[Note]]]) -> Score:
    """A score of these measures with their notes, one after the other, numbered from 1."""
    measures, notes, start = [], [], Fraction(0)
    for index, (measure, inside) in enumerate(rows):
        moved = start - measure.start
        measures.append(replace(measure, index=index, number=str(index + 1), start=start))
        notes += [replace(note, id=f"m{index}-{note.id}", measure=index, onset=note.onset + moved) for note in inside]
        start += measure.length
    return Score(tuple(measures), tuple(sorted(notes, key=reading_order)))


def rows_of(source: Score) -> list[tuple[Measure, list[Note]]]:
    return [(one, [note for note in source.notes if note.measure == one.index]) for one in source.measures]


def pairs(first: Score, second: Score) -> list[tuple[int | None, int | None]]:
    return aligned_measures(Strokes(first), Strokes(second))


def prints(source: Score) -> list[object]:
    return Strokes(source).prints()


def with_note(source: Score, place: int, **values: object) -> tuple[Score, Note]:
    """The score with one struck note changed, and that note as it was."""
    struck = [note for note in source.notes if note.is_attack and not note.is_grace]
    chosen = struck[place % len(struck)]
    notes = [replace(note, **values) if note is chosen else note for note in source.notes]  # type: ignore[arg-type]
    return replace(source, notes=tuple(sorted(notes, key=reading_order))), chosen


@pytest.mark.parametrize("name", PIECES)
def test_an_edition_beside_itself_is_in_step_and_every_note_is_the_same(name: str) -> None:
    same = joined(rows_of(piece(name)))
    assert pairs(piece(name), same) == [(index, index) for index in range(len(same.measures))]
    assert compare(piece(name), same).alike
    found = same_notes(piece(name), same)
    assert found == {note.id: f"m{note.measure}-{note.id}" for note in piece(name).notes}


@settings(deadline=None, max_examples=15)
@given(pieces, places)
def test_a_measure_left_out_is_found_though_all_numbers_after_it_change(name: str, place: int) -> None:
    rows = rows_of(piece(name))
    gone = place % len(rows)
    found = pairs(piece(name), joined(rows[:gone] + rows[gone + 1 :]))
    alone = [mine for mine, theirs in found if theirs is None]
    # Where the next measure strikes the same, either may be the one that was left out.
    assert [prints(piece(name))[mine] for mine in alone if mine is not None] == [prints(piece(name))[gone]]
    assert all(mine is not None for mine, _ in found)


@settings(deadline=None, max_examples=15)
@given(pieces, places, places)
def test_a_measure_put_in_is_found(name: str, place: int, other: int) -> None:
    rows = rows_of(piece(name))
    at, (measure, inside) = place % (len(rows) + 1), rows[other % len(rows)]
    low = [replace(note, pitch=Pitch("D", 0, 1)) for note in inside if note.is_attack and not note.is_grace]
    found = pairs(piece(name), joined([*rows[:at], (measure, low), *rows[at:]]))
    expected = [(index, index + (index >= at)) for index in range(len(rows))]
    assert [pair for pair in found if None not in pair] == expected
    assert [theirs for mine, theirs in found if mine is None] == [at]


@settings(deadline=None, max_examples=15)
@given(pieces, st.integers(2, 8), places)
def test_a_repeat_that_is_written_out_is_found_as_measures_put_in(name: str, length: int, place: int) -> None:
    rows = rows_of(piece(name))
    start = place % (len(rows) - length)
    again = rows[: start + length] + rows[start:]
    found = pairs(piece(name), joined(again))
    assert Counter(mine is None for mine, _ in found) == {False: len(rows), True: length}
    ours, theirs = prints(piece(name)), prints(joined(again))
    assert all(ours[a] == theirs[b] for a, b in found if a is not None and b is not None)


@settings(deadline=None, max_examples=15)
@given(pieces, places)
def test_one_other_pitch_is_one_difference(name: str, place: int) -> None:
    struck = [note for note in piece(name).notes if note.is_attack and not note.is_grace]
    chosen = struck[place % len(struck)]
    moved = Pitch(chosen.pitch.step, chosen.pitch.alter, 9)  # higher than anything written: no other note is there
    other, _ = with_note(piece(name), place, pitch=moved)
    found = compare(piece(name), other).differences
    assert [(one.kind, one.first_ids, one.second_ids) for one in found if one.kind != "rhythm"] == [
        ("pitch", (chosen.id,), (chosen.id,))
    ]
    assert same_notes(piece(name), other).keys() == {note.id for note in piece(name).notes} - {chosen.id}


@settings(deadline=None, max_examples=15)
@given(pieces, places)
def test_one_other_finger_and_one_other_sign_are_one_difference_each(name: str, place: int) -> None:
    other, chosen = with_note(piece(name), place, printed="9", ornaments=(Ornament("shake"),))
    found = compare(piece(name), other).differences
    assert [(one.kind, one.first_ids, one.second) for one in found] == [
        ("ornament", (chosen.id,), "shake"),
        ("fingering", (chosen.id,), "9"),
    ]


@settings(deadline=None, max_examples=15)
@given(pieces, places)
def test_a_note_left_out_is_one_difference(name: str, place: int) -> None:
    struck = [note for note in piece(name).notes if note.is_attack and not note.is_grace and not note.tie_start]
    chosen = struck[place % len(struck)]
    other = replace(piece(name), notes=tuple(note for note in piece(name).notes if note is not chosen))
    found = compare(piece(name), other).differences
    assert [one.first_ids for one in found] == [(chosen.id,)]
    assert found[0].kind in ("note", "pitch")
    assert found[0].second == ""


@settings(deadline=None, max_examples=15)
@given(pieces, places, places)
def test_comparing_backwards_leaves_the_same_measures_alone(name: str, gone: int, place: int) -> None:
    rows = rows_of(piece(name))
    gone %= len(rows)
    other, _ = with_note(joined(rows[:gone] + rows[gone + 1 :]), place, pitch=Pitch("C", 0, 9))
    forth, back = pairs(piece(name), other), pairs(other, piece(name))
    assert sum(theirs is None for _, theirs in forth) == sum(mine is None for mine, _ in back) == 1


def test_a_pick_up_written_with_its_rests_is_the_same_measure() -> None:
    upbeat = score(*line("G4 C5", [1, 3]), beats=3)
    bar = upbeat.measures[0]
    measures = (
        replace(bar, number="0", length=Fraction(1)),
        Measure(1, "1", Fraction(1), Fraction(3), 3, 4),
    )
    notes = (upbeat.notes[0], replace(upbeat.notes[1], measure=1))
    short = replace(upbeat, measures=measures, notes=notes)
    full = score(*line("- - G4 C5", [1, 1, 1, 3]), beats=3)
    assert pairs(short, full) == [(0, 0), (1, 1)]
    assert compare(short, full).alike


def test_music_that_repeats_one_measure_for_ever_is_set_side_by_side() -> None:
    long = score(*line("C5 " * 300, [4] * 300))
    other, chosen = with_note(long, 150, pitch=Pitch("C", 0, 9))
    assert [one.first_ids for one in compare(long, other).differences] == [(chosen.id,)]


def test_another_piece_shares_next_to_nothing() -> None:
    one, other = piece(PIECES[0]), piece(PIECES[2])
    assert len(same_notes(one, other)) < len(one.notes) / 4


def test_no_measures_beside_some() -> None:
    some = score(*line("C5 D5", [4, 4]))
    none = Score((), ())
    assert pairs(some, none) == [(0, None), (1, None)]
    assert pairs(none, some) == [(None, 0), (None, 1)]
    assert same_notes(some, none) == {}
