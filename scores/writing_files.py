"""An edition with the choices made for a student, as files that other programs read: MusicXML and MIDI.

MusicXML keeps the edition's own tree: only fingerings and the time of grace notes are written into it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction

from lxml import etree

from scores.engraving import cutting
from scores.fingering_marks import fingers_on, put_fingers, take_fingers, take_fingers_of
from scores.music.notation import Note, Placement, Score, Tempo, held_until

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
STEAL = "50"  # percent of the neighbour that a grace takes when the edition does not say
TICKS = 5040  # to a quarter: divides by everything up to ten


def with_choices(
    music: bytes,
    fingers: Mapping[str, str],
    *,
    keep_printed: bool = False,
    placements: Mapping[str, Placement] | None = None,
) -> bytes:
    """The MusicXML with these fingers (note id -> "3", "4-5"; a substitution is written as one) and with the time of
    grace notes written as taken from the note before ("before") or after ("on").

    Printed fingerings go, unless `keep_printed`: then they stay on the notes that have no other.
    """
    root = cutting.read(music)
    if keep_printed:
        take_fingers_of(root, {note for note, text in fingers.items() if text})
    else:
        take_fingers(root)
    put_fingers(root, fingers)
    place_graces(root, placements or {})
    return written(root)


def excerpt(music: bytes, first: int, last: int) -> bytes:
    """Measures `first` to `last` (indexes, both included) as MusicXML of their own. Raises `IndexError`."""
    root = cutting.read(music)
    cutting.cut(root, first, last)
    return written(root)


def written(root: etree._Element) -> bytes:
    mend(root)
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", doctype=DOCTYPE)


def mend(root: etree._Element) -> None:
    """Takes out what some programs write and the schema forbids: a loudness or a tempo below nothing."""
    for element in root.iter("sound", "note"):
        for name in ("dynamics", "end-dynamics", "tempo"):
            if element.get(name, "").startswith("-"):
                del element.attrib[name]


def fingers_of(music: bytes) -> dict[str, str]:
    """The fingerings that stand in a file: note id -> text."""
    found = {note.get("id", ""): fingers_on(note) for note in cutting.read(music).iter("note")}
    return {note: text for note, text in found.items() if note and text}


def place_graces(root: etree._Element, placements: Mapping[str, Placement]) -> None:
    """Before the beat, a grace takes its time from the note before it; on the beat, from the note that follows."""
    for note in root.iter("note"):
        grace, placement = note.find("grace"), placements.get(note.get("id", ""))
        if grace is None or placement is None:
            continue
        names = ("steal-time-previous", "steal-time-following")
        wanted, other = names if placement == "before" else names[::-1]
        share = grace.get(wanted) or grace.get(other) or STEAL
        for name in (*names, "make-time"):
            grace.attrib.pop(name, None)
        grace.set(wanted, share)


# MIDI


def midi(score: Score, *, tempo: Fraction | int | None = None, velocity: int = 72) -> bytes:
    """A standard MIDI file of the score as written, a track for each hand: exact onsets, ties as one note, no repeats.

    `tempo` in quarters a minute holds throughout; without it the score's own marks hold (90 where it has none).
    Graces take a sixteenth of a quarter each from the note that they lead to.
    """
    tempos = (Tempo(Fraction(0), Fraction(tempo)),) if tempo else score.tempos or (Tempo(Fraction(0), Fraction(90)),)
    tracks = [tempo_track(tempos, score)]
    ends = held_until(score.notes)
    for channel, side in enumerate(("right", "left")):
        notes = [note for note in score.notes if note.side == side and note.is_attack]
        if notes:
            tracks.append(note_track(struck(notes, ends), channel, velocity))
    head = b"MThd" + (6).to_bytes(4, "big") + b"".join(n.to_bytes(2, "big") for n in (1, len(tracks), TICKS))
    return head + b"".join(b"MTrk" + len(track).to_bytes(4, "big") + track for track in tracks)


def struck(notes: Iterable[Note], ends: Mapping[str, Fraction]) -> list[tuple[Fraction, Fraction, int]]:
    """(onset, end, key) of each note, in quarters; no key is struck again before it is released."""
    graces: dict[Fraction, int] = {}
    for note in notes:
        if note.grace:
            graces[note.onset] = max(graces.get(note.onset, 0), note.grace.order + 1)
    found: list[tuple[Fraction, Fraction, int]] = []
    for note in notes:
        count = graces.get(note.onset, 0)
        end = ends[note.id]
        if note.grace:
            step = Fraction(1, 16)
            onset = note.onset + note.grace.order * step
            end = onset + step
        else:
            onset = min(note.onset + Fraction(count, 16), note.onset + (end - note.onset) / 2)
        found.append((onset, end, note.pitch.midi))
    return without_overlaps(found)


def without_overlaps(notes: list[tuple[Fraction, Fraction, int]]) -> list[tuple[Fraction, Fraction, int]]:
    """Two voices on one key: the earlier note ends where the later begins; of two at one moment the longer stays."""
    by_key: dict[int, list[tuple[Fraction, Fraction]]] = {}
    for onset, end, key in sorted(notes):
        lane = by_key.setdefault(key, [])
        if lane and lane[-1][0] == onset:
            lane[-1] = (onset, max(end, lane[-1][1]))
            continue
        if lane and lane[-1][1] > onset:
            lane[-1] = (lane[-1][0], onset)
        lane.append((onset, end))
    return [(onset, end, key) for key, lane in by_key.items() for onset, end in lane]


def note_track(notes: Iterable[tuple[Fraction, Fraction, int]], channel: int, velocity: int) -> bytes:
    events: list[tuple[int, int, bytes]] = []
    for onset, end, key in notes:
        # A release comes before a stroke at the same moment.
        events.append((ticks(onset), 1, bytes((0x90 | channel, key, velocity))))
        events.append((max(ticks(end), ticks(onset) + 1), 0, bytes((0x80 | channel, key, 0))))
    return track_of(events)


def tempo_track(tempos: Iterable[Tempo], score: Score) -> bytes:
    events = [
        (ticks(tempo.onset), 0, b"\xff\x51\x03" + round(60_000_000 / tempo.quarters).to_bytes(3, "big"))
        for tempo in tempos
    ]
    metre = None
    for measure in score.measures:
        if metre != (measure.beats, measure.beat_type):
            metre = (measure.beats, measure.beat_type)
            body = bytes((measure.beats, measure.beat_type.bit_length() - 1, 24, 8))
            events.append((ticks(measure.start), 1, b"\xff\x58\x04" + body))
    return track_of(events)


def track_of(events: list[tuple[int, int, bytes]]) -> bytes:
    track, now = b"", 0
    for place, _, body in sorted(events):
        track += variable(place - now) + body
        now = place
    return track + b"\x00\xff\x2f\x00"


def ticks(quarters: Fraction) -> int:
    return round(quarters * TICKS)


def variable(number: int) -> bytes:
    """A number as MIDI writes it: seven bits to a byte, the last one without the high bit."""
    body = bytes((number & 0x7F,))
    while number := number >> 7:
        body = bytes((0x80 | number & 0x7F,)) + body
    return body
