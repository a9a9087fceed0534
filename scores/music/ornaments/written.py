"""Ornaments as note values: what an ossia writes above or below the staff.

A strip is a stretch of one voice: the note that an ornament takes its time from, the ornament, and what is left of the
note that it adorns. Its values last exactly as long as what sounds, as long as a reader can be expected to read them;
else the ornament's inner moments move to the nearest that can be written, and the strip says that it is not exact.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from scores.music.notation import Score, Side
from scores.music.ornaments.notated import AROUND, Key, Part, Written, measure_at, values_for
from scores.music.ornaments.words import Performance, Realised, Sounding

Lane = tuple[Side, str]
FINEST = 48  # parts of a stretch between two written moments, where inner moments have to move


@dataclass(frozen=True, slots=True)
class Strip:
    """A stretch of one voice written out. `early` are keys that sound before the first measure that is shown; `layers`
    sound together: the ornament, then what is held meanwhile. `start` and `end` in quarters from the piece's start."""

    ornaments: tuple[str, ...]
    side: Side
    voice: str
    start: Fraction
    end: Fraction
    early: tuple[tuple[Key, ...], ...]
    layers: tuple[tuple[Written, ...], ...]
    is_exact: bool = True


@dataclass(slots=True)
class _Span:
    """A strip being measured: the ornaments' own stretch and what is shown around it."""

    ornaments: list[Realised]
    lane: Lane
    own: tuple[Fraction, Fraction]
    start: Fraction
    end: Fraction


def strips_of(score: Score, performance: Performance, keys: Iterable[str], first: int, last: int) -> tuple[Strip, ...]:
    """The ornaments with these keys (see `words.Realised`) written out, as far as they sound in or just before the
    measures `first` to `last` (indexes, both included), in score order. What no value fits is left out."""
    shown = (score.measures[first].start, score.measures[last].end)
    found: list[Strip] = []
    spans: list[_Span] = []
    for key in keys:
        realised = performance.by_key.get(key)
        if realised and any(one.role == "ornament" or realised.kind == "arpeggiate" for one in realised.notes):
            spans += _spans(score, performance, realised)
    for span in _parted(spans):
        if span.end <= shown[0] or span.start >= shown[1] or span.own[0] >= shown[1]:
            continue
        strip = _strip(score, performance, span, shown)
        if strip:
            found.append(strip)
    return tuple(sorted(found, key=lambda strip: strip.start))


# Which stretch


def _spans(score: Score, performance: Performance, realised: Realised) -> list[_Span]:
    """The stretch of an ornament in each voice that it sounds in."""
    lanes = dict.fromkeys((one.side, one.voice) for one in realised.notes)
    found = []
    for lane in lanes:
        own = [one for one in realised.notes if (one.side, one.voice) == lane]
        start, end = min(one.onset for one in own), max(one.end for one in own)
        lenders = {name for name, _ in realised.taken}
        lent = [
            one.onset
            for one in performance.notes
            if one.source in lenders and (one.side, one.voice) == lane and one.end == start
        ]
        quick = [one.end for one in own if one.role == "ornament"] or [one.onset for one in own]
        begin = measure_at(score, start).start
        found.append(
            _Span(
                [realised],
                lane,
                (start, end),
                max(min(lent, default=start), min(begin, start)),
                min(end, measure_at(score, max(quick)).end),
            )
        )
    return found


def _parted(spans: list[_Span]) -> list[_Span]:
    """Stretches of one voice side by side: where two meet, the later begins with its first own note. Ornaments that
    sound at the same time share one."""
    spans.sort(key=lambda span: (span.lane, span.own, span.start))
    found: list[_Span] = []
    for span in spans:
        before = found[-1] if found and found[-1].lane == span.lane else None
        if before and span.own[0] < before.own[1] and span.own[0] < before.end:
            before.ornaments += span.ornaments
            before.own = (before.own[0], max(before.own[1], span.own[1]))
            before.end = max(before.end, span.end)
            continue
        if before and span.start < before.end:
            before.end = min(before.end, span.own[0])
            span.start = max(before.end, span.start)
        found.append(span)
    return found


# What sounds in it


def _strip(score: Score, performance: Performance, span: _Span, shown: tuple[Fraction, Fraction]) -> Strip | None:
    start, end = max(span.start, shown[0]), min(span.end, shown[1])
    names = tuple(realised.key for realised in span.ornaments)
    orders = {
        (realised.key, one.onset, one.pitch): place
        for realised in span.ornaments
        for place, one in enumerate(realised.notes)
    }
    sounding = [one for one in performance.notes if (one.side, one.voice) == span.lane]

    def key_of(one: Sounding) -> Key:
        own = one.ornament if one.ornament in names else ""
        return Key(one.pitch, one.source, own, orders.get((own, one.onset, one.pitch), AROUND))

    early = tuple((key_of(one),) for one in sounding if one.ornament in names and one.end <= shown[0])
    heard = [replace(one, onset=max(one.onset, start)) for one in _within(sounding, start, end)]
    keys = {id(one): key_of(was) for one, was in zip(heard, _within(sounding, start, end), strict=True)}
    layers = _layers(heard, names)
    moved = _readable(score, layers, span, (start, end))
    if moved is None:
        return None
    written = tuple(
        values_
        for layer in layers
        if (values_ := values_for(score, _parts(score, layer, keys, moved, end))) is not None and values_
    )
    is_exact = all(before == after for before, after in moved.items())
    return Strip(names, *span.lane, start, end, early, written, is_exact) if written else None


def _within(sounding: Sequence[Sounding], start: Fraction, end: Fraction) -> list[Sounding]:
    return [one for one in sounding if one.end > start and one.onset < end]


def _layers(heard: Sequence[Sounding], names: Sequence[str]) -> list[list[Sounding]]:
    """Each ornament with what comes before and after it, and apart from them what is held meanwhile."""
    own = [[one for one in heard if one.ornament == name] for name in names]
    layers = [layer for layer in own if layer]
    held: list[Sounding] = []
    for one in heard:
        if one.ornament in names:
            continue
        meets = any(one.onset < other.end and other.onset < one.end for layer in layers[:1] for other in layer)
        (held if meets else layers[0]).append(one)
    return [*layers, *([held] if held else [])]


def _parts(
    score: Score,
    layer: Sequence[Sounding],
    keys: dict[int, Key],
    moved: dict[Fraction, Fraction],
    end: Fraction,
) -> list[Part]:
    """A layer cut at every moment at which a key is struck or let go, and at the bar lines."""
    stretches = [(moved.get(one.onset, one.onset), min(moved.get(one.end, one.end), end), one) for one in layer]
    cuts = {moment for begin, stop, _ in stretches for moment in (begin, stop)}
    low, high = min(cuts), max(cuts)
    cuts |= {measure.start for measure in score.measures if low < measure.start < high}
    moments = sorted(cuts)
    found = []
    for begin, stop in pairwise(moments):
        down = [(a, b, keys[id(one)]) for a, b, one in stretches if a <= begin and b >= stop]
        found.append(
            Part(
                begin,
                stop,
                tuple(
                    replace(key, from_before=a < begin, goes_on=b > stop)
                    for a, b, key in sorted(down, key=lambda one: one[2].pitch.midi)
                ),
            )
        )
    return found


# Which values


def _readable(
    score: Score, layers: Sequence[Sequence[Sounding]], span: _Span, ends: tuple[Fraction, Fraction]
) -> dict[Fraction, Fraction] | None:
    """Where each moment is written: at its own place if all can be read so, else the inner ones near it; None where
    nothing fits."""
    moments = sorted({min(moment, ends[1]) for layer in layers for one in layer for moment in (one.onset, one.end)})
    same = {moment: moment for moment in moments}
    if _fits(score, layers, same, ends[1]):
        return same
    frame = _frame(score, span, ends)
    moved = dict(same)
    for low, high in pairwise(frame):
        inner = [moment for moment in moments if low < moment < high]
        if inner:
            placed = _placed(inner, low, high)
            if placed is None:
                return None
            moved.update(zip(inner, placed, strict=True))
    return moved if _fits(score, layers, moved, ends[1]) else None


def _frame(score: Score, span: _Span, ends: tuple[Fraction, Fraction]) -> list[Fraction]:
    """The written moments of the voice from end to end: those stay where they are."""
    side, voice = span.lane
    low, high = measure_at(score, ends[0]).index, measure_at(score, ends[1]).index
    notes = [note for note in score.in_measures(low, high, side) if note.voice == voice and not note.grace]
    moments = {moment for note in notes for moment in (note.onset, note.end)}
    moments |= {measure.start for measure in score.measures[low : high + 1]}
    return sorted({moment for moment in moments if ends[0] < moment < ends[1]} | set(ends))


def _placed(inner: Sequence[Fraction], low: Fraction, high: Fraction) -> list[Fraction] | None:
    """Inner moments on the coarsest division of a stretch that keeps them apart and near their places."""
    gaps = [b - a for a, b in zip([low, *inner], [*inner, high], strict=True)]
    for parts in range(len(inner) + 1, FINEST + 1):
        unit = (high - low) / parts
        if parts & (parts - 1) and parts % 3:
            continue
        places = [round((moment - low) / unit) for moment in inner]
        rising = all(a < b for a, b in zip([0, *places], [*places, parts], strict=True))
        near = max(abs(low + unit * place - moment) for place, moment in zip(places, inner, strict=True))
        if rising and near <= min(gaps) / 2:
            return [low + unit * place for place in places]
    return None


def _fits(score: Score, layers: Sequence[Sequence[Sounding]], moved: dict[Fraction, Fraction], end: Fraction) -> bool:
    blank = {id(one): Key(one.pitch, "") for layer in layers for one in layer}
    return all(values_for(score, _parts(score, layer, blank, moved, end)) is not None for layer in layers)
