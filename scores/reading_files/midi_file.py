"""Standard MIDI files: bytes to notes in ticks (Standard MIDI Files 1.0)."""

from __future__ import annotations

import struct
from dataclasses import dataclass, field

from scores.reading_files.terms import CannotRead, Limits
from scores.reading_files.terms import marked as _
from scores.reading_files.tidying import MANY_NOTES

BROKEN = _("The MIDI file is damaged or cut off. Export or send it again.")

DRUMS = 9  # channel 10, counted from 0 (General MIDI)


@dataclass
class MidiNote:
    start: int
    end: int
    key: int
    channel: int


@dataclass
class Track:
    name: str = ""
    notes: list[MidiNote] = field(default_factory=list)
    programs: dict[int, int] = field(default_factory=dict)


@dataclass
class MidiFile:
    """Times in ticks, `quarter` ticks long. `tempos`: (tick, microseconds a quarter); `metres`: (tick, beats, beat
    type); `keys`: (tick, fifths)."""

    quarter: int
    tracks: list[Track] = field(default_factory=list)
    tempos: list[tuple[int, int]] = field(default_factory=list)
    metres: list[tuple[int, int, int]] = field(default_factory=list)
    keys: list[tuple[int, int]] = field(default_factory=list)


def parse_midi(data: bytes, limits: Limits) -> MidiFile:
    """Raises `CannotRead` for what is damaged or too large."""
    try:
        return _parse(data[max(0, data.find(b"MThd")) :], limits)
    except (IndexError, struct.error) as error:
        raise CannotRead(BROKEN) from error


def _parse(data: bytes, limits: Limits) -> MidiFile:
    length, _form, count, division = struct.unpack(">IHHH", data[4:14])
    # Frames a second: a quarter is taken as half a second, MIDI's own default tempo.
    frames = (256 - (division >> 8)) * (division & 0xFF) // 2
    quarter = frames if division & 0x8000 else division
    if data[:4] != b"MThd" or length < 6 or quarter <= 0:
        raise CannotRead(BROKEN)
    midi = MidiFile(quarter)
    at = 8 + length
    total = 0
    while at + 8 <= len(data) and len(midi.tracks) < count:
        kind, size = data[at : at + 4], struct.unpack(">I", data[at + 4 : at + 8])[0]
        if at + 8 + size > len(data):
            raise CannotRead(BROKEN)
        if kind == b"MTrk":
            track = read_track(data[at + 8 : at + 8 + size], midi)
            total += len(track.notes)
            if total > limits.notes:
                raise CannotRead(MANY_NOTES, {"count": total, "limit": limits.notes})
            midi.tracks.append(track)
        at += 8 + size
    if not midi.tracks:
        raise CannotRead(BROKEN)
    return midi


def read_track(data: bytes, midi: MidiFile) -> Track:
    track = Track()
    sounding: dict[tuple[int, int], list[MidiNote]] = {}
    at = now = status = 0
    while at < len(data):
        delta, at = variable(data, at)
        now += delta
        if data[at] & 0x80:
            status, at = data[at], at + 1
        if status == 0xFF:
            kind = data[at]
            size, at = variable(data, at + 1)
            if kind == 0x2F:
                break
            read_meta(kind, data[at : at + size], now, midi, track)
            at += size
        elif status in (0xF0, 0xF7):
            size, at = variable(data, at)
            at += size
        elif 0x80 <= status < 0xF0:
            one = data[at]
            two = data[at + 1] if status & 0xE0 != 0xC0 else 0
            at += 1 if status & 0xE0 == 0xC0 else 2
            strike(status, one, two, now, track, sounding)
        else:
            raise CannotRead(BROKEN)
    for notes in sounding.values():
        for note in notes:
            note.end = max(now, note.start)
    return track


def strike(
    status: int, one: int, two: int, now: int, track: Track, sounding: dict[tuple[int, int], list[MidiNote]]
) -> None:
    """A channel message: key down, key up, or another instrument."""
    channel, message = status & 0x0F, status & 0xF0
    if message == 0x90 and two:
        note = MidiNote(now, now, one & 0x7F, channel)
        track.notes.append(note)
        sounding.setdefault((channel, one), []).append(note)
    elif message in (0x80, 0x90):
        if found := sounding.get((channel, one)):
            found.pop(0).end = now
    elif message == 0xC0:
        track.programs.setdefault(channel, one)


def read_meta(kind: int, body: bytes, now: int, midi: MidiFile, track: Track) -> None:
    if kind == 0x03 and not track.name:
        try:
            track.name = " ".join(body[:200].decode("utf-8").split())
        except UnicodeDecodeError:
            track.name = " ".join(body[:200].decode("latin-1").split())
    elif kind == 0x51 and len(body) == 3:
        midi.tempos.append((now, int.from_bytes(body, "big")))
    elif kind == 0x58 and len(body) >= 2 and 0 < body[0] <= 64 and body[1] <= 6:
        midi.metres.append((now, body[0], 2 ** body[1]))
    elif kind == 0x59 and len(body) == 2:
        fifths = struct.unpack("b", body[:1])[0]
        if -7 <= fifths <= 7:
            midi.keys.append((now, fifths))


def variable(data: bytes, at: int) -> tuple[int, int]:
    """A variable-length quantity, of four bytes at most, and the place after it."""
    value = 0
    for _place in range(4):
        byte = data[at]
        at += 1
        value = value << 7 | byte & 0x7F
        if not byte & 0x80:
            return value, at
    raise CannotRead(BROKEN)
