"""Cross-rhythms, tuplets and speed."""

from fractions import Fraction

import pytest

from scores.music.crossrhythm import find
from scores.music.notation import Score, Tempo, Tuplet
from scores.music.survey import Options, survey
from scores.music.survey.rhythms import crossed_measures
from scores.music.survey.timeline import Timeline
from tests.scores.music import make_notes as make


def against(upper: int, lower: int, spans: int = 1, length: int = 4, **other) -> Score:
    """Both hands even over each measure of 4/4."""
    notes = []
    for span in range(spans):
        for side, count, name in (("right", upper, "C5"), ("left", lower, "C3")):
            part = Fraction(length, count)
            notes += [
                make.note(f"{side}{span}.{place}", name, length * span + part * place, part, side=side, **other)
                for place in range(count)
            ]
    return make.score(*notes)


def kinds(score: Score, *wanted: str, **options) -> list:
    return [one for one in survey(score, Options(**options)) if one.kind in wanted]


@pytest.mark.parametrize(("upper", "lower"), [(3, 2), (2, 3), (4, 3), (5, 4), (7, 4), (3, 8)])
def test_a_cross_rhythm_says_its_ratio_right_hand_first(upper: int, lower: int):
    [one] = kinds(against(upper, lower), "cross-rhythm")
    assert (one.detail, one.hand, len(one.notes)) == (f"{upper}:{lower}", "both", upper + lower)


def test_a_cross_rhythm_that_runs_on_is_one_finding_with_its_span():
    [one] = kinds(against(3, 2, spans=8), "cross-rhythm")
    assert (one.number, one.last_number, one.params["count"]) == ("1", "8", 8)


def test_another_ratio_or_a_measure_between_ends_it():
    notes = [*against(3, 2).notes]
    other = against(4, 3, spans=3).notes
    score = make.score(*notes, *(note for note in other if note.measure == 1 and note.id.startswith(("r", "l"))))
    assert [one.detail for one in kinds(score, "cross-rhythm")] == ["3:2", "4:3"]
    apart = against(3, 2, spans=3)
    without = make.score(*(note for note in apart.notes if note.measure != 1))
    assert [one.number for one in kinds(without, "cross-rhythm")] == ["1", "3"]


@pytest.mark.parametrize(("upper", "lower"), [(1, 4), (2, 4), (3, 6), (3, 3), (8, 2)])
def test_hands_that_fit_are_no_cross_rhythm(upper: int, lower: int):
    assert kinds(against(upper, lower), "cross-rhythm") == []


@pytest.mark.parametrize("beats", [(3, 4), (6, 8), (4, 4), (2, 4)])
def test_the_quick_look_passes_over_no_measure_in_which_the_search_finds_something(beats: tuple[int, int]):
    """Every rhythm of two hands on thirds and quarters of a beat in one measure, against the search on its own."""
    count, unit = beats
    length = Fraction(4 * count, unit)
    for upper in (2, 3, 4, 5, 6, 9):
        for lower in (1, 2, 3, 4, 7):
            notes = [
                make.note(f"{side}{place}", name, length / number * place, length / number, side=side)
                for side, number, name in (("right", upper, "C5"), ("left", lower, "C3"))
                for place in range(number)
            ]
            score = make.score(*notes, beats=count, beat_type=unit)
            found = {crossing.measure for crossing in find(score)}
            assert found <= set(crossed_measures(Timeline(score, Options())))


def test_an_unusual_tuplet_is_listed_once_while_it_runs_on():
    fives = make.line("C5 D5 E5 F5 G5 A5 G5 F5 E5 D5", [Fraction(1, 5)] * 10, tuplet=Tuplet(5, 4))
    [one] = kinds(make.score(*fives), "tuplet")
    assert (one.detail, len(one.notes), str(one)) == ("5:4", 10, "5 in the time of 4.")


def test_triplets_are_everybodys_and_a_tuplet_inside_a_cross_rhythm_is_said_there():
    threes = make.line("C5 D5 E5", [Fraction(1, 3)] * 3, tuplet=Tuplet(3, 2))
    assert kinds(make.score(*threes), "tuplet") == []
    crossing = against(5, 4, tuplet=Tuplet(5, 4))
    assert [one.kind for one in kinds(crossing, "tuplet", "cross-rhythm")] == ["cross-rhythm"]
    off = Options().kinds - {"cross-rhythm"}
    assert {one.hand for one in kinds(crossing, "tuplet", kinds=off)} == {"right", "left"}


def test_a_fast_passage_depends_on_the_tempo_and_on_what_counts_as_fast():
    score = make.score(*make.line("C4 D4 E4 F4 G4 A4 B4 C5", [Fraction(1, 4)] * 8))
    assert kinds(score, "fast", tempo=100) == []
    [one] = kinds(score, "fast", tempo=160)
    assert (one.params["count"], one.params["rate"], one.params["tempo"]) == (8, "10.7", "160")
    assert len(kinds(score, "fast", tempo=100, notes_per_second=6)) == 1


def test_the_tempo_marks_of_the_edition_count_where_they_stand():
    runs = make.line("C4 D4 E4 F4 G4 A4 B4 C5", [Fraction(1, 4)] * 8)
    later = make.line("C4 D4 E4 F4 G4 A4 B4 C5", [Fraction(1, 4)] * 8, start=4, prefix="m")
    score = make.score(*runs, *later, tempos=(Tempo(Fraction(0), Fraction(60)), Tempo(Fraction(4), Fraction(160))))
    [one] = kinds(score, "fast")
    assert one.number == "2"


def test_a_key_struck_again_and_again_is_one_finding_and_not_a_fast_passage_too():
    score = make.score(*make.line("G4 G4 G4 G4 G4 G4 G4 G4", [Fraction(1, 4)] * 8))
    [one] = kinds(score, "repeat", "fast", tempo=160)
    assert (one.kind, one.params["count"]) == ("repeat", 8)
    off = kinds(score, "repeat", "fast", tempo=160, kinds=Options().kinds - {"repeat"})
    assert [one.kind for one in off] == ["fast"]
    assert kinds(score, "repeat", tempo=60) == []


def test_two_keys_that_overlap_while_they_are_struck_again_are_two_findings():
    quick = [Fraction(1, 4)] * 5
    score = make.score(*make.line("C4 C4 C4 - -", quick), *make.line("- - E4 E4 E4", quick, prefix="e"))
    assert [one.notes for one in kinds(score, "repeat", tempo=160)] == [("n0", "n1", "n2"), ("e2", "e3", "e4")]


def test_a_chord_struck_again_and_again_is_one_finding():
    quick = [Fraction(1, 4)] * 4
    score = make.score(*make.line("C4 C4 C4 C4", quick), *make.line("E4 E4 E4 E4", quick, prefix="e"))
    assert [one.notes for one in kinds(score, "repeat", tempo=160)] == [("n0", "n1", "n2", "n3")]


def test_a_speed_that_makes_no_sense_is_refused():
    with pytest.raises(ValueError, match="between 20 and 300"):
        Options(tempo=0)
    for rate in (0, -1, 41, float("nan")):
        with pytest.raises(ValueError, match="notes a second"):
            Options(notes_per_second=rate)
