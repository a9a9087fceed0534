"""What is wrong with the file: measures that do not add up, empty staves, voices that collide, odd rhythms, keys that
no piano has."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from itertools import chain

from scores.music.fingering.problems import gettext_noop, key_name
from scores.music.notation import SIDES, Hands, Measure, Note, Rest, Side, Tuplet
from scores.music.survey.timeline import Timeline, runs
from scores.music.survey.words import Finding, Kind

UNEVEN = gettext_noop("Measure %(measure)s has %(there)s of %(asked)s %(unit)s.")
UNEVEN_RIGHT = gettext_noop("In measure %(measure)s the right hand has %(there)s of %(asked)s %(unit)s.")
UNEVEN_LEFT = gettext_noop("In measure %(measure)s the left hand has %(there)s of %(asked)s %(unit)s.")
NO_RIGHT = gettext_noop("The file has nothing for the right hand.")
NO_LEFT = gettext_noop("The file has nothing for the left hand.")
EMPTY_RIGHT = gettext_noop("Nothing is written for the right hand here, not even rests.")
EMPTY_LEFT = gettext_noop("Nothing is written for the left hand here, not even rests.")
EMPTY_BOTH = gettext_noop("Nothing is written here, not even rests.")
STRUCK_WHILE_HELD = gettext_noop("%(note)s is struck again while another voice holds it.")
OVERLAP = gettext_noop("%(note)s begins in its voice before %(other)s has ended there.")
TWICE = gettext_noop("%(note)s stands twice in one voice at one moment.")
DIFFERS = gettext_noop("%(note)s is written with one value and lasts another (%(length)s of a quarter).")
NO_VALUE = gettext_noop("%(note)s lasts %(length)s of a quarter, which no note value says.")
BEYOND = gettext_noop("%(note)s is no key of the piano.")

UNITS = {
    1: gettext_noop("wholes"),
    2: gettext_noop("halves"),
    4: gettext_noop("quarters"),
    8: gettext_noop("eighths"),
    16: gettext_noop("sixteenths"),
    32: gettext_noop("thirty-seconds"),
    64: gettext_noop("sixty-fourths"),
}
QUARTERS = gettext_noop("quarters")
LENGTHS = {
    "long": Fraction(16),
    "breve": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4),
    "32nd": Fraction(1, 8),
    "64th": Fraction(1, 16),
    "128th": Fraction(1, 32),
    "256th": Fraction(1, 64),
}
LARGEST_FACTOR = 13  # Tuplets of more are not met outside of fantasies and scanning programs. Set by hand.
FINEST = 64  # parts of a quarter that are written, tuplets aside: 256ths
LOWEST, HIGHEST = 21, 108  # the 88 keys


def faults(line: Timeline) -> Iterator[Finding]:
    """Everything of this module, in no order."""
    ends = hand_ends(line)
    yield from uneven(line, ends)
    yield from missing(line, ends)
    yield from collisions(line)
    yield from odd(line)
    for note in line.score.notes:
        if not LOWEST <= note.pitch.midi <= HIGHEST:
            yield line.finding("keyboard", [note], note.side, BEYOND, {"note": key_name(note)})


# Measures


def hand_ends(line: Timeline) -> dict[tuple[int, Side], Fraction]:
    """Where each hand's last note or rest of a measure ends; no entry where it has none."""
    ends: dict[tuple[int, Side], Fraction] = {}
    timed: Iterable[Note | Rest] = chain(line.score.notes, line.score.rests)
    for one in timed:
        key, end = (one.measure, one.side), one.onset + one.length
        if key not in ends or ends[key] < end:
            ends[key] = end
    return ends


def uneven(line: Timeline, ends: dict[tuple[int, Side], Fraction]) -> Iterator[Finding]:
    """Measures that do not add up, whole or in one hand. A pick-up is free to be short; so is a measure that its
    neighbour, or the pick-up, completes (common practice at repeats)."""
    measures = line.score.measures
    first = measures[0] if measures else None
    pickup = first.length if first and first.is_pickup else Fraction(0)
    for place, measure in enumerate(measures):
        if measure.length != measure.nominal and not completed(measures, place, pickup):
            yield short(line, measure, "both", UNEVEN, measure.length, measure.nominal)
        for side in SIDES:
            end = ends.get((measure.index, side))
            if end is not None and end < measure.end:
                message = UNEVEN_RIGHT if side == "right" else UNEVEN_LEFT
                yield short(line, measure, side, message, end - measure.start, measure.length)


def completed(measures: tuple[Measure, ...], place: int, pickup: Fraction) -> bool:
    measure = measures[place]
    if place == 0 and pickup:
        return True
    near = [measures[index].length for index in (place - 1, place + 1) if 0 <= index < len(measures)]
    return any(measure.length + other == measure.nominal for other in [*near, pickup])


def short(line: Timeline, measure: Measure, hand: Hands, message: str, there: Fraction, asked: Fraction) -> Finding:
    amounts = amounts_in_words(there, asked, measure.beat_type)
    return in_measure(line, "uneven", measure, hand, message, {"measure": measure.number, **amounts})


def amounts_in_words(there: Fraction, asked: Fraction, beat_type: int) -> dict[str, str]:
    """Both lengths in the coarsest unit from the metre's own on that counts them whole, else in quarters."""
    for parts, unit in UNITS.items():
        if parts >= beat_type and (there * parts / 4).denominator == 1 == (asked * parts / 4).denominator:
            return {"there": str(there * parts / 4), "asked": str(asked * parts / 4), "unit": unit}
    return {"there": str(there), "asked": str(asked), "unit": QUARTERS}


def in_measure(
    line: Timeline,
    kind: Kind,
    first: Measure,
    hand: Hands,
    message: str,
    params: Mapping[str, str | int] | None = None,
    last: Measure | None = None,
) -> Finding:
    """A finding on whole measures, with the first notes that stand in the first of them."""
    last = last or first
    notes = [note for note in line.notes_from(first.start, first.index) if hand in ("both", note.side)]
    return Finding(
        kind=kind,
        measure=first.index,
        number=first.number,
        beat=first.beat_of(first.start),
        onset=first.start,
        hand=hand,
        notes=tuple(note.id for note in notes),
        message=message,
        params=params or {},
        last_measure=last.index,
        last_number=last.number,
    )


def missing(line: Timeline, ends: dict[tuple[int, Side], Fraction]) -> Iterator[Finding]:
    """Measures in which a hand, or both, have neither notes nor rests; those that follow each other are one finding."""
    measures = line.score.measures
    if not measures:
        return
    known = {side for _, side in ends}
    for side, message in (("right", NO_RIGHT), ("left", NO_LEFT)):
        if known and side not in known:
            hand: Side = "right" if side == "right" else "left"
            yield in_measure(line, "missing", measures[0], hand, message, last=measures[-1])
    words = {"right": EMPTY_RIGHT, "left": EMPTY_LEFT, "both": EMPTY_BOTH}
    empty = [empty_hands(ends, measure.index, known) for measure in measures]
    for start, stop in runs(empty):
        which = empty[start]
        hands: Hands = "both" if which == "both" else "right" if which == "right" else "left"
        yield in_measure(line, "missing", measures[start], hands, words[which], last=measures[stop - 1])


def empty_hands(ends: dict[tuple[int, Side], Fraction], index: int, known: set[Side]) -> str:
    """ "both" for a measure without anything, else the hand that has nothing though it has something elsewhere."""
    there = [side for side in SIDES if (index, side) in ends]
    if not there:
        return "both"
    absent = [side for side in SIDES if side in known and side not in there]
    return absent[0] if absent else ""


# Voices


def collisions(line: Timeline) -> Iterator[Finding]:
    """A key struck while another voice of the hand holds it; notes that overlap in one voice; a key twice in one voice
    at one moment. Two voices that begin on one key together are common practice, and no fault. The first of each
    measure, hand and kind speaks for all of them."""
    groups: dict[tuple[int, Side, str], list[tuple[Note, Note]]] = {}
    for side in SIDES:
        down: dict[int, tuple[int, int, Note]] = {}
        voices: dict[str, tuple[int, int, Note]] = {}
        for stroke in line.strokes[side]:
            at = stroke.at
            for note, key, end in zip(stroke.notes, stroke.keys, stroke.ends, strict=True):
                since, until, other = down.get(key, (-1, -1, note))
                began, ends, last = voices.get(note.voice, (-1, -1, note))
                message = ""
                if since == at and other.voice == note.voice:
                    message = TWICE
                elif since < at < until and other.voice != note.voice:
                    message = STRUCK_WHILE_HELD
                elif began < at < ends:
                    message, other = OVERLAP, last
                if message:
                    groups.setdefault((note.measure, side, message), []).append((note, other))
                if end > until:
                    down[key] = (at, end, note)
                voices[note.voice] = (at, max(end, ends) if at == began else end, note)
    for (_, side, message), found in groups.items():
        note, other = found[0]
        names = {"note": key_name(note)} | ({"other": key_name(other)} if message == OVERLAP else {})
        detail = {TWICE: "twice", OVERLAP: "overlap", STRUCK_WHILE_HELD: "struck"}[message]
        yield line.finding("collision", [note for note, _ in found], side, message, names, detail=detail)


# Values


def odd(line: Timeline) -> Iterator[Finding]:
    """Notes whose value says another length than they have, and lengths that no value says. The first of each measure
    and hand speaks for all of them."""
    groups: dict[tuple[int, Side, str], list[Note]] = {}
    checked: dict[tuple[str, int, Tuplet | None, Fraction], str] = {}
    for note in line.score.notes:
        if note.is_grace:
            continue
        asked = (note.type, note.dots, note.tuplet, note.length)
        if asked not in checked:
            checked[asked] = oddity(note)
        if checked[asked]:
            groups.setdefault((note.measure, note.side, checked[asked]), []).append(note)
    for (_, side, message), notes in groups.items():
        words = {"note": key_name(notes[0]), "length": str(notes[0].length)}
        detail = "differs" if message == DIFFERS else "no value"
        yield line.finding("odd", notes, side, message, words, detail=detail)


def oddity(note: Note) -> str:
    """What is odd about the note's length, or ""."""
    if note.type in LENGTHS:
        written = LENGTHS[note.type] * (2 - Fraction(1, 2 ** min(note.dots, 6)))
        if note.tuplet:
            written *= Fraction(note.tuplet.normal, note.tuplet.actual)
        return "" if written == note.length else DIFFERS
    rest = note.length.denominator
    power = rest & -rest
    rest //= power
    for factor in range(3, LARGEST_FACTOR + 1, 2):
        while rest % factor == 0:
            rest //= factor
    return "" if rest == 1 and power <= FINEST and note.length > 0 else NO_VALUE
