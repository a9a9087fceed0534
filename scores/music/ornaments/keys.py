"""One key, one finger: strokes on the same key are parted, then the ornaments are summed up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from scores.music.notation import Placement
from scores.music.ornaments.figures import QUICK_MS, TRILL_WISE_MS, TRILLS, wiser_count
from scores.music.ornaments.plan import ARPEGGIO, HELD, TREMOLO, ZERO, Entry, Plan
from scores.music.ornaments.words import Realised, Remark, Sounding
from scores.music.tempo import milliseconds

TOO_FAST = "At this tempo its notes come every %(ms)d ms, %(per_second)d a second; %(wiser)d notes would be wiser."
JUST_FAST = "At this tempo its notes come every %(ms)d ms, %(per_second)d a second: fewer would be wiser."


def part_keys(
    notes: Iterable[Sounding], entries: Mapping[str, Entry]
) -> tuple[tuple[Sounding, ...], dict[str, Fraction]]:
    """Strokes in order of time, none of an ornament's overlapping another on its key; and what was released early.

    A key still held is let go when an ornament strikes it, and an ornament's note when another stroke needs its key.
    Two strokes at one moment are one: the shorter is marked shared. Unisons that are written so stay.
    """
    by_key: dict[int, list[Sounding]] = {}
    for note in notes:
        by_key.setdefault(note.pitch.midi, []).append(note)
    parted: list[Sounding] = []
    released: dict[str, Fraction] = {}
    for strokes in by_key.values():
        if not any(stroke.ornament for stroke in strokes):
            parted += strokes
            continue
        strokes.sort(key=lambda one: (one.onset, -one.length))
        held: list[Sounding] = []
        for stroke in strokes:
            kept = []
            for one in held:
                if one.end <= stroke.onset:
                    parted.append(one)
                    continue
                if not one.ornament and not stroke.ornament:
                    kept.append(one)
                    continue
                _remark(one, stroke, entries)
                if one.onset == stroke.onset:
                    stroke = replace(stroke, shared=True)
                    kept.append(one)
                else:
                    released[one.source] = released.get(one.source, ZERO) + one.end - stroke.onset
                    parted.append(replace(one, length=stroke.onset - one.onset))
            held = [*kept, stroke] if not stroke.shared else kept
            if stroke.shared:
                parted.append(stroke)
        parted.extend(held)
    parted.sort(key=lambda one: (float(one.onset), one.pitch.midi))
    return tuple(parted), released


def _remark(one: Sounding, stroke: Sounding, entries: Mapping[str, Entry]) -> None:
    for key in {one.ornament, stroke.ornament}:
        entry = entries.get(key)
        if entry and HELD not in entry.remarks:
            entry.remarks.append(HELD)


def finished(plan: Plan, notes: Iterable[Sounding]) -> tuple[Realised, ...]:
    """The ornaments in score order."""
    own: dict[str, list[Sounding]] = {}
    for note in notes:
        if note.ornament:
            own.setdefault(note.ornament, []).append(note)
    ordered = sorted(plan.entries, key=lambda entry: (entry.note.onset, entry.note.pitch.midi))
    return tuple(_realised(plan, entry, tuple(own.get(entry.key, ()))) for entry in ordered)


def _realised(plan: Plan, entry: Entry, notes: tuple[Sounding, ...]) -> Realised:
    measure = plan.score.measure_of(entry.note)
    tempo = plan.tempo_at(entry.note.onset)
    quick = min((note.length for note in notes if note.role == "ornament" and not note.shared), default=ZERO)
    if entry.kind == ARPEGGIO:
        onsets = sorted({note.onset for note in notes})
        quick = min((after - onset for onset, after in pairwise(onsets)), default=ZERO)
    ms = milliseconds(quick, tempo)
    placement: Placement = entry.placement
    return Realised(
        entry.key,
        entry.kind,
        entry.note.id,
        entry.note.measure,
        measure.beat_of(entry.note.onset),
        entry.note.side,
        placement,
        notes,
        tuple(entry.taken.items()),
        entry.from_silence,
        tuple(entry.waited.items()),
        ms,
        (*entry.remarks, *_wiser(entry, notes, ms, tempo)),
    )


def _wiser(entry: Entry, notes: tuple[Sounding, ...], ms: Fraction, tempo: Fraction) -> tuple[Remark, ...]:
    """Says so when the notes come faster than most hands play them evenly."""
    shaken = entry.kind in TRILLS or entry.kind == TREMOLO
    if not ms or ms >= (TRILL_WISE_MS if shaken else QUICK_MS):
        return ()
    speed: tuple[tuple[str, str | int], ...] = (("ms", round(ms)), ("per_second", round(1000 / ms)))
    room = sum((note.length for note in notes), ZERO)
    wiser = wiser_count(len(notes), room, tempo)
    if entry.kind in TRILLS and wiser < len(notes):
        return (Remark(TOO_FAST, (*speed, ("wiser", wiser))),)
    return (Remark(JUST_FAST, speed),)
