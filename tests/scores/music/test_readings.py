"""Two readings side by side: each kind of difference by itself, and the figure that one edition divides otherwise."""

import json
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from scores.music.notation import Grace, Note, Ornament, Tuplet
from scores.music.readings import Difference, NoReadings, compare, to_data
from tests.scores.music.make_notes import line, note, pitch, score

EIGHT = line("G5 F5 E5 D5 C5 D5 E5 F5", ["3/8"] * 8, tuplet=Tuplet(8, 6))
THREE = line("C3 E3 G3", [1, 1, 1], side="left", prefix="l")


def differences(first: tuple[Note, ...], second: tuple[Note, ...]) -> list[tuple[str, str, str]]:
    found = compare(score(*first, beats=3), score(*second, beats=3)).differences
    return [(one.kind, one.first, one.second) for one in found]


def changed(notes: tuple[Note, ...], place: int, **values: object) -> tuple[Note, ...]:
    return tuple(replace(one, **values) if at == place else one for at, one in enumerate(notes))  # type: ignore[arg-type]


def test_the_same_music_is_alike() -> None:
    assert compare(score(*EIGHT, *THREE, beats=3), score(*EIGHT, *THREE, beats=3)).alike


def test_eight_even_notes_against_another_division_differ_in_rhythm_alone() -> None:
    # Five sixteenths' worth in the first beat, then three: the same notes, divided otherwise over the three.
    other = line("G5 F5 E5 D5 C5 D5 E5 F5", ["1/4"] * 4 + ["1/2"] * 4)
    found = differences((*EIGHT, *THREE), (*other, *THREE))
    assert {kind for kind, _, _ in found} == {"rhythm"}
    # The first notes start together and differ in length; the other seven start elsewhere.
    assert [first for _, first, _ in found] == ["3/8", *(f"@{Fraction(3 * place, 8)}" for place in range(1, 8))]


@pytest.mark.parametrize(
    ("values", "difference"),
    [
        ({"pitch": pitch("F#5")}, ("pitch", "F5", "F♯5")),
        ({"pitch": pitch("E#5")}, ("spelling", "F5", "E♯5")),
        ({"ornaments": (Ornament("turn"),)}, ("ornament", "", "turn")),
        ({"printed": "3"}, ("fingering", "", "3")),
        ({"length": Fraction(1, 8)}, ("rhythm", "3/8", "1/8")),
    ],
)
def test_one_change_is_one_difference(values: dict[str, object], difference: tuple[str, str, str]) -> None:
    assert differences(EIGHT, changed(EIGHT, 1, **values)) == [difference]
    kind, first, second = difference
    assert differences(changed(EIGHT, 1, **values), EIGHT) == [(kind, second, first)]


def test_a_missing_note_is_named() -> None:
    assert differences(EIGHT, EIGHT[:3] + EIGHT[4:]) == [("note", "D5", "")]


def test_a_grace_that_one_edition_lacks_is_an_ornament() -> None:
    grace = note("g", "A5", 0, 0, grace=Grace(0))
    assert differences((grace, *EIGHT), EIGHT) == [("ornament", "A5", "")]


def test_a_grace_written_out_in_the_other_is_one_ornament() -> None:
    small = (note("g", "D5", 0, 0, grace=Grace(0)), note("a", "C5", 0, 1))
    written = line("D5 C5", ["1/2", "1/2"])
    found = differences(small, written)
    assert ("ornament", "grace", "note") in found
    assert "note" not in {kind for kind, _, _ in found}


def test_a_stroke_through_the_grace_is_an_ornament() -> None:
    one = (note("g", "D5", 0, 0, grace=Grace(0, slash=True)), note("a", "C5", 0, 1))
    other = (note("g", "D5", 0, 0, grace=Grace(0)), note("a", "C5", 0, 1))
    assert differences(one, other) == [("ornament", "slash", "")]


def test_a_note_given_to_the_other_hand_is_one_difference() -> None:
    moved = changed(THREE, 1, side="right", staff=1)
    assert differences(THREE, moved) == [("hand", "left", "right")]


def test_a_note_struck_again_instead_of_tied_is_named() -> None:
    tied = (note("a", "C5", 0, 1, tie_start=True), note("b", "C5", 1, 1, tie_stop=True))
    struck = line("C5 C5", [1, 1])
    assert ("note", "", "C5") in differences(tied, struck)


def test_metre_and_key_are_compared() -> None:
    found = compare(score(*EIGHT, beats=3), score(*EIGHT, beats=6, beat_type=8, fifths=-1)).differences
    assert [(one.kind, one.first, one.second) for one in found] == [("metre", "3/4", "6/8"), ("key", "0", "-1")]


def test_measures_pair_by_what_stands_in_them_however_they_are_numbered() -> None:
    long = score(*line("C5 D5 E5 F5", [3, 3, 3, 3]), beats=3)
    short = score(*line("E5 F5", [3, 3]), beats=3)
    assert compare(long, short, 2, 3).alike
    lacking = compare(long, short)
    assert [pair.second for pair in lacking.pairs] == [None, None, 0, 1]
    assert lacking.pairs[1].differences == (Difference("measure", "2", Fraction(0), None, "2", ""),)


def test_a_measure_that_the_second_edition_puts_in_is_named_where_it_stands() -> None:
    short = score(*line("C5 F5", [3, 3]), beats=3)
    long = score(*line("C5 D5 F5", [3, 3, 3]), beats=3)
    made = compare(short, long)
    assert [(pair.first, pair.second) for pair in made.pairs] == [(0, 0), (None, 1), (1, 2)]
    assert made.differences == (Difference("measure", "2", Fraction(0), None, "", "2"),)


@pytest.mark.parametrize(("start", "stop"), [(-1, 0), (1, 0), (0, 9)])
def test_measures_that_are_not_there_are_refused_in_words(start: int, stop: int) -> None:
    with pytest.raises(NoReadings, match="not all there"):
        compare(score(*EIGHT, beats=3), score(*EIGHT, beats=3), start, stop)


def test_an_edition_without_any_of_the_measures_is_refused() -> None:
    with pytest.raises(NoReadings, match="none of these"):
        compare(score(*line("C5 D5 E5", [3, 3, 3]), beats=3), score(*line("C5 E5", [3, 3]), beats=3), 1, 1)


def test_every_mark_is_on_a_note_that_exists_and_the_data_is_json() -> None:
    other = changed(EIGHT, 1, pitch=pitch("A5"), printed="5")
    made = compare(score(*EIGHT, beats=3), score(*other, beats=3))
    first, second = made.marks()
    assert first == second == {"n1": ("pitch",)}
    assert json.loads(json.dumps(to_data(made)))[0]["differences"][0]["first"] == "F5"


names = st.lists(st.sampled_from(["C5", "D5", "E5", "F#5", "G4"]), min_size=1, max_size=10)


@given(names, names)
@example(  # two ways to set these side by side cost the same
    ["C5", "C5", "C5", "D5", "C5", "C5", "D5", "D5"], ["C5", "C5", "E5", "C5", "E5", "D5", "D5", "C5", "C5"]
)
def test_comparing_backwards_mirrors_the_differences(one: list[str], other: list[str]) -> None:
    first = line(" ".join(one), ["1/4"] * len(one))
    second = line(" ".join(other), ["1/4"] * len(other))
    forth, back = differences(first, second), differences(second, first)
    assert len(forth) == len(back)
    assert (not forth) == (one == other)
    # Notes are neither lost nor won on the way: what is unmatched accounts for the difference in number.
    gained = sum(len(b.split()) - len(a.split()) for kind, a, b in forth if kind in {"note", "pitch"})
    assert gained == len(other) - len(one)
