"""Changes of tempo, metre and key."""

from dataclasses import replace
from fractions import Fraction

import pytest

from scores.music.notation import Change, Score, Tempo, Words
from scores.music.survey import Finding, survey
from scores.music.survey.terms import is_about_tempo
from tests.scores.music import make_notes as make

EIGHT = make.line("C4 D4 E4 F4 G4 A4 B4 C5", [1] * 8)


def of(score: Score, kind: str) -> list[Finding]:
    return [one for one in survey(score) if one.kind == kind]


def test_a_mark_and_words_at_one_moment_are_one_finding():
    score = make.score(
        *EIGHT,
        tempos=(Tempo(Fraction(0), Fraction(80)), Tempo(Fraction(4), Fraction(120))),
        words=(Words(Fraction(0), "Andante"), Words(Fraction(2), "rit."), Words(Fraction(4), "Più mosso")),
    )
    found = of(score, "tempo")
    assert [(one.number, one.beat, str(one)) for one in found] == [
        ("1", 3, "“rit.”"),
        ("2", 1, "“Più mosso”, ♩ = 120 from here."),
    ]
    assert found[0].notes == ("n2",)


def test_what_the_piece_begins_with_is_no_change_nor_is_the_same_mark_again():
    score = make.score(*EIGHT, tempos=(Tempo(Fraction(0), Fraction(80)), Tempo(Fraction(4), Fraction(80))))
    assert of(score, "tempo") == []


@pytest.mark.parametrize("words", ["poco rit.", "Tempo I", "a tempo", "rall. molto", "Allegretto", "cédez", "Langsam"])
def test_words_of_tempo_are_known(words: str):
    assert is_about_tempo(words)


@pytest.mark.parametrize("words", ["dolce", "cresc.", "Fine", "con sordino", "ritmico", "sempre staccato"])
def test_other_words_are_left_out(words: str):
    assert not is_about_tempo(words)


def test_metre_and_key_change_at_a_measure():
    score = make.score(*EIGHT)
    first, second = score.measures
    changed = replace(score, measures=(first, replace(second, beats=6, beat_type=8, fifths=-3)))
    assert str(of(changed, "metre")[0]) == "The metre changes from 4/4 to 6/8."
    assert str(of(changed, "key")[0]) == "The key signature changes from ♮ to 3♭."
    assert of(changed, "key")[0].notes == ("n4",)
    assert of(score, "metre") == of(score, "key") == []


def test_a_change_inside_a_measure_is_listed_once():
    score = make.score(*EIGHT, changes=(Change(Fraction(2), "key", "0", "2"),))
    second = replace(score.measures[1], fifths=2)
    [one] = of(replace(score, measures=(score.measures[0], second)), "key")
    assert (one.number, one.beat, one.notes) == ("1", 3, ("n2",))
