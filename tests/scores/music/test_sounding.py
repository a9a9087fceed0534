"""What sounds of a passage: exact onsets, ties, ornaments as chosen, beats, and where it begins again."""

from collections import Counter
from dataclasses import replace
from fractions import Fraction

import music21
import pytest

from scores.music.notation import Grace, Measure, Ornament, Score, Tempo
from scores.music.ornaments import Choice, realise
from scores.music.sounding import NothingSounds, beats_of, between, felt, in_span, to_data, turn_after, whole
from tests.scores.music.make_notes import line, note, score
from tests.scores.music.test_ornaments_corpus import CORPUS, PIECES, piece

F = Fraction


def heard_as(heard) -> list[tuple[str, str, int]]:
    return [(str(one.onset), str(one.length), one.key) for one in heard.notes]


def test_a_passage_is_struck_where_it_is_written():
    music = score(*line("C4 D4 E4 F4 G4", ["1/3", "1/3", "1/3", 1, 2]))
    heard = between(music, "n1", "n3")
    assert heard_as(heard) == [("1/3", "1/3", 62), ("2/3", "1/3", 64), ("1", "1", 65)]
    assert (heard.start, heard.end) == (F(1, 3), F(2))
    assert [one.note for one in heard.notes] == ["n1", "n2", "n3"]


def test_both_hands_sound_whichever_hand_the_ends_belong_to():
    music = score(*line("C5 D5", [2, 2]), *line("C3 E3 G3 E3", [1] * 4, prefix="l", side="left"))
    assert Counter(one.side for one in between(music, "n0", "n1").notes) == {"right": 2, "left": 3}


def test_a_key_tied_over_from_before_is_struck_with_the_passage():
    music = score(
        note("a", "C4", 2, 2, tie_start=True),
        note("b", "C4", 4, 2, tie_stop=True),
        note("c", "E4", 4, 1),
        note("d", "G4", 5, 3),
    )
    assert heard_as(between(music, "c", "d")) == [("4", "2", 60), ("4", "1", 64), ("5", "3", 67)]


def test_a_note_from_before_that_is_not_written_again_is_not_struck():
    music = score(note("a", "C3", 0, 4, side="left"), *line("C5 D5 E5 F5", [1] * 4))
    assert heard_as(between(music, "n2", "n3")) == [("2", "1", 76), ("3", "1", 77)]


def test_nothing_is_held_beyond_the_end():
    music = score(
        note("a", "C3", 0, 4, side="left", tie_start=True),
        note("b", "C3", 4, 4, side="left", tie_stop=True),
        *line("C5 D5 E5 F5", [1] * 4),
    )
    assert ("0", "4", 48) in heard_as(between(music, "n0", "n3"))


def graced() -> Score:
    return score(
        *line("G4 A4", [1, 1]),
        note("g", "C5", 2, 0, grace=Grace(0, slash=True)),
        note("m", "B4", 2, 1),
        note("z", "C5", 3, 1),
    )


def test_both_placements_of_a_grace_are_heard_and_take_their_time_from_their_own_side():
    before = between(graced(), "m", "z", {"g": Choice(placement="before")})
    on = between(graced(), "m", "z", {"g": Choice(placement="on")})
    grace, main, _ = before.notes
    assert grace.onset < 2 == main.onset == grace.end
    assert before.start == 2
    assert grace.ornament == main.ornament == "g" == before.ornaments[0].key
    grace, main, _ = on.notes
    assert grace.onset == 2 < main.onset == grace.end
    assert main.end == 3


def test_the_tempo_for_which_an_ornament_is_written_out_decides_how_long_it_is():
    slow, fast = (between(graced(), "m", "z", {"g": "on"}, tempo=tempo) for tempo in (40, 120))
    assert slow.notes[0].length < fast.notes[0].length


@pytest.mark.parametrize("name", PIECES)
@pytest.mark.parametrize("placement", ["before", "on"])
def test_a_passage_sounds_as_it_does_within_the_whole_piece(name, placement):
    """The measures around a passage are enough to know what is heard in it."""
    music = piece(name).score
    everything = {
        (one.onset, one.pitch.midi, one.source, one.ornament): one.length
        for one in realise(music, placement=placement).notes
    }
    for first in range(1, len(music.measures) - 4, 3):
        notes = [one for one in music.in_measures(first, first + 2) if one.is_attack]
        if not notes:
            continue
        heard = between(music, notes[0].id, notes[-1].id, placement=placement)
        assert heard.notes
        for one in heard.notes:
            if one.onset > heard.start and one.end < heard.end:
                assert everything[one.onset, one.key, one.note, one.ornament] == one.length


@pytest.mark.parametrize("name", PIECES[:4])  # the piano pieces
def test_every_key_of_a_corpus_piece_is_struck_where_music21_has_it(name):
    """music21's own reading of the file: every note that is not tied to one before, graces and signs aside."""
    music = piece(name).score
    plain = replace(music, notes=tuple(replace(one, ornaments=()) for one in music.notes if not one.is_grace))
    theirs = {
        (F(element.getOffsetInHierarchy(read)).limit_denominator(5040), one.pitch.midi)
        for read in [music21.converter.parse(CORPUS / name)]
        for element in read.recurse().notes
        if not element.duration.isGrace
        for one in (element.notes if element.isChord else [element])
        if one.tie is None or one.tie.type == "start"
    }
    assert {(one.onset, one.key) for one in whole(plain).notes} == theirs


# The grid of beats


def test_beats_of_a_measure_weigh_by_the_metre():
    measure = Measure(1, "2", F(3), F(3), 6, 8)
    assert felt(measure) == 3
    assert [(str(beat.onset), beat.weight) for beat in beats_of(measure, measure.end)] == [
        ("3", 2), ("7/2", 0), ("4", 0), ("9/2", 1), ("5", 0), ("11/2", 0),
    ]  # fmt: skip
    assert felt(Measure(1, "2", F(3), F(3), 3, 4)) == 1
    assert felt(Measure(1, "2", F(3), F(3, 2), 3, 8)) == 1


def picked_up() -> Score:
    bars = (
        Measure(0, "0", F(0), F(1), 4, 4),
        Measure(1, "1", F(1), F(4), 4, 4),
        Measure(2, "2", F(5), F(3), 4, 4),
    )
    notes = [note("p", "G4", 0, 1), *line("C5 D5 E5 F5 G5 A5 B5", [1] * 7, start=1)]
    placed = [replace(one, measure=0 if one.onset < 1 else 1 if one.onset < 5 else 2) for one in notes]
    return Score(bars, tuple(placed))


def test_a_pick_up_is_the_last_beat_of_its_measure():
    heard = between(picked_up(), "p", "n6")
    assert [(str(beat.onset), beat.weight) for beat in heard.beats] == [
        ("0", 1), ("1", 2), ("2", 1), ("3", 1), ("4", 1), ("5", 2), ("6", 1), ("7", 1),
    ]  # fmt: skip
    # The last measure has three beats, so the pick-up follows at once when it is played again.
    assert heard.turn == heard.end == 8


def test_a_passage_is_counted_in_by_whole_measures_and_what_leads_up_to_it():
    counted = between(picked_up(), "p", "n6").count_in(1)
    assert [(str(beat.onset), beat.weight) for beat in counted] == [
        ("-7", 2), ("-6", 1), ("-5", 1), ("-4", 1), ("-3", 2), ("-2", 1), ("-1", 1),
    ]  # fmt: skip
    assert len(between(picked_up(), "n0", "n6").count_in(2)) == 8
    assert between(picked_up(), "p", "n6").count_in(0) == ()


@pytest.mark.parametrize(
    ("start", "end", "turn"), [(1, 5, 5), (1, 4, 5), (2, 5, 6), (2, 4, 6), (3, 8, 11), (1, "16/3", 9)]
)
def test_a_repetition_begins_where_the_start_stands_in_its_measure(start, end, turn):
    closing = picked_up().measures[1]
    assert turn_after(F(start), F(end), closing, closing) == turn


def test_the_beat_goes_on_to_where_a_repetition_begins():
    music = score(*line("C4 D4 E4", [1, 1, 1]))
    heard = between(music, "n0", "n2")
    assert (heard.end, heard.turn) == (3, 4)
    assert [str(beat.onset) for beat in heard.beats] == ["0", "1", "2", "3"]


def test_a_cycle_of_a_drill_is_repeated_at_its_very_end():
    music = score(*line("C5 D5 E5", ["2/3"] * 3), *line("C3 G3", [1, 1], prefix="l", side="left"))
    heard = in_span(music, F(0), F(2))
    assert (heard.start, heard.end, heard.turn) == (0, 2, 2)
    assert len(heard.notes) == 5


def test_the_editions_marks_are_in_proportion_to_the_first():
    music = score(*line("C4 D4 E4 F4", [1] * 4), tempos=(Tempo(F(0), F(60)), Tempo(F(2), F(90))))
    heard = between(music, "n0", "n3")
    assert heard.tempo == 60
    assert to_data(heard)["tempos"] == [["0", 1.0], ["2", 1.5]]
    assert to_data(between(music, "n2", "n3"))["tempos"] == []


def test_the_data_are_exact_fractions_as_text():
    music = score(*line("C4 D4 E4", ["1/3", "1/3", "1/3"]))
    data = to_data(between(music, "n0", "n2"))
    assert data["notes"][1] == ["1/3", "1/3", 62, "r", "n1", "", 0, 0]
    assert [F(start) for start, *_ in data["notes"]] == [0, F(1, 3), F(2, 3)]
    assert data["keys"] == [60, 62, 64]


def test_a_place_without_notes_says_so():
    music = score(*line("C4 -", [1, 3]), measures=3)
    with pytest.raises(NothingSounds):
        in_span(music, F(4), F(8))
    with pytest.raises(NothingSounds):
        in_span(music, F(400), F(800))
    with pytest.raises(NothingSounds):
        whole(Score((), ()))


def test_each_note_of_an_ornament_says_which_of_its_notes_it_is():
    music = score(
        *line("C5 E5 C5", [1, 1, 1]),
        *line("C3 G3 C3", [1, 1, 1], prefix="l", side="left"),
    )
    turn = replace(music.notes[2], ornaments=(Ornament("turn"),))
    adorned = replace(music, notes=tuple(turn if one.id == turn.id else one for one in music.notes))
    found = between(adorned, "n0", "n2")
    [realised] = found.ornaments
    mine = sorted((one for one in found.notes if one.ornament), key=lambda one: one.order)
    assert [(one.order, one.key) for one in mine] == [
        (place, one.pitch.midi) for place, one in enumerate(realised.notes)
    ]
    assert len(mine) == 4
    assert {one.order for one in found.notes if not one.ornament} == {0}
