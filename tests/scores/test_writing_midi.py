"""MIDI files as others open them: mido for every event, music21 for the music."""

import io
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import mido
import music21
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scores.music.notation import Grace, Measure, Note, Pitch, Score, Tempo, reading_order
from scores.music.sounding import between, whole
from scores.music.tempo import BadTempo
from scores.writing_midi import CannotWrite, midi
from tests.scores.music.make_notes import line, note, score
from tests.scores.music.test_ornaments_corpus import PIECES, piece

F = Fraction


def opened(data: bytes) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(data))


def heard_in(data: bytes) -> list[tuple[Fraction, Fraction, int, int]]:
    """(onset, end, key, channel) of every note in quarters; no key may be struck while it is down or stay down."""
    read, found = opened(data), []
    for track in read.tracks:
        now, down = 0, {}
        for event in track:
            now += event.time
            if event.type == "note_on" and event.velocity:
                assert event.note not in down
                down[event.note] = now
            elif event.type in ("note_off", "note_on"):
                start = down.pop(event.note)
                assert now > start
                found.append((F(start, read.ticks_per_beat), F(now, read.ticks_per_beat), event.note, event.channel))
        assert not down, "a note hangs"
    return sorted(found)


def small_score() -> Score:
    third = F(1, 3)
    return score(
        *line("C4 E4 G4", [third] * 3),
        note("d", "C4", 1, 1, tie_start=True),
        note("e", "C4", 2, 1, tie_stop=True),
        note("f", "C4", 2, 2, side="left"),
        note("h", "C4", 3, 1, side="left", voice="3"),
    )


def test_onsets_are_exact_and_every_key_is_released():
    third = F(1, 3)
    assert heard_in(midi(whole(small_score()), tempo=120)) == sorted(
        [
            (F(0), third, 60, 0),
            (third, 2 * third, 64, 0),
            (2 * third, F(1), 67, 0),
            (F(1), F(3), 60, 0),
            (F(2), F(3), 60, 1),
            (F(3), F(4), 60, 1),
        ]
    )
    assert opened(midi(whole(small_score()), tempo=120)).length == pytest.approx(2.0)


def test_a_file_says_the_placement_that_was_chosen():
    music = score(note("a", "G4", 0, 1), note("g", "C5", 1, 0, grace=Grace(0)), note("m", "B4", 1, 1))
    on, before = (heard_in(midi(whole(music, {"g": where}))) for where in ("on", "before"))
    assert [key for *_, key, _ in on] == [key for *_, key, _ in before] == [67, 72, 71]
    assert on[1][0] == 1 < on[2][0]
    assert before[1][0] < 1 == before[2][0]


def test_an_ornament_before_the_first_beat_is_the_first_sound():
    music = score(note("a", "G4", 0, 4), note("g", "C5", 4, 0, grace=Grace(0)), note("m", "B4", 4, 1))
    (grace, main) = heard_in(midi(between(music, "m", "m", {"g": "before"})))
    assert (grace[0], grace[2], main[2]) == (0, 72, 71)
    assert grace[1] == main[0]


@pytest.mark.parametrize("name", PIECES)
@pytest.mark.parametrize("placement", ["before", "on"])
def test_a_corpus_piece_with_its_ornaments_is_written_note_for_note(name, placement):
    heard = whole(piece(name).score, placement=placement)
    written = heard_in(midi(heard))
    # The first sound is at nought; a key that both voices of a hand strike is struck once.
    shift = -min(F(0), heard.notes[0].onset)
    wanted = {(round(float(one.onset + shift), 3), one.key, {"right": 0, "left": 1}[one.side]) for one in heard.notes}
    assert {(round(float(onset), 3), key, channel) for onset, _, key, channel in written} == wanted
    assert max(end for _, end, *_ in written) == pytest.approx(
        float(max(one.end for one in heard.notes) + shift), abs=1e-3
    )


@pytest.mark.parametrize("name", PIECES[:4])
def test_music21_opens_it_with_the_same_keys_at_the_same_places(name, tmp_path: Path):
    heard = whole(piece(name).score, placement="on")
    path = tmp_path / "piece.mid"
    path.write_bytes(midi(heard))
    read = music21.converter.parse(path, quantizePost=False)
    theirs = {
        (round(float(element.getOffsetInHierarchy(read)), 2), pitch.midi)
        for element in read.recurse().notes
        for pitch in element.pitches
    }
    ours = {(round(float(one.onset), 2), one.key) for one in heard.notes}
    assert len(ours & theirs) >= 0.99 * len(ours)
    assert {key for _, key in theirs} == {key for _, key in ours}


# Extremes


MIDDLE_C = Pitch("C", 0, 4)


def lone(*, pitch: Pitch = MIDDLE_C, beats: int = 4, beat_type: int = 4, tempos=()) -> Score:
    length = F(4 * beats, beat_type)
    bar = Measure(0, "1", F(0), length, beats, beat_type)
    return Score((bar,), (Note("n", pitch, F(0), min(length, F(4)), 0, "right", 1, "1"),), (), tempos)


@pytest.mark.parametrize("pitch", [Pitch("C", 0, 10), Pitch("C", -1, -1), Pitch("G", 1, 9)])
def test_a_key_that_no_keyboard_has_is_refused_in_words(pitch):
    with pytest.raises(CannotWrite, match="keys from 0 to 127"):
        midi(whole(lone(pitch=pitch)))


def test_the_outermost_keys_are_written():
    assert heard_in(midi(whole(lone(pitch=Pitch("G", 0, 9)))))[0][2] == 127
    assert heard_in(midi(whole(lone(pitch=Pitch("C", 0, -1)))))[0][2] == 0


@pytest.mark.parametrize(("beats", "beat_type"), [(300, 4), (1, 1), (255, 64), (4, 3), (7, 1024)])
def test_a_metre_that_the_file_cannot_say_is_left_out_and_the_notes_stay(beats, beat_type):
    read = midi(whole(lone(beats=beats, beat_type=beat_type)))
    assert len(heard_in(read)) == 1
    signatures = [event for event in opened(read).tracks[0] if event.type == "time_signature"]
    said = [(one.numerator, one.denominator) for one in signatures]
    assert said == ([(beats, beat_type)] if beats <= 255 and beat_type != 3 else [])


@pytest.mark.parametrize("tempo", [0, -10, 10_000, float("nan"), float("inf")])
def test_a_tempo_that_nobody_plays_at_is_refused_in_words(tempo):
    with pytest.raises(BadTempo):
        midi(whole(lone()), tempo=tempo)


def test_a_files_own_wild_marks_are_brought_within_what_can_be_played():
    music = lone(tempos=(Tempo(F(0), F(1, 100)), Tempo(F(1), F(10**9)), Tempo(F(2), F(1, 10**9))))
    tempos = [event.tempo for event in opened(midi(whole(music))).tracks[0] if event.type == "set_tempo"]
    assert tempos[0] == 3_000_000
    assert all(1 <= tempo <= 0xFFFFFF for tempo in tempos)


def test_a_tempo_holds_at_the_start_and_later_marks_keep_their_proportion():
    music = replace(small_score(), tempos=(Tempo(F(0), F(60)), Tempo(F(2), F(120))))
    tempos = [event.tempo for event in opened(midi(whole(music), tempo=30)).tracks[0] if event.type == "set_tempo"]
    assert tempos == [2_000_000, 1_000_000]


def test_rhythms_too_fine_for_the_file_are_written_within_a_thirtieth_of_a_millisecond():
    lengths = [F(1, 7), F(1, 11), F(1, 13), F(1, 17), F(1, 19)]
    music = score(*line("C4 D4 E4 F4 G4", lengths))
    written = heard_in(midi(whole(music)))
    at = F(0)
    for (onset, *_), length in zip(written, lengths, strict=True):
        assert abs(onset - at) * 1000 < F(1, 30)  # a quarter is a second at 60
        at += length


@given(
    st.lists(
        st.tuples(
            st.fractions(0, 8, max_denominator=40),
            st.fractions(F(1, 64), 4, max_denominator=64),
            st.integers(40, 52),
            st.sampled_from(["right", "left"]),
        ),
        min_size=1,
        max_size=30,
    )
)
@settings(max_examples=60, deadline=None)
def test_no_key_hangs_or_is_struck_while_it_is_down_whatever_collides(strokes):
    notes = [
        Note(f"n{place}", Pitch("C", key - 60, 4), onset, length, 0, side, 1, str(place))
        for place, (onset, length, key, side) in enumerate(strokes)
    ]
    bar = Measure(0, "1", F(0), F(12), 12, 4)
    assert heard_in(midi(whole(Score((bar,), tuple(sorted(notes, key=reading_order))))))
