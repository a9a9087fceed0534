"""Properties of every survey, on music that nobody wrote."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from scores.music.notation import Grace, Note, Ornament, Pitch, Rest, Score, Tempo, Tuplet, Words, reading_order
from scores.music.survey import KINDS, Options, survey
from scores.music.survey.stored import from_data, to_data
from tests.scores.music import make_notes as make

LENGTHS = [Fraction(1, 4), Fraction(1, 3), Fraction(1, 2), Fraction(2, 3), Fraction(1), Fraction(3, 2), Fraction(5, 7)]
SIGNS = ["trill-mark", "turn", "wavy-line", "tremolo", "arpeggiate", "non-arpeggiate", "strange"]


@st.composite
def notes(draw: st.DrawFn) -> Note:
    onset = draw(st.sampled_from([Fraction(place, parts) for parts in (1, 2, 3, 5) for place in range(8 * parts)]))
    is_grace = draw(st.integers(0, 5)) == 0
    signs = draw(st.lists(st.sampled_from(SIGNS), max_size=2))
    return Note(
        id="",
        pitch=Pitch(draw(st.sampled_from("CDEFGAB")), draw(st.sampled_from((-1, 0, 1))), draw(st.integers(0, 8))),
        onset=onset,
        length=Fraction(0) if is_grace else draw(st.sampled_from(LENGTHS)),
        measure=0,
        side=draw(st.sampled_from(("right", "left"))),
        staff=1,
        voice=draw(st.sampled_from(("1", "2"))),
        type=draw(st.sampled_from(("", "quarter", "eighth"))),
        tuplet=draw(st.sampled_from((None, Tuplet(3, 2), Tuplet(5, 4)))),
        tie_start=draw(st.booleans()) and not is_grace,
        tie_stop=draw(st.booleans()) and not is_grace,
        grace=Grace(draw(st.integers(0, 2))) if is_grace else None,
        printed=draw(st.sampled_from(("", "", "3", "4-5"))),
        ornaments=tuple(Ornament(kind) for kind in signs),
    )


@st.composite
def scores(draw: st.DrawFn) -> Score:
    drawn = draw(st.lists(notes(), max_size=25))
    score = make.score(*drawn, beats=draw(st.sampled_from((3, 4, 6))), beat_type=draw(st.sampled_from((4, 8))))
    # Ids in reading order, as a file would have them.
    named = tuple(replace(note, id=f"n{place}") for place, note in enumerate(sorted(score.notes, key=reading_order)))
    measures = [replace(measure, fifths=draw(st.sampled_from((0, 2)))) for measure in score.measures]
    measures[-1] = replace(measures[-1], length=measures[-1].length / draw(st.sampled_from((1, 2))))
    rests = (Rest(Fraction(0), Fraction(1), 0, "left", "3"),) if draw(st.booleans()) else ()
    words = (Words(Fraction(1), "rit."),) if draw(st.booleans()) else ()
    tempos = tuple(
        Tempo(Fraction(at), Fraction(tempo)) for at, tempo in draw(st.lists(TEMPOS, max_size=2, unique=True))
    )
    return Score(tuple(measures), named, rests, tuple(sorted(tempos, key=lambda mark: mark.onset)), words=words)


TEMPOS = st.tuples(st.integers(0, 7), st.integers(20, 300))


@settings(max_examples=150, deadline=None)
@given(scores())
def test_nothing_is_listed_twice_ids_exist_and_the_order_is_that_of_the_score(score: Score):
    found = survey(score)
    assert len({one.key for one in found}) == len(found)
    assert [one.onset for one in found] == sorted(one.onset for one in found)
    for one in found:
        assert set(one.notes) <= score.by_id.keys()
        assert len(set(one.notes)) == len(one.notes)
        assert 0 <= one.measure <= one.last_measure < len(score.measures)
        assert one.number == score.measures[one.measure].number
        assert "%(" not in str(one)


@settings(max_examples=60, deadline=None)
@given(scores(), st.sets(st.sampled_from(KINDS)))
def test_kinds_that_are_switched_off_are_not_there(score: Score, on: set[str]):
    assert {one.kind for one in survey(score, Options(kinds=frozenset(on)))} <= on


@settings(max_examples=60, deadline=None)
@given(scores())
def test_every_sign_grace_and_finger_is_in_a_finding(score: Score):
    found = survey(score)
    told = {name for one in found for name in one.notes if one.kind in ("grace", "printed", "substitution")}
    assert {note.id for note in score.notes if note.is_grace or note.printed} <= told
    signed = {(name, one.detail) for one in found for name in one.notes if one.kind == "ornament"}
    for note in score.notes:
        kinds = {sign.kind for sign in note.ornaments}
        for kind in kinds - {"tremolo", "arpeggiate", "non-arpeggiate", "wavy-line"}:
            assert (note.id, kind) in signed


@settings(max_examples=60, deadline=None)
@given(scores())
def test_findings_come_back_from_their_stored_form(score: Score):
    found = survey(score)
    assert from_data(to_data(found)) == found


def test_at_one_moment_the_right_hand_comes_first_then_the_left_then_both():
    graced = [
        make.note(f"{side}", name, 4, 1, side=side, ornaments=(Ornament("turn"),))
        for side, name in (("left", "C3"), ("right", "C5"))
    ]
    score = make.score(make.note("a", "C5", 0, 1), make.note("b", "C3", 0, 1, side="left"), *graced)
    changed = replace(score, measures=(score.measures[0], replace(score.measures[1], fifths=1)))
    assert [one.hand for one in survey(changed) if one.number == "2" and not one.is_fault] == ["right", "left", "both"]
