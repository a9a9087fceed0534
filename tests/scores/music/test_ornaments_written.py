"""Ornaments as note values: they last as long as what sounds, and read as the treatises write them."""

from fractions import Fraction
from itertools import pairwise

import pytest

from scores.music.notation import Grace, Measure, Placement, Tuplet
from scores.music.ornaments import Choice, realise
from scores.music.ornaments.notated import AROUND, beat_length
from scores.music.ornaments.written import Strip, strips_of
from scores.reading_files.reading import read
from tests.scores.corpus_music import PIECES, corpus_music
from tests.scores.music.make_notes import line, note, score, signed

PLACEMENTS: tuple[Placement, Placement] = ("before", "on")


def written(strip: Strip, layer: int = 0) -> str:
    """ "C5 16th. D5 32nd (B4 quarter" with dots, "~" for a tie that goes on and "3:2" where a tuplet begins"""
    said = []
    for one in strip.layers[layer]:
        names = "+".join(f"{key.pitch.name}{key.pitch.octave}" for key in one.keys) or "rest"
        tuplet = (
            f" {one.value.tuplet.actual}:{one.value.tuplet.normal}" if one.opens_tuplet and one.value.tuplet else ""
        )
        tie = "~" if any(key.goes_on for key in one.keys) else ""
        said.append(f"{names} {one.value.type}{'.' * one.value.dots}{tuplet}{tie}")
    return ", ".join(said)


def strip(*notes, placement: Placement = "on", choice: Choice | None = None, first: int = 0, **made) -> Strip:
    whole = score(*notes, **made)
    performance = realise(whole, {"a": choice or Choice()}, placement=placement, tempo=100)
    [found] = strips_of(whole, performance, ["a"], first, len(whole.measures) - 1)
    return found


# Grove's Dictionary of Music and Musicians, 1879-89: values as printed there.
@pytest.mark.parametrize(
    ("kind", "values"),
    [
        ("mordent", "C5 32nd, B4 32nd, C5 eighth."),
        ("inverted-mordent", "C5 32nd, D5 32nd, C5 eighth."),
        ("turn", "D5 16th, C5 16th, B4 16th, C5 16th"),
    ],
)
def test_groves_signs_on_a_quarter_are_written_in_groves_values(kind: str, values: str):
    assert written(strip(signed("a", "C5", 0, 1, kind))) == values


def test_groves_shake_is_written_in_sixteenths_and_in_triplets_of_thirty_seconds():
    long = strip(signed("a", "C5", 0, 2, "trill-mark"), choice=Choice(count=8, start="main"))
    assert written(long) == ", ".join(["C5 16th, D5 16th"] * 4)
    quick = strip(signed("a", "C5", 0, "1/4", "trill-mark"), choice=Choice(count=3, start="main"))
    assert written(quick) == "C5 32nd 3:2, D5 32nd, C5 32nd"
    assert quick.layers[0][-1].closes_tuplet


# Gehrkens, Music Notation and Terminology, section 74.
def test_gehrkens_appoggiatura_is_written_as_it_sounds():
    whole = score(note("g", "D5", 0, 0, grace=Grace(0)), note("m", "C5", 0, "3/2", dots=1))
    [found] = strips_of(whole, realise(whole, tempo=100), ["g"], 0, 0)
    assert written(found) == "D5 quarter, C5 eighth"


# Common practice, from here on.
def test_before_the_beat_the_note_that_lends_its_time_is_shown_shorter():
    found = strip(note("p", "G4", 0, 1), signed("a", "C5", 1, 1, "mordent"), placement="before")
    assert written(found) == "G4 eighth., C5 32nd, B4 32nd, C5 quarter"
    assert [key.order for one in found.layers[0] for key in one.keys] == [AROUND, 0, 1, 2]


def test_a_length_of_no_single_value_is_parted_at_a_beat():
    notes = (note("p", "G4", 0, 2), signed("a", "C5", 2, 1, "inverted-mordent"))
    assert written(strip(*notes, placement="before")) == "G4 quarter~, G4 eighth., C5 32nd, D5 32nd, C5 quarter"


def test_it_is_parted_where_both_parts_are_plain():
    assert written(strip(signed("a", "C5", 0, 2, "turn"))) == "D5 16th, C5 16th, B4 16th, C5 16th~, C5 quarter"


def test_what_reaches_over_a_bar_line_is_tied_there():
    found = strip(
        signed("a", "C5", 3, 1, "trill-mark", {"tie_start": True}),
        note("b", "C5", 4, 1, tie_stop=True),
        choice=Choice(count=2, start="upper"),
    )
    assert written(found) == "D5 quarter, C5 quarter"
    longer = strip(
        signed("a", "C5", 2, 2, "mordent", {"tie_start": True}),
        note("b", "C5", 4, 2, tie_stop=True),
    )
    assert written(longer).startswith("C5 32nd, B4 32nd, C5")


def test_the_other_notes_of_a_chord_are_held_under_the_ornament():
    found = strip(note("c", "C4", 0, 1), note("e", "E4", 0, 1), signed("a", "G4", 0, 1, "mordent"))
    assert written(found) == "G4 32nd, F4 32nd, G4 eighth."
    assert written(found, 1) == "C4+E4 quarter"


def test_an_arpeggio_is_written_with_ties():
    chord = [signed(name, name, 0, 2, "arpeggiate") for name in ("C4", "E4", "G4")]
    whole = score(*chord)
    [found] = strips_of(whole, realise(whole, tempo=100), ["C4"], 0, 0)
    assert [len(one.keys) for one in found.layers[0]][:3] == [1, 2, 3]
    assert all(key.goes_on for key in found.layers[0][0].keys)


def test_a_note_in_a_triplet_lends_its_time_within_the_triplet():
    third = Fraction(1, 3)
    notes = (
        note("n", "E4", 0, third),
        note("p", "G4", third, third),
        signed("a", "C5", 2 * third, third, "schleifer"),
    )
    found = strip(*notes, placement="before")
    assert {one.value.tuplet for one in found.layers[0]} == {Tuplet(3, 2)}
    assert sum(one.value.length for one in found.layers[0]) == 2 * third


def test_moments_that_no_value_fits_move_to_the_nearest_and_it_says_so():
    # Twenty-nine notes in a quarter: no reader counts a tuplet of 29.
    found = strip(signed("a", "C5", 0, 4, "trill-mark"), choice=Choice(count=29, start="main"))
    assert not found.is_exact
    assert len([one for one in found.layers[0] if not one.keys[0].from_before]) == 29
    assert sum(one.value.length for one in found.layers[0]) == 4
    assert strip(signed("a", "C5", 0, 4, "trill-mark"), choice=Choice(count=32, start="main")).is_exact


def test_what_sounds_before_the_first_measure_that_is_shown_comes_early():
    notes = (note("p", "G4", 3, 1), signed("a", "C5", 4, 1, "mordent"))
    found = strip(*notes, placement="before", first=1)
    assert [[key.pitch.name for key in keys] for keys in found.early] == [["C"], ["B"]]
    assert written(found) == "C5 quarter"


def test_two_ornaments_side_by_side_do_not_overlap():
    whole = score(note("p", "G4", 0, 1), *(signed(f"s{at}", "C5", at, 1, "turn") for at in (1, 2, 3)))
    performance = realise(whole, placement="before", tempo=100)
    found = strips_of(whole, performance, ["s1", "s2", "s3"], 0, 0)
    assert [one.ornaments for one in found] == [("s1",), ("s2",), ("s3",)]
    assert all(one.end <= other.start for one, other in pairwise(found))


def test_a_double_trill_shares_a_strip_in_two_layers():
    whole = score(signed("a", "C5", 0, 1, "trill-mark"), signed("b", "E5", 0, 1, "trill-mark"))
    [found] = strips_of(whole, realise(whole, tempo=100), ["a", "b"], 0, 0)
    assert found.ornaments == ("a", "b")
    assert len(found.layers) == 2


def test_an_unadorned_score_has_no_strips():
    whole = score(*line("C5 D5", [1, 1]))
    assert strips_of(whole, realise(whole, tempo=100), ["n1", "nowhere"], 0, 0) == ()


@pytest.mark.parametrize(
    ("beats", "unit", "beat"), [(4, 4, 1), (2, 2, 2), (6, 8, "3/2"), (3, 8, "1/2"), (9, 16, "3/4")]
)
def test_three_units_are_a_beat_in_compound_time(beats: int, unit: int, beat: object):
    assert beat_length(Measure(0, "1", Fraction(0), Fraction(1), beats, unit)) == Fraction(str(beat))


@pytest.mark.parametrize("placement", PLACEMENTS)
@pytest.mark.parametrize("name", PIECES[:5])
def test_every_ornament_of_corpus_pieces_is_written_as_long_as_it_sounds(name: str, placement: Placement):
    whole = read("piece.musicxml", corpus_music(name)).score
    performance = realise(whole, placement=placement)
    keys = [one.key for one in performance.ornaments]
    found = strips_of(whole, performance, keys, 0, len(whole.measures) - 1)
    assert {key for one in found for key in one.ornaments} == set(keys)
    for one in found:
        assert sum(value.value.length for value in one.layers[0]) == one.end - one.start
        # Every note of the ornament within the strip begins where it sounds, exactly.
        for key in one.ornaments:
            sounding = [n for n in performance.by_key[key].notes if (n.side, n.voice) == (one.side, one.voice)]
            starts = {
                (whole.measures[value.measure].start + value.at, head.pitch)
                for layer in one.layers
                for value in layer
                for head in value.keys
                if head.ornament == key and not head.from_before
            }
            inside = {(n.onset, n.pitch) for n in sounding if one.start <= n.onset < one.end}
            assert starts == inside
