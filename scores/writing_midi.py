"""A standard MIDI file of what is heard: a track of tempo and metre, and one for each hand.

Written byte by byte, since nothing here is beyond a page of code: a header, and three kinds of event.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import lcm

from scores.music.notation import Side
from scores.music.refusal import Refusal
from scores.music.sounding import ORDINARY, Heard, Struck, bar_of
from scores.music.tempo import Number, checked

FINEST = 0x7FFF  # Parts of a quarter that the header can state.
# Parts where the music's own would not fit: divides by 1 to 10 and by 16; set by hand. The error is under a thirtieth
# of a millisecond at 60.
COMMON = 30240
VELOCITY = 72
LOWEST, HIGHEST = 0, 127
MOST_BEATS, FINEST_BEAT = 255, 1 << 255  # What the time signature's two bytes can say: 1 to 255 beats, 2 to the 255th.
CHANNELS: tuple[tuple[int, Side, str], ...] = ((0, "right", "Right hand"), (1, "left", "Left hand"))

Event = tuple[Fraction, int, bytes]


class CannotWrite(Refusal):
    """A MIDI file cannot say this; the sentence says what."""


def midi(heard: Heard, *, tempo: Number | None = None, velocity: int = VELOCITY) -> bytes:
    """The file of what is heard, once through, beginning with the first sound or the start, whichever is earlier.

    `tempo` in quarters a minute holds at the start, and later marks in proportion to it; without it the edition's marks
    hold (90 where there is none). Onsets are exact where a quarter can be cut finely enough. Raises `BadTempo`, and
    `CannotWrite` for a key that no MIDI keyboard has.
    """
    for note in heard.notes:
        if not LOWEST <= note.key <= HIGHEST:
            raise CannotWrite(
                "A MIDI file has keys from %(lowest)d to %(highest)d; a note here would be %(key)d.",
                {"lowest": LOWEST, "highest": HIGHEST, "key": note.key},
            )
    start = min([heard.start, *(note.onset for note in heard.notes[:1])])
    parts = parts_of(heard, start)
    tracks = [track(conducting(heard, tempo, start), start, parts)]
    for channel, side, name in CHANNELS:
        own = [note for note in heard.notes if note.side == side]
        if own:
            tracks.append(track([titled(name, start), *strokes(own, channel, velocity, parts)], start, parts))
    head = b"MThd" + (6).to_bytes(4, "big") + b"".join(n.to_bytes(2, "big") for n in (1, len(tracks), parts))
    return head + b"".join(tracks)


def parts_of(heard: Heard, start: Fraction) -> int:
    """Parts of a quarter in which every onset and end is a whole number; `COMMON` where there is none so coarse."""
    parts = lcm(start.denominator, 480)
    for note in heard.notes:
        parts = lcm(parts, note.onset.denominator, note.end.denominator)
        if parts > FINEST:
            return COMMON
    return parts


def strokes(notes: Iterable[Struck], channel: int, velocity: int, parts: int) -> Iterable[Event]:
    """Down and up of each key; a key that is struck again while it is held is let go first. Nothing is shorter than the
    file's least part."""
    least = Fraction(1, parts)
    by_key: dict[int, list[tuple[Fraction, Fraction]]] = {}
    for note in notes:
        lane = by_key.setdefault(note.key, [])
        if lane and note.onset - lane[-1][0] < least:
            lane[-1] = (lane[-1][0], max(note.end, lane[-1][1]))
            continue
        if lane and lane[-1][1] > note.onset:
            lane[-1] = (lane[-1][0], note.onset)
        lane.append((note.onset, note.end))
    for key, lane in by_key.items():
        for onset, end in lane:
            # At one moment what ends comes before what begins.
            yield onset, 1, bytes((0x90 | channel, key, velocity))
            yield max(end, onset + least), 0, bytes((0x80 | channel, key, 0))


def conducting(heard: Heard, tempo: Number | None, start: Fraction) -> list[Event]:
    """Tempo marks and time signatures."""
    written = heard.tempo or ORDINARY
    first = Fraction(checked(tempo)) if tempo is not None else written
    marks = [(start, first), *((mark.onset, mark.quarters * first / written) for mark in heard.tempos)]
    events: list[Event] = [(onset, 0, b"\xff\x51\x03" + microseconds(quarters)) for onset, quarters in marks]
    metre = None
    for measure in heard.measures:
        if metre != (measure.beats, measure.beat_type):
            metre = (measure.beats, measure.beat_type)
            events.extend((max(bar_of(measure), start), 1, body) for body in signature(*metre))
    return events


def microseconds(quarters: Fraction) -> bytes:
    """A quarter's length as the three bytes of a tempo; slower or faster than they can say is their end."""
    length = round(60_000_000 / quarters) if quarters > 0 else 0xFFFFFF
    return min(max(length, 1), 0xFFFFFF).to_bytes(3, "big")


def signature(beats: int, beat_type: int) -> list[bytes]:
    """A time signature, or none where the file's two bytes cannot say it: the notes are right without it."""
    power = beat_type.bit_length() - 1
    if not 1 <= beats <= MOST_BEATS or beat_type < 1 or beat_type != 1 << power:
        return []
    return [b"\xff\x58\x04" + bytes((beats, power, 24, 8))]


def titled(name: str, at: Fraction) -> Event:
    text = name.encode()
    return at, -1, b"\xff\x03" + variable(len(text)) + text


def track(events: Iterable[Event], start: Fraction, parts: int) -> bytes:
    """A track of events at quarters, counted from `start`."""
    placed: Sequence[tuple[int, int, bytes]] = sorted(
        (round((onset - start) * parts), rank, body) for onset, rank, body in events
    )
    body, now = b"", 0
    pieces = []
    for place, _, what in placed:
        pieces.append(variable(place - now) + what)
        now = place
    body = b"".join(pieces) + b"\x00\xff\x2f\x00"
    return b"MTrk" + len(body).to_bytes(4, "big") + body


def variable(number: int) -> bytes:
    """A number as MIDI writes it: seven bits to a byte, the last one without the high bit."""
    body = bytes((number & 0x7F,))
    while number := number >> 7:
        body = bytes((0x80 | number & 0x7F,)) + body
    return body
