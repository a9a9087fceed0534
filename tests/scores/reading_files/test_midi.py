"""MIDI, from files that mido writes."""

import io
from fractions import Fraction
from itertools import pairwise

import mido
import pytest
from lxml import etree

from scores.music.notation import Tuplet
from scores.reading_files import CannotRead, Limits
from scores.reading_files.midi_file import parse_midi
from scores.reading_files.reading import read
from tests.scores.reading_files.samples import midi

C_MAJOR = (60, 62, 64, 65, 67, 69, 71, 72)


def quarters(*keys: int, start: float = 0) -> list[tuple[float, float, int]]:
    return [(start + place, 1, key) for place, key in enumerate(keys)]


def words(edition) -> str:
    return " ".join(message % params for message, params in edition.notices)


def test_two_tracks_are_two_hands_whichever_comes_first():
    for tracks in ([quarters(*C_MAJOR), [(0, 8, 36)]], [[(0, 8, 36)], quarters(*C_MAJOR)]):
        edition = read("scale.mid", midi(tracks))
        assert edition.format == "MIDI"
        assert [note.pitch.midi for note in edition.score.notes if note.side == "right"] == list(C_MAJOR)
        left = [note for note in edition.score.notes if note.side == "left"]
        assert [(note.pitch.midi, note.tie_start, note.tie_stop) for note in left] == [
            (36, True, False),
            (36, False, True),
        ]
        assert "guesses" in words(edition)
        assert "middle C" not in words(edition)


def test_one_track_is_split_at_middle_c_and_that_is_said():
    edition = read("scale.mid", midi([[*quarters(60, 64), *quarters(59, 48)]]))
    assert {(note.pitch.midi, note.side) for note in edition.score.notes} == {
        (60, "right"),
        (64, "right"),
        (59, "left"),
        (48, "left"),
    }
    assert "notes from middle C up were given to the right hand" in words(edition)


def test_what_mido_reads_is_what_the_own_reader_reads():
    data = midi([quarters(*C_MAJOR), [(0.5, 0.25, 40), (1, 2, 40)]], metres=((0, 3, 4), (3, 2, 4)))
    ours = parse_midi(data, Limits())
    theirs = mido.MidiFile(file=io.BytesIO(data))
    assert ours.quarter == theirs.ticks_per_beat
    for track, other in zip(ours.tracks, theirs.tracks, strict=True):
        now, downs = 0, []
        for message in other:
            now += message.time
            if message.type == "note_on":
                downs.append((now, message.note))
        assert [(note.start, note.key) for note in track.notes] == downs
    assert [metre[1:] for metre in ours.metres] == [(3, 4), (2, 4)]


def test_running_status_is_followed():
    track = bytes([0, 0x90, 60, 64, 96, 60, 0, 0, 62, 64, 96, 62, 0, 0, 0xFF, 0x2F, 0])
    data = b"MThd" + (6).to_bytes(4, "big") + bytes([0, 0, 0, 1, 0, 96]) + b"MTrk" + len(track).to_bytes(4, "big")
    notes = read("running.mid", data + track).score.notes
    assert [(note.pitch.midi, note.onset, note.length) for note in notes] == [(60, 0, 1), (62, 1, 1)]


def test_triplets_and_sixteenths_find_their_grid_though_played_unevenly():
    played = [(0.02, 0.3, 72), (0.35, 0.3, 74), (0.65, 0.3, 76)]
    played += [(1.0, 0.2, 77), (1.26, 0.2, 76), (1.49, 0.2, 74), (1.76, 0.2, 72), (2.01, 1.9, 71)]
    notes = read("grid.mid", midi([played])).score.notes
    third, quarter = Fraction(1, 3), Fraction(1, 4)
    assert [note.onset for note in notes] == [0, third, 2 * third, 1, 1 + quarter, 1 + 2 * quarter, 1 + 3 * quarter, 2]
    assert [note.length for note in notes] == [third] * 3 + [quarter] * 4 + [2]
    assert [note.tuplet for note in notes] == [Tuplet(3, 2)] * 3 + [None] * 5
    assert [note.type for note in notes] == ["eighth"] * 3 + ["16th"] * 4 + ["half"]


def test_a_note_over_the_bar_line_is_tied():
    notes = read("tie.mid", midi([[(3, 2.5, 72), *quarters(72, 72, 72)]])).score.notes
    held = [note for note in notes if note.onset >= 3]
    assert [(note.onset, note.length, note.tie_start, note.tie_stop) for note in held] == [
        (3, 1, True, False),
        (4, Fraction(3, 2), False, True),
    ]


def test_a_short_first_measure_is_a_pick_up():
    score = read("pickup.mid", midi([quarters(67, 72, 71, 72)], metres=((0, 1, 4), (1, 3, 4)))).score
    assert [(measure.number, measure.length) for measure in score.measures] == [("0", 1), ("1", 3)]
    assert score.measures[0].is_pickup
    assert {(measure.beats, measure.beat_type) for measure in score.measures} == {(3, 4)}


def test_keys_are_spelled_by_the_signature():
    for key, fifths, names in (("Eb", -3, ["E♭", "A♭", "G♭"]), ("E", 4, ["D♯", "G♯", "F♯"])):
        score = read("key.mid", midi([quarters(63, 68, 66)], key=key)).score
        assert score.measures[0].fifths == fifths
        assert [note.pitch.name for note in score.notes] == names


def test_the_tempo_comes_in():
    assert [round(tempo.quarters) for tempo in read("t.mid", midi([quarters(60)], tempo=72)).score.tempos] == [72]


def test_chords_and_held_notes_stand_in_voices_that_do_not_overlap():
    played = [(0, 4, 60), (0, 1, 67), (1, 1, 69), (2, 2, 67), (2, 2, 64)]
    score = read("voices.mid", midi([played])).score
    for voice in {note.voice for note in score.notes}:
        spans = sorted({(note.onset, note.end) for note in score.notes if note.voice == voice})
        assert all(first[1] <= second[0] for first, second in pairwise(spans))
    assert {(note.pitch.midi, note.onset, note.length) for note in score.notes} == {
        (60, 0, 4),
        (67, 0, 1),
        (69, 1, 1),
        (67, 2, 2),
        (64, 2, 2),
    }


def test_the_result_is_valid_by_the_w3c_schema(schema: etree.XMLSchema):
    played = [(0.1, 0.4, 61), (1 / 3, 1 / 3, 72), (2 / 3, 1.5, 70), (3.4, 2.2, 66), (5.75, 0.25, 68)]
    schema.assertValid(etree.fromstring(read("any.mid", midi([played, quarters(40, 41)])).music))


def test_percussion_alone_is_refused_and_beside_notes_left_out():
    with pytest.raises(CannotRead, match="percussion only"):
        read("drums.mid", midi([quarters(36, 38)], channel=9))
    drums = [[(0, 1, 38)]]
    edition = read("both.mid", midi([quarters(60, 62), *[[]] * 8, *drums]))
    assert [note.pitch.midi for note in edition.score.notes] == [60, 62]
    assert "percussion channel was left out" in words(edition)


def test_many_tracks_are_refused_with_their_names_unless_two_are_a_piano():
    three = [quarters(72), quarters(60), quarters(48)]
    with pytest.raises(CannotRead, match="3 tracks with notes: Flute, Viola, Cello"):
        read("trio.mid", midi(three, names=("Flute", "Viola", "Cello")))
    edition = read("trio.mid", midi(three, names=("Flute", "Piano right", "Piano left")))
    assert [note.pitch.midi for note in edition.score.notes] == [48, 60]
    assert "left out: Flute" in words(edition)


@pytest.mark.parametrize("cut", [3, 10, 20, 40])
def test_a_midi_file_cut_off_is_refused(cut: int):
    with pytest.raises(CannotRead):
        read("cut.mid", midi([quarters(*C_MAJOR)])[:cut] if cut > 3 else b"MTh")


def test_an_endless_midi_file_is_refused_by_its_measures():
    with pytest.raises(CannotRead, match="measures; at most 5000"):
        read("long.mid", midi([[(0, 1, 60), (30000, 1, 60)]]))
