"""Grids against arithmetic; spans against figures that common practice names."""

from fractions import Fraction
from math import gcd, lcm

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scores.music.crossrhythm import (
    MOST_ATTACKS,
    Crossing,
    Grid,
    NoGrid,
    audible,
    find,
    grid,
    ms_per_part,
    of_ratio,
    of_span,
)
from scores.music.notation import Grace, Tuplet
from scores.music.tempo import BadTempo
from tests.scores.music.make_notes import line, note, score

strokes = st.integers(1, MOST_ATTACKS)
TRIPLET = Tuplet(3, 2)


def left(names: str, lengths: list[object], **other: object) -> tuple:
    return line(names, lengths, side="left", prefix="l", **other)


@pytest.mark.parametrize(
    ("ratio", "gaps"),
    [
        ((3, 2), "2112"),
        ((4, 3), "312213"),
        ((5, 3), "3213123"),
        ((5, 4), "41322314"),
        ((6, 4), "21122112"),
        ((7, 4), "4314224134"),
    ],
)
def test_the_gaps_are_those_of_the_table(ratio: tuple[int, int], gaps: str) -> None:
    # By arithmetic.
    assert "".join(map(str, grid(*ratio).gaps)) == gaps


@given(strokes, strokes)
def test_a_grid_is_the_least_common_multiple(upper: int, lower: int) -> None:
    made = grid(upper, lower)
    assert made.parts == lcm(upper, lower)
    assert len(made.upper) == upper
    assert len(made.lower) == lower
    assert len(made.struck) == upper + lower - gcd(upper, lower)
    assert len(made.together) == gcd(upper, lower)
    assert made.gaps == made.gaps[::-1]
    assert sum(made.gaps) == made.parts
    assert made.ratio == (upper // gcd(upper, lower), lower // gcd(upper, lower))
    assert made.cycles == gcd(upper, lower)


@given(strokes, strokes)
def test_exchanging_the_hands_mirrors_the_grid(upper: int, lower: int) -> None:
    one, other = grid(upper, lower), grid(lower, upper)
    swapped = {"R": "L", "L": "R", "both": "both"}
    assert [swapped[struck] for struck in one.order] == list(other.order)
    assert one.sentence == other.sentence


@given(strokes, strokes)
def test_the_nearest_misses_are_nearest_of_all_pairs(upper: int, lower: int) -> None:
    made = grid(upper, lower)
    alone = [(one, other) for one in made.upper for other in made.lower if not {one, other} & set(made.together)]
    least = min((abs(one - other) for one, other in alone), default=0)
    assert [(miss.upper_at, miss.lower_at) for miss in made.nearest] == [
        (one, other) for one, other in alone if abs(one - other) == least
    ]


def test_eight_against_three() -> None:
    # Common practice and arithmetic: in 24 parts the fourth eighth is one after the second of the three.
    made = grid(8, 3)
    assert made.parts == 24
    miss = made.nearest[0]
    assert (miss.upper, miss.lower, miss.distance, miss.first) == (4, 2, 1, "left")
    first = made.skeletons[0]
    assert (first.upper, first.lower, first.upper_every) == (2, 3, 4)
    assert made.order[:4] == ("both", "R", "R", "L")


def test_three_against_two_is_half_way_and_has_no_near_miss() -> None:
    made = grid(3, 2)
    assert made.order == ("both", "R", "L", "R")
    assert made.nearest
    assert made.near == ()


@pytest.mark.parametrize(
    ("ratio", "sentence"), [((3, 2), "nice cup of tea"), ((3, 4), "pass the golden butter"), ((6, 4), ""), ((5, 3), "")]
)
def test_sentences_stand_where_they_exist(ratio: tuple[int, int], sentence: str) -> None:
    # From memory.
    assert grid(*ratio).sentence == sentence


def test_the_count_says_who_strikes() -> None:
    counts = grid(3, 2).counts
    assert [count.number for count in counts] == [1, 2, 3, 4, 5, 6]
    assert [count.number for count in counts if count.upper] == [1, 3, 5]
    assert [count.number for count in counts if count.lower] == [1, 4]


@pytest.mark.parametrize("ratio", [(1, 1), (4, 2), (1, 7), (6, 6)])
def test_hands_that_fit_plainly_are_no_cross_rhythm(ratio: tuple[int, int]) -> None:
    assert not grid(*ratio).is_cross


@pytest.mark.parametrize(("upper", "lower", "words"), [(0, 2, "at least one"), (200, 199, "up to 64"), (3, -1, "none")])
def test_an_impossible_ratio_is_refused_in_words(upper: int, lower: int, words: str) -> None:
    with pytest.raises(NoGrid, match=words):
        grid(upper, lower)


def test_a_cycle_needs_a_length() -> None:
    with pytest.raises(NoGrid):
        of_ratio(3, 2, Fraction(0))


def test_a_part_of_eight_against_three_lasts_as_arithmetic_says() -> None:
    # Three quarters at 60 are 3000 ms; 24 parts of 125 ms.
    assert ms_per_part(grid(8, 3), Fraction(3), 60) == 125
    with pytest.raises(BadTempo):
        ms_per_part(grid(8, 3), Fraction(3), 0)


@pytest.mark.parametrize(("tempo", "apart", "as_lead"), [(60, True, False), (300, True, True), (30, True, False)])
def test_a_miss_is_heard_by_the_thresholds(tempo: int, apart: bool, as_lead: bool) -> None:
    made = grid(8, 3)
    heard = audible(made.nearest[0], made, Fraction(3), tempo)
    assert heard.ms == Fraction(125 * 60, tempo)
    assert (heard.apart, heard.as_lead) == (apart, as_lead)


def test_a_very_near_miss_is_heard_as_one() -> None:
    made = grid(16, 15)
    heard = audible(made.nearest[0], made, Fraction(4), 100)
    assert heard.ms == 10
    assert not heard.apart
    # 10 ms between sixteenths of 150 ms: more than the 6 ms that are noticed (Friberg and Sundberg).
    assert heard.evenness


def test_a_triplet_against_eighths_is_three_against_two() -> None:
    notes = (*line("C5 D5 E5", ["1/3"] * 3, tuplet=TRIPLET), *left("C3 G3", ["1/2", "1/2"]))
    crossing = of_span(notes, Fraction(0), Fraction(1))
    assert crossing is not None
    assert crossing.grid == grid(3, 2)
    assert crossing.ratio == (3, 2)
    assert crossing.upper_notes == (("n0",), ("n1",), ("n2",))
    assert crossing.lower_notes == (("l0",), ("l1",))


def test_thirteen_in_the_time_of_eight_against_eighths() -> None:
    thirteen = line("C5 D5 E5 F5 G5 A5 B5 C6 B5 A5 G5 F5 E5", ["4/13"] * 13, tuplet=Tuplet(13, 8))
    crossing = of_span((*thirteen, *left("C3 " * 8, ["1/2"] * 8)), Fraction(0), Fraction(4))
    assert crossing is not None
    assert crossing.ratio == (13, 8)
    assert crossing.grid.parts == 104


def test_an_incomplete_triplet_keeps_its_ratio() -> None:
    notes = (*line("- D5 E5", ["1/3"] * 3, tuplet=TRIPLET), *left("C3 G3", ["1/2", "1/2"]))
    crossing = of_span(notes, Fraction(0), Fraction(1))
    assert crossing is not None
    assert crossing.grid == Grid(6, (2, 4), (0, 3))
    assert crossing.ratio == (3, 2)


def test_a_dotted_figure_against_a_triplet_is_four_against_three() -> None:
    notes = (*line("C5 D5", ["3/4", "1/4"]), *left("C3 E3 G3", ["1/3"] * 3, tuplet=TRIPLET))
    crossing = of_span(notes, Fraction(0), Fraction(1))
    assert crossing is not None
    assert crossing.grid == Grid(12, (0, 9), (0, 4, 8))
    assert crossing.ratio == (4, 3)


def test_a_tied_note_strikes_once() -> None:
    notes = (
        note("a", "C5", 0, "1/3", tie_start=True),
        note("b", "C5", "1/3", "1/3", tie_stop=True),
        note("c", "D5", "2/3", "1/3"),
        *left("C3 G3", ["1/2", "1/2"]),
    )
    crossing = of_span(notes, Fraction(0), Fraction(1))
    assert crossing is not None
    assert crossing.grid.upper == (0, 4)


def test_graces_and_chords_change_no_grid() -> None:
    notes = (
        note("g", "D5", "1/3", 0, grace=Grace(0)),
        *line("C5 D5 E5", ["1/3"] * 3),
        *line("A4 B4 C5", ["1/3"] * 3, prefix="m"),
        *left("C3 G3", ["1/2", "1/2"]),
    )
    crossing = of_span(notes, Fraction(0), Fraction(1))
    assert crossing is not None
    assert crossing.grid == grid(3, 2)
    assert set(crossing.upper_notes[0]) == {"n0", "m0"}


def test_one_hand_alone_has_no_crossing() -> None:
    assert of_span(line("C5 D5", [1, 1]), Fraction(0), Fraction(2)) is None
    assert of_span((), Fraction(0), Fraction(2)) is None
    assert of_span((*line("C5", [1]), *left("C3", [1])), Fraction(1), Fraction(1)) is None


def test_two_mixed_rhythms_have_a_grid_but_no_ratio() -> None:
    notes = (
        *line("C5 D5 E5 F5 G5", ["1/3", "1/3", "1/3", "1/2", "1/2"]),
        *left("C3 D3 E3 F3 G3", ["1/2", "1/2", "1/3", "1/3", "1/3"]),
    )
    crossing = of_span(notes, Fraction(0), Fraction(2))
    assert crossing is not None
    assert crossing.ratio is None
    assert crossing.grid.upper == (0, 2, 4, 6, 9)


def test_recorded_times_are_refused_in_words() -> None:
    notes = (*line("C5 D5", ["1001/1000", 1]), *left("C3 D3", ["997/999", 1]))
    with pytest.raises(NoGrid, match="quantise"):
        of_span(notes, Fraction(0), Fraction(2))


@given(
    st.lists(st.fractions(0, Fraction(31, 8), max_denominator=12), min_size=1, max_size=8, unique=True),
    st.lists(st.fractions(0, Fraction(31, 8), max_denominator=12), min_size=1, max_size=8, unique=True),
)
def test_every_span_places_every_stroke_exactly(right: list[Fraction], lefts: list[Fraction]) -> None:
    notes = [note(f"r{at}", "C5", at, "1/8") for at in right]
    notes += [note(f"l{at}", "C3", at, "1/8", side="left") for at in lefts]
    try:
        crossing = of_span(notes, Fraction(0), Fraction(4))
    except NoGrid:
        return
    assert crossing is not None
    part = Fraction(4, crossing.grid.parts)
    assert [at * part for at in crossing.grid.upper] == sorted(right)
    assert [at * part for at in crossing.grid.lower] == sorted(lefts)
    # The subdivision is the coarsest one: the positions have no common divisor with the whole.
    assert gcd(crossing.grid.parts, *crossing.grid.upper, *crossing.grid.lower) == 1


def found(*notes: object, **other: object) -> list[tuple[Fraction, Fraction, tuple[int, int] | None]]:
    return [(one.start, one.end, one.ratio) for one in find(score(*notes, **other))]  # type: ignore[arg-type]


def test_a_beat_of_three_against_two_is_found() -> None:
    right = line("C5 D5 E5 F5 G5", ["1/3", "1/3", "1/3", "1/2", "1/2"])
    assert found(*right, *left("C3 G3 C3", ["1/2", "1/2", 1])) == [(0, 1, (3, 2))]


def test_quarter_triplets_are_found_in_the_half_measure_that_holds_them() -> None:
    right = line("C5 D5 E5", ["2/3"] * 3, tuplet=TRIPLET)
    assert found(*right, *left("C3 G3 C3 G3", ["1/2"] * 4)) == [(0, 2, (3, 4))]


def test_eight_against_three_is_found_over_a_measure() -> None:
    right = line("C5 " * 8, ["3/8"] * 8, tuplet=Tuplet(8, 6))
    assert found(*right, *left("C3 G3 C4", [1, 1, 1]), beats=3) == [(0, 3, (8, 3))]


def test_a_hemiola_is_found_without_a_tuplet() -> None:
    right = line("C5 D5 E5", [1, 1, 1])
    assert found(*right, *left("C3 G3", ["3/2", "3/2"]), beats=6, beat_type=8) == [(0, 3, (3, 2))]


def test_plain_syncopation_is_not_found() -> None:
    right = line("C5 D5 E5 F5", ["1/2", 1, 1, "3/2"])
    assert found(*right, *left("C3 G3 C3 G3", [1, 1, 1, 1])) == []


def test_a_dotted_figure_against_sixteenths_is_not_found() -> None:
    assert found(*line("C5 D5", ["3/4", "1/4"]), *left("C3 D3 E3 F3", ["1/4"] * 4)) == []


def test_a_triplet_in_one_beat_and_sixteenths_in_another_never_meet() -> None:
    right = line("C5 D5 E5 F5 G5", [1, "1/3", "1/3", "1/3", 1], tuplet=None)
    assert found(*right, *left("C3 D3 E3 F3 G3", ["1/2", "1/4", "1/4", 1, 1]), beats=3) == []


def test_an_empty_score_has_nothing_to_find() -> None:
    assert find(score()) == ()


def test_a_crossing_knows_its_length() -> None:
    assert of_ratio(3, 2, Fraction(2)) == Crossing(grid(3, 2), Fraction(0), Fraction(2))
    assert of_ratio(3, 2, Fraction(2)).length == 2
