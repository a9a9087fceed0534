"""MIDI to a draft: tracks to hands, played times to written ones, keys to spelled pitches."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction

from scores.reading_files.draft import Bar, Clef, Draft, Event, Head, Mark, type_of
from scores.reading_files.hands import KEYBOARD
from scores.reading_files.mei_layer import in_key
from scores.reading_files.midi_file import DRUMS, MidiFile, MidiNote, parse_midi
from scores.reading_files.midi_grid import on_grid, voices_of
from scores.reading_files.terms import CannotRead, Limits, Notice
from scores.reading_files.terms import marked as _
from scores.reading_files.tidying import MANY_MEASURES, NO_NOTES, ONLY_UNPITCHED

ROUNDED = _(
    "MIDI says when keys were pressed, not what was written: note values and the spelling of notes are guesses."
)
SPLIT = _("The MIDI file does not say which hand plays; notes from middle C up were given to the right hand.")
DRUMS_OUT = _("The percussion channel was left out.")
TRACKS_OUT = _("Only the keyboard's tracks were taken; left out: %(others)s.")
MANY_TRACKS = _(
    "The MIDI file has %(count)s tracks with notes: %(tracks)s. Send the one or two tracks of the piano part alone."
)

MIDDLE_C = 60
LINE_OF_FIFTHS = "FCGDAEB"


@dataclass
class Frame:
    """One measure of the grid."""

    start: Fraction
    length: Fraction
    metre: tuple[int, int]
    changed: bool
    pickup: bool = False


def draft_of_midi(data: bytes, limits: Limits) -> Draft:
    """Raises `CannotRead`."""
    midi = parse_midi(data, limits)
    right, left, notices = split_hands(midi)
    title = next((track.name for track in midi.tracks if track.name and not track.notes), "")
    if not title and len(midi.tracks) == 1:
        title = midi.tracks[0].name
    draft = Draft(title=title, notices=[(ROUNDED, {}), *notices])
    last = max(note.end for note in right + left)
    frames = measures(midi, Fraction(last, midi.quarter), limits)
    fifths = midi.keys[0][1] if midi.keys else likely_key(right + left)
    draft.bars = [bar_of(frame, place, frames, fifths) for place, frame in enumerate(frames)]
    hands = [notes for notes in (right, left) if notes]
    draft.staves = len(hands)
    for staff, notes in enumerate(hands, start=1):
        clef = Clef("F", 4) if notes is left else Clef("G", 2)
        draft.bars[0].clefs[staff] = clef
        write_hand(draft.bars, frames, notes, midi.quarter, staff, fifths)
    write_tempos(draft.bars, frames, midi)
    return draft


def split_hands(midi: MidiFile) -> tuple[list[MidiNote], list[MidiNote], list[Notice]]:
    """By track and channel if there are two, else at middle C."""
    groups: dict[tuple[int, int], list[MidiNote]] = {}
    drums = False
    for number, track in enumerate(midi.tracks):
        for note in track.notes:
            if note.channel == DRUMS:
                drums = True
            else:
                groups.setdefault((number, note.channel), []).append(note)
    if not groups:
        raise CannotRead(ONLY_UNPITCHED if drums else NO_NOTES)
    notices: list[Notice] = [(DRUMS_OUT, {})] if drums else []
    if len(groups) > 2:
        groups, left_out = keyboards_of(midi, groups)
        notices.append((TRACKS_OUT, {"others": left_out}))
    if len(groups) == 2:
        upper, lower = sorted(groups.values(), key=lambda notes: -sum(note.key for note in notes) / len(notes))
        return upper, lower, notices
    notes = next(iter(groups.values()))
    notices.append((SPLIT, {}))
    return (
        [note for note in notes if note.key >= MIDDLE_C],
        [note for note in notes if note.key < MIDDLE_C],
        notices,
    )


def keyboards_of(
    midi: MidiFile, groups: dict[tuple[int, int], list[MidiNote]]
) -> tuple[dict[tuple[int, int], list[MidiNote]], str]:
    """Of many tracks those of one keyboard, by name, else by General MIDI's piano programs."""

    def name(group: tuple[int, int]) -> str:
        return midi.tracks[group[0]].name or str(group[0] + 1)

    named = {group: notes for group, notes in groups.items() if KEYBOARD.search(midi.tracks[group[0]].name)}
    pianos = {
        group: notes for group, notes in groups.items() if 0 <= midi.tracks[group[0]].programs.get(group[1], -1) < 8
    }
    for found in (named, pianos):
        if 0 < len(found) <= 2:
            return found, ", ".join(name(group)[:40] for group in groups if group not in found)[:300]
    tracks = ", ".join(name(group)[:40] for group in groups)
    raise CannotRead(MANY_TRACKS, {"count": len(groups), "tracks": tracks[:300]})


def measures(midi: MidiFile, last: Fraction, limits: Limits) -> list[Frame]:
    """The measures up to the last note. A first measure of its own shorter metre is a pick-up."""
    changes = {Fraction(tick, midi.quarter): (beats, unit) for tick, beats, unit in sorted(midi.metres)}
    moments = sorted(changes)
    metre = changes.get(Fraction(0), (4, 4))
    frames: list[Frame] = []
    start, changed = Fraction(0), True
    while start < last or not frames:
        length = Fraction(4 * metre[0], metre[1])
        after = bisect_right(moments, start)
        cut = min(start + length, moments[after]) if after < len(moments) else start + length
        frames.append(Frame(start, cut - start, metre, changed))
        if len(frames) > limits.measures:
            raise CannotRead(MANY_MEASURES, {"count": len(frames), "limit": limits.measures})
        start = cut
        changed = start in changes and changes[start] != metre
        metre = changes.get(start, metre)
    if len(frames) > 1 and frames[1].changed and frames[0].length < frames[1].length:
        frames[0].metre, frames[0].pickup, frames[1].changed = frames[1].metre, True, False
    return frames


def bar_of(frame: Frame, place: int, frames: list[Frame], fifths: int) -> Bar:
    pickup = frames[0].pickup
    return Bar(
        number=str(place if pickup else place + 1),
        implicit=frame.pickup,
        metre=frame.metre if frame.changed else None,
        fifths=fifths if place == 0 else None,
    )


def write_hand(
    bars: list[Bar], frames: list[Frame], notes: list[MidiNote], quarter: int, staff: int, fifths: int
) -> None:
    played, grids = on_grid([(note.start, note.end, note.key) for note in notes], quarter)
    triplets = {window for window, grid in grids.items() if grid in (3, 6)}
    for place, voice in enumerate(voices_of(played)):
        write_voice(bars, frames, voice, triplets, staff, 4 * (staff - 1) + 1 + place, fifths)
    for bar, frame in zip(bars, frames, strict=True):
        if not any(number == 4 * (staff - 1) + 1 for number, _ in bar.voices):
            rest = Event(length=frame.length, whole_measure=True, staff=staff)
            bar.voices.append((4 * (staff - 1) + 1, [rest]))
        bar.voices.sort(key=lambda voice: voice[0])
        show_accidentals([events for number, events in bar.voices if (number - 1) // 4 == staff - 1], fifths)


def write_voice(
    bars: list[Bar],
    frames: list[Frame],
    chords: list[tuple[Fraction, Fraction, list[int]]],
    triplets: set[int],
    staff: int,
    number: int,
    fifths: int,
) -> None:
    """One voice into the measures: cut at bar lines and beats, tied, with rests between."""
    index = 0
    for bar, frame in zip(bars, frames, strict=True):
        end = frame.start + frame.length
        events: list[Event] = []
        position = frame.start
        while index < len(chords) and chords[index][0] < end:
            start, stop, keys = chords[index]
            first = max(start, position)
            events += pieces(position, first, None, frame, triplets, staff, fifths)
            last = min(stop, end)
            events += tied(pieces(first, last, keys, frame, triplets, staff, fifths), first > start, last < stop)
            position = last
            if stop > end:
                break
            index += 1
        if any(event.heads for event in events):
            events += pieces(position, end, None, frame, triplets, staff, fifths)
            finish(events, frame)
            bar.voices.append((number, events))


def pieces(
    start: Fraction,
    end: Fraction,
    keys: list[int] | None,
    frame: Frame,
    triplets: set[int],
    staff: int,
    fifths: int,
) -> list[Event]:
    """A stretch of sound or silence as heads or rests that can be written."""
    events = []
    while start < end:
        stop = next_cut(start, end, triplets)
        in_triplet = int(start) in triplets and 6 % ((stop - start) * 6).denominator == 0
        in_triplet = in_triplet and not (is_binary(start) and is_binary(stop))
        event = Event(length=stop - start, staff=staff)
        written = (stop - start) * Fraction(3, 2) if in_triplet else stop - start
        event.type, event.dots = type_of(written) or ("", 0)
        event.tuplet = (3, 2) if in_triplet else None
        event.heads = [spelled(key, fifths) for key in keys or ()]
        events.append(event)
        start = stop
    return events


def next_cut(start: Fraction, end: Fraction, triplets: set[int]) -> Fraction:
    """How far one head can reach from `start`: to the end if that can be written, else to the next quarter, else by the
    largest value that fits."""
    if is_binary(start) and is_binary(end) and (found := type_of(end - start)) and found[1] < 2:
        return end
    beat = Fraction(int(start) + 1)
    if beat < end:
        if start != int(start):
            return beat
        whole = max(1, int(end) - int(start))
        return start + max(size for size in (1, 2, 4) if size <= whole)
    unit = Fraction(3, 2) if int(start) in triplets and not (is_binary(start) and is_binary(end)) else Fraction(1)
    found = type_of((end - start) * unit)
    if found and found[1] < 2:
        return end
    sizes: list[Fraction] = [Fraction(2, 3), Fraction(1, 2), Fraction(1, 3), Fraction(1, 6)] if unit != 1 else []
    sizes += [Fraction(1, 2), Fraction(1, 4), Fraction(1, 8)]
    return start + next((size for size in sizes if size <= end - start), end - start)


def is_binary(at: Fraction) -> bool:
    return at.denominator & (at.denominator - 1) == 0


def tied(events: list[Event], before: bool, after: bool) -> list[Event]:
    for place, event in enumerate(events):
        for head in event.heads:
            head.tie_stop = before or place > 0
            head.tie_start = after or place + 1 < len(events)
    return events


def finish(events: list[Event], frame: Frame) -> None:
    """Beams within a beat, and brackets around its triplet."""
    beat = Fraction(3, 2) if frame.metre[1] == 8 and frame.metre[0] % 3 == 0 else Fraction(1)
    onset = Fraction(0)
    groups: dict[int, list[Event]] = {}
    for event in events:
        event.beam = int(onset / beat) + 1 if event.heads else 0
        if event.tuplet:
            groups.setdefault(int(frame.start + onset), []).append(event)
        onset += event.length
    for group in groups.values():
        if len(group) > 1:
            group[0].brackets.append((1, "start", 3, 2))
            group[-1].brackets.append((1, "stop", 3, 2))


def spelled(key: int, fifths: int) -> Head:
    """The name of a key nearest to the key signature on the line of fifths: from three fifths below its tonic (flat
    third in major) to eight above (sharp fifth). Common practice."""
    for place in range(fifths - 3, fifths + 9):
        if place * 7 % 12 == key % 12:
            step = LINE_OF_FIFTHS[(place + 1) % 7]
            alter = (place + 1) // 7
            natural = key - alter
            return Head(step, alter, natural // 12 - 1)
    raise ValueError(key)


def show_accidentals(voices: list[list[Event]], fifths: int) -> None:
    """Prints the accidentals that the key and the measure so far make needed."""
    timed = []
    for events in voices:
        onset = Fraction(0)
        for event in events:
            timed.append((onset, event))
            onset += event.length
    seen: dict[tuple[str, int], int] = {}
    names = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
    for _onset, event in sorted(timed, key=lambda item: item[0]):
        for head in event.heads:
            place = (head.step, head.octave)
            if head.alter != seen.get(place, in_key(head.step, fifths)) and not head.tie_stop:
                head.accidental = names[head.alter]
            seen[place] = head.alter


def likely_key(notes: list[MidiNote]) -> int:
    """The signature whose scale holds most of what sounds; the plainer of two that are equal."""
    weight = [0] * 12
    for note in notes:
        weight[note.key % 12] += max(1, note.end - note.start)

    def inside(fifths: int) -> int:
        return sum(weight[place * 7 % 12] for place in range(fifths - 1, fifths + 6))

    return max(range(-6, 7), key=lambda fifths: (inside(fifths), -abs(fifths)))


def write_tempos(bars: list[Bar], frames: list[Frame], midi: MidiFile) -> None:
    """The first tempo as a mark, and later ones that differ by a tenth; played rubato is not written down."""
    now = Fraction(0)
    starts = [frame.start for frame in frames]
    for tick, micros in sorted(midi.tempos):
        tempo = Fraction(60_000_000, micros) if micros else Fraction(0)
        at = Fraction(tick, midi.quarter)
        if not 5 < tempo < 1000 or (now and abs(tempo - now) < now / 10):
            continue
        place = bisect_right(starts, at) - 1
        if at >= frames[place].start + frames[place].length:
            continue
        onset = at - frames[place].start
        bars[place].marks.append(
            Mark(onset, 1, "tempo", unit="quarter", number=str(round(tempo)), sound=tempo, place="above")
        )
        now = tempo
