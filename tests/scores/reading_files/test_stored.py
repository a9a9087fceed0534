"""A score as text and back: nothing lost, whatever it holds."""

import json
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scores.music.notation import Change, Grace, Measure, Note, Ornament, Pitch, Rest, Score, Tempo, Tuplet, Words
from scores.reading_files.reading import read
from scores.reading_files.stored import from_json, to_json
from tests.scores.reading_files.samples import corpus_file

fractions = st.fractions(min_value=0, max_value=2000, max_denominator=10_000)
words = st.text(max_size=12)
sides = st.sampled_from(("right", "left"))
small = st.integers(0, 40)
pitches = st.builds(Pitch, st.sampled_from("CDEFGAB"), st.integers(-3, 3), st.integers(-1, 10))
graces = st.builds(Grace, small, st.booleans(), *[st.none() | fractions] * 3)
ornaments = st.builds(Ornament, words, st.lists(st.tuples(words, words), max_size=3).map(tuple))
notes = st.builds(
    Note,
    id=words,
    pitch=pitches,
    onset=fractions,
    length=fractions,
    measure=small,
    side=sides,
    staff=small,
    voice=words,
    type=words,
    dots=small,
    tuplet=st.none() | st.builds(Tuplet, small, small),
    tie_start=st.booleans(),
    tie_stop=st.booleans(),
    grace=st.none() | graces,
    printed=words,
    ornaments=st.lists(ornaments, max_size=2).map(tuple),
)
measures = st.builds(
    Measure, small, words, fractions, fractions, small, small, st.integers(-7, 7), st.booleans(), st.booleans(), words
)
scores = st.builds(
    Score,
    measures=st.lists(measures, max_size=4).map(tuple),
    notes=st.lists(notes, max_size=6).map(tuple),
    rests=st.lists(st.builds(Rest, fractions, fractions, small, sides, words), max_size=3).map(tuple),
    tempos=st.lists(st.builds(Tempo, fractions, fractions), max_size=3).map(tuple),
    title=words,
    composer=words,
)


@settings(deadline=None, max_examples=150)
@given(scores)
def test_every_score_comes_back_equal(score: Score):
    assert from_json(to_json(score)) == score


def test_fractions_come_back_exactly():
    score = Score((), (), tempos=(Tempo(Fraction(1, 3), Fraction(459999, 5000)),))
    back = from_json(to_json(score))
    assert back.tempos[0] == Tempo(Fraction(1, 3), Fraction(459999, 5000))
    assert isinstance(back.tempos[0].onset, Fraction)


def test_a_piece_of_several_pages_is_kept_small():
    data = corpus_file("joplin/maple_leaf_rag.mxl")
    edition = read("rag.mxl", data)
    text = to_json(edition.score)
    assert from_json(text) == edition.score
    assert len(edition.score.notes) > 1500
    assert len(text) < len(edition.music) / 5


@pytest.mark.parametrize("text", ["{}", "[]", "null", '{"v": 1}', '{"v": 1, "times": 3}'])
def test_text_that_is_no_stored_score_raises_value_error(text: str):
    with pytest.raises(ValueError, match="no stored score"):
        from_json(text)


def test_a_later_version_is_not_misread():
    whole = json.loads(to_json(Score((), ())))
    whole["v"] += 1
    with pytest.raises(ValueError, match="version"):
        from_json(json.dumps(whole))


def test_words_and_changes_come_back_and_a_score_from_before_there_were_any_still_loads():
    told = Score((), (), words=(Words(Fraction(3, 2), "rit."),), changes=(Change(Fraction(2), "key", "0", "-3"),))
    assert from_json(to_json(told)) == told
    whole = json.loads(to_json(told))
    del whole["words"], whole["changes"]
    assert from_json(json.dumps(whole)) == Score((), ())


def test_signs_that_send_the_player_elsewhere_come_back_and_older_rows_have_none():
    plain = Measure(0, "1", Fraction(0), Fraction(4), 4, 4)
    signed = Measure(1, "2", Fraction(4), Fraction(4), 4, 4, repeat_end=True, times=3, marks=("da capo", "fine"))
    text = to_json(Score((plain, signed), ()))
    assert from_json(text).measures == (plain, signed)
    row = json.loads(text)["measures"][0]
    assert len(row) == 9  # as rows were before there were such signs
