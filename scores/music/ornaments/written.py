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
from math import lcm

from scores.music.notation import Measure, Pitch, Score, Side, Tuplet
from scores.music.ornaments.values import Value, values
from scores.music.ornaments.words import Performance, Realised, Sounding

Lane = tuple[Side, str]
AROUND = -1  # the order of a note that is none of the ornament's own
SHORTEST = ("breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th")
MOST_TIED = 2  # values that may stand for one length
LARGEST_TUPLET = 15
FINEST = 48  # parts of a stretch between two written moments, where inner moments have to move


@dataclass(frozen=True, slots=True)
class Key:
    """One head of a written value. `order` is its place among the notes of `Realised.notes`, or `AROUND`; `source` the
    written note that it comes from. `from_before` and `goes_on` are the ends of ties."""

    pitch: Pitch
    source: str
    ornament: str = ""
    order: int = AROUND
    from_before: bool = False
    goes_on: bool = False


@dataclass(frozen=True, slots=True)
class Written:
    """A written value: `keys` from low to high, none for a rest. `at` is in quarters from the start of the measure
    (an index). Of a tuplet's values the first and the last say so."""

    measure: int
    at: Fraction
    value: Value
    keys: tuple[Key, ...]
    opens_tuplet: bool = False
    closes_tuplet: bool = False


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


@dataclass(frozen=True, slots=True)
class _Part:
    """Keys that sound together from `start` to `end`, within one measure."""

    start: Fraction
    end: Fraction
    keys: tuple[Key, ...]


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
        begin = _measure_at(score, start).start
        found.append(
            _Span(
                [realised],
                lane,
                (start, end),
                max(min(lent, default=start), min(begin, start)),
                min(end, _measure_at(score, max(quick)).end),
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


def _measure_at(score: Score, moment: Fraction) -> Measure:
    """The measure in which a moment lies; the first or the last for one outside."""
    low, high = 0, len(score.measures)
    while high - low > 1:
        middle = (low + high) // 2
        if score.measures[middle].start <= moment:
            low = middle
        else:
            high = middle
    return score.measures[low]


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
        if (values_ := _written(score, _parts(score, layer, keys, moved, end))) is not None and values_
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
) -> list[_Part]:
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
            _Part(
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
    low, high = _measure_at(score, ends[0]).index, _measure_at(score, ends[1]).index
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
    return all(_written(score, _parts(score, layer, blank, moved, end)) is not None for layer in layers)


def _written(score: Score, parts: Sequence[_Part]) -> tuple[Written, ...] | None:
    """Values for parts that follow one another; None where one of them cannot be read."""
    found: list[Written] = []
    place = 0
    while place < len(parts):
        group = _tuplet_group(score, parts, place)
        odd = _odd(score, group)
        if odd > LARGEST_TUPLET:
            return None
        tuplet = Tuplet(odd, 1 << (odd.bit_length() - 1)) if odd > 1 else None
        made: list[Written] = []
        for part in group:
            pieces = _pieces(score, part, tuplet)
            if not pieces:
                return None
            made += pieces
        if tuplet:
            made[0] = replace(made[0], opens_tuplet=True)
            made[-1] = replace(made[-1], closes_tuplet=True)
        found += made
        place += len(group)
    return tuple(found)


def _tuplet_group(score: Score, parts: Sequence[_Part], place: int) -> Sequence[_Part]:
    """The parts from `place` to the next that ends on a moment of the plain division of its measure."""
    stop = place
    while stop + 1 < len(parts) and _odd_place(score, parts[stop], parts[stop].end) > 1:
        stop += 1
    return parts[place : stop + 1]


def _odd(score: Score, group: Sequence[_Part]) -> int:
    return lcm(*(_odd_place(score, part, moment) for part in group for moment in (part.start, part.end)))


def _odd_place(score: Score, part: _Part, moment: Fraction) -> int:
    """The odd part of the denominator of a moment within the measure of a part: 1 where halving gets there."""
    odd = (moment - _measure_at(score, part.start).start).denominator
    while odd % 2 == 0:
        odd //= 2
    return odd


def _pieces(score: Score, part: _Part, tuplet: Tuplet | None) -> list[Written]:
    """The values of one part, tied; what is no single value, or one with two dots, is parted at a beat."""
    measure = _measure_at(score, part.start)
    share = Fraction(tuplet.normal, tuplet.actual) if tuplet else Fraction(1)
    lengths = [part.end - part.start]
    single = values(lengths[0])
    if not tuplet and (len(single) > 1 or any(one.dots > 1 for one in single)):
        beat = beat_length(measure)
        last = measure.start + (part.end - measure.start) // beat * beat
        if part.start < last < part.end:
            lengths = [last - part.start, part.end - last]
    found: list[Written] = []
    at = part.start - measure.start
    for length in lengths:
        plain = values(length / share)
        if not plain or len(plain) > MOST_TIED or any(one.type not in SHORTEST for one in plain):
            return []
        for one in plain:
            value = Value(one.type, one.dots, tuplet, one.length * share)
            found.append(Written(measure.index, at, value, part.keys))
            at += value.length
    return [
        replace(
            one,
            keys=tuple(
                replace(
                    key,
                    from_before=key.from_before or place > 0,
                    goes_on=key.goes_on or place < len(found) - 1,
                )
                for key in one.keys
            ),
        )
        for place, one in enumerate(found)
    ]


def beat_length(measure: Measure) -> Fraction:
    """What is felt as a beat, in quarters: three of the metre's units in compound time (common practice)."""
    compound = measure.beats % 3 == 0 and measure.beats > 3 and measure.beat_type >= 8
    return Fraction(4 * (3 if compound else 1), measure.beat_type)
