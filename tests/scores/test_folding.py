"""Words as they are looked for."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scores.folding import LONGEST, MOST_WORDS, asked_words, folded, words_of


@pytest.mark.parametrize(
    ("written", "typed"),
    [
        ("Étude", "etude"),
        ("DVOŘÁK", "dvorak"),
        ("Grünfeld, Straße", "grunfeld strasse"),
        ("Nørgård", "norgard"),
        ("Łada", "lada"),
        ("Ёлка", "елка"),
        ("Ωδή", "ωδη"),
        ("Grieg's", "griegs"),
        ("ﬁn", "fin"),
        ("１２", "12"),
        ("İzmir", "izmir"),
    ],
)
def test_accents_capitals_and_letter_forms_make_no_difference(written, typed):
    assert words_of(written) == words_of(typed)


def test_a_catalogue_number_is_found_however_it_is_set():
    assert set(asked_words("op28 no7")) <= set(words_of("op. 28, no. 7"))


def test_words_of_a_script_without_spaces_are_found_inside_a_run():
    assert set(asked_words("奏鳴曲")) <= set(words_of("月光奏鳴曲"))
    assert not set(asked_words("曲月")) <= set(words_of("月光奏鳴曲"))


def test_one_sign_alone_begins_a_pair():
    assert any(word.startswith(asked_words("光")[0]) for word in words_of("月光"))


def test_vowel_signs_stay_in_their_word():
    assert len(words_of("दुनिया")) == 1


def test_a_long_question_is_cut():
    assert len(asked_words(" ".join(f"a{'b' * number}" for number in range(40)))) == MOST_WORDS


@given(st.text())
def test_folding_again_changes_nothing(text):
    assert folded(folded(text)) == folded(text)


@given(st.text())
def test_words_hold_nothing_that_an_index_could_stumble_over(text):
    for word in words_of(text) + asked_words(text):
        assert word
        assert len(word) <= LONGEST
        assert not any(sign.isspace() or sign in "\"'\\:*&|!()" for sign in word)


@given(st.text(max_size=80))
def test_what_is_typed_whole_is_among_what_was_written(text):
    written = words_of(text)
    assert all(any(word.startswith(asked) for word in written) for asked in asked_words(text))
