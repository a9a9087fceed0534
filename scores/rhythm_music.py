"""The music of a span as a small score of its own, to be engraved above its chart: the notes that two hands strike in
it, or, for a bare ratio, the note values alone.

Written anew from the notes, not cut from the edition: a chart wants nothing but heads, values and groups.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from lxml import etree

from scores.music.crossrhythm import Crossing
from scores.music.notation import SIDES, Note, Rest, Score, Side, reading_order
from scores.reading_files.draft import FLAGS, TYPES, Bar, Clef, Draft, Event, Head, type_of
from scores.reading_files.writing import tree_of

LENGTHS = {name: length for length, name in TYPES.items()}
STAVES: dict[Side, int] = {"right": 1, "left": 2}
LOW = 57  # a hand whose notes lie below this key on the average is written in the bass clef
ON_THE_LINE = ("E", 0, 4)  # the only line of a staff that has one


@dataclass(frozen=True)
class Timed:
    """An event and when it begins, in quarters from the start of the span."""

    onset: Fraction
    event: Event


def music_of_span(score: Score, crossing: Crossing) -> bytes:
    """MusicXML of one measure: what both hands strike from the crossing's start to its end, with its rests. Notes keep
    their ids."""
    start, end = crossing.start, crossing.end
    measure = score.measures[crossing.measure]
    notes = [note for note in score.notes if start <= note.onset < end and not note.is_grace]
    bar = Bar("1", symbol="none", fifths=measure.fifths)
    draft = Draft(staves=2, bars=[bar])
    for side in SIDES:
        mine = [note for note in notes if note.side == side]
        bar.clefs[STAVES[side]] = clef_for(mine, side)
        rests = [rest for rest in score.rests if rest.side == side and start <= rest.onset < end]
        for voice in sorted({note.voice for note in mine}):
            events = list(
                events_of(
                    [note for note in mine if note.voice == voice],
                    [rest for rest in rests if rest.voice == voice],
                    crossing,
                    STAVES[side],
                )
            )
            group(events, beat_of(measure.beats, measure.beat_type), start - measure.start)
            bar.voices.append((len(bar.voices) + 1, [timed.event for timed in events]))
    return etree.tostring(tree_of(draft))


def clef_for(notes: Sequence[Note], side: Side) -> Clef:
    middle = sum(note.pitch.midi for note in notes) / len(notes) if notes else (72 if side == "right" else 48)
    return Clef("F", 4) if middle < LOW else Clef("G", 2)


def beat_of(beats: int, beat_type: int) -> Fraction:
    """What is beamed together, in quarters: three units in compound time."""
    unit = Fraction(4, beat_type)
    return 3 * unit if beats % 3 == 0 and beats > 3 else max(unit, Fraction(1))


def events_of(notes: Iterable[Note], rests: Iterable[Rest], crossing: Crossing, staff: int) -> Iterator[Timed]:
    """One voice in order, without holes: unseen time where it neither sounds nor rests."""
    at = crossing.start
    found: list[tuple[Fraction, list[Note], Rest | None]] = [
        (onset, list(chord), None)
        for onset, chord in groupby(sorted(notes, key=reading_order), key=lambda note: note.onset)
    ]
    taken = {onset for onset, _chord, _rest in found}
    found += [(rest.onset, [], rest) for rest in rests if rest.onset not in taken]
    found.sort(key=lambda one: one[0])
    for place, (onset, chord, rest) in enumerate(found):
        if onset < at:
            continue
        if onset > at:
            yield Timed(at - crossing.start, Event(length=onset - at, hidden=True, staff=staff))
        following = found[place + 1][0] if place + 1 < len(found) else crossing.end
        event = chord_of(chord, staff) if chord else rest_of(rest, staff)
        event.length = min(event.length, following - onset, crossing.end - onset)
        yield Timed(onset - crossing.start, event)
        at = onset + event.length
    if at < crossing.end:
        yield Timed(at - crossing.start, Event(length=crossing.end - at, hidden=True, staff=staff))


def chord_of(notes: Sequence[Note], staff: int) -> Event:
    lead = notes[0]
    inside = {note.id for note in notes}
    event = Event(length=lead.length, type=lead.type, dots=lead.dots, staff=staff)
    if lead.tuplet:
        event.tuplet = (lead.tuplet.actual, lead.tuplet.normal)
    if not event.type:
        event.type, event.dots = type_of(written_length(event)) or ("quarter", 0)
    event.heads = [
        Head(note.pitch.step, note.pitch.alter, note.pitch.octave, note.id, "", note.tie_start, note.tie_stop)
        for note in notes
        if note.id in inside
    ]
    return event


def rest_of(rest: Rest | None, staff: int) -> Event:
    """A rest; unseen where no single sign lasts that long, as inside a tuplet."""
    length = rest.length if rest else Fraction(0)
    found = type_of(length)
    if found is None:
        return Event(length=length, hidden=True, staff=staff)
    return Event(length=length, type=found[0], dots=found[1], staff=staff)


def written_length(event: Event) -> Fraction:
    """What the head's value would last outside its tuplet."""
    actual, normal = event.tuplet or (1, 1)
    return event.length * actual / normal


def group(events: Sequence[Timed], beat: Fraction, offset: Fraction) -> None:
    """Brackets the tuplets and joins flags under beams: tuplets by their groups, the rest by the beat."""
    for number, members in enumerate(tuplet_groups(events), start=1):
        actual, normal = members[0].event.tuplet or (1, 1)
        for timed, kind in ((members[0], "start"), (members[-1], "stop")):
            timed.event.brackets.append((1, kind, actual, normal))
        beam(members, 1000 * number)
    plain = [timed for timed in events if timed.event.tuplet is None]
    for number, (_beat, members) in enumerate(groupby(plain, lambda one: (one.onset + offset) // beat), start=1):
        beam(list(members), 1_000_000 * number)


def tuplet_groups(events: Sequence[Timed]) -> Iterator[list[Timed]]:
    """Consecutive events of one tuplet, as long as one group of it lasts: `normal` of a plain value, none shorter than
    the shortest head. What is left incomplete is a group too."""
    waiting: list[Timed] = []
    for timed in events:
        if waiting and timed.event.tuplet != waiting[0].event.tuplet:
            yield waiting
            waiting = []
        if timed.event.tuplet is None or timed.event.hidden:
            continue
        waiting.append(timed)
        lasted = sum((one.event.length for one in waiting), Fraction(0))
        value = lasted / timed.event.tuplet[1]
        if value in TYPES and value >= min(LENGTHS.get(one.event.type, value) for one in waiting):
            yield waiting
            waiting = []
    if waiting:
        yield waiting


def beam(members: Sequence[Timed], number: int) -> None:
    """One beam for flagged heads that follow one another without a rest."""
    for timed in members:
        if timed.event.heads and timed.event.type in FLAGS:
            timed.event.beam = number
        else:
            number += 1


# A bare ratio


def music_of_ratio(crossing: Crossing) -> bytes:
    """MusicXML of a ratio's note values, each hand on a line of its own; the ids are "r0", "r1", ... and "l0", ..."""
    bar = Bar("1", symbol="none", fifths=0)
    draft = Draft(staves=2, bars=[bar])
    hands = ((1, crossing.grid.upper, "r", "up"), (2, crossing.grid.lower, "l", "down"))
    for staff, strokes, name, stem in hands:
        bar.clefs[staff] = Clef("percussion", 2)
        length = crossing.length / len(strokes)
        kind, dots, tuplet = value_of(length, crossing.length)
        events = [
            Timed(
                length * place,
                Event([Head(*ON_THE_LINE, f"{name}{place}")], length, kind, dots, staff, tuplet=tuplet, stem=stem),
            )
            for place in range(len(strokes))
        ]
        if tuplet:
            for timed, end in ((events[0], "start"), (events[-1], "stop")):
                timed.event.brackets.append((1, end, *tuplet))
        beam(events, 1)
        bar.voices.append((staff, [timed.event for timed in events]))
    root = tree_of(draft)
    attributes = root.find(".//attributes")
    for staff in STAVES.values():
        details = etree.SubElement(attributes, "staff-details", number=str(staff))
        etree.SubElement(details, "staff-lines").text = "1"
    return etree.tostring(root)


def value_of(length: Fraction, cycle: Fraction) -> tuple[str, int, tuple[int, int] | None]:
    """Head, dots and tuplet of equal notes that fill a cycle: a plain value where one fits, else `actual` in the time
    of `normal` heads of the next longer value, or of the next shorter where the longer does not fill the cycle. Dots
    serve where the other hand is the faster one."""
    plain = type_of(length)
    if plain and (plain[1] == 0 or (plain[1] == 1 and length > 1)):
        return plain[0], plain[1], None
    longer = min(value for value in TYPES if value >= length) if length <= max(TYPES) else max(TYPES)
    value = next((one for one in (longer, longer / 2, longer / 4) if (cycle / one).denominator == 1), None)
    if value is None or value not in TYPES:
        return TYPES[longer], 0, None
    return TYPES[value], 0, (int(cycle / length), int(cycle / value))
