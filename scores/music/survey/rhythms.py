"""Rhythms: hands that cross, unusual tuplets, fast passages, fast repeated notes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from math import gcd

from scores.music.crossrhythm import Crossing, find
from scores.music.fingering.problems import gettext_noop, key_name
from scores.music.notation import SIDES, Measure, Note, Side, Tuplet
from scores.music.survey.timeline import Stroke, Timeline
from scores.music.survey.words import Finding, Params

CROSSING = gettext_noop("%(right)s in the right hand against %(left)s in the left.")
CROSSING_RUNS = gettext_noop("%(right)s in the right hand against %(left)s in the left, %(count)s times running.")
NO_RATIO = gettext_noop("The hands’ rhythms cross, without one plain ratio.")
TUPLET = gettext_noop("%(actual)s in the time of %(normal)s.")
REPEAT = gettext_noop("%(note)s is struck %(count)s times running, up to %(rate)s a second: a change of fingers helps.")
FAST = gettext_noop("%(count)s strokes running, up to %(rate)s a second at ♩ = %(tempo)s.")

# Triplets and sextuplets are everybody's; a duplet in three, a five, a seven are not. Common practice.
USUAL = frozenset({(3, 2), (6, 4)})
REPEATED_A_SECOND = 5.0  # From here on one finger tires on one key. Set by hand.
REPEATED_LEAST = 3  # strokes
FAST_LEAST = 6  # strokes that make a passage; fewer are a turn of the hand. Set by hand.


# Cross-rhythms and tuplets


def crossings(line: Timeline) -> Iterator[Finding]:
    """The spans of `crossrhythm.find`; those that follow each other at once with one ratio are one finding."""
    score = line.score
    own = [score.measures[index] for index in crossed_measures(line)]
    if not own:
        return
    wanted = {measure.index for measure in own}
    part = replace(
        score,
        measures=tuple(own),
        notes=tuple(note for note in score.notes if note.measure in wanted),
    )
    chain: list[Crossing] = []
    for crossing in find(part):
        if chain and (crossing.start != chain[-1].end or crossing.ratio != chain[-1].ratio):
            yield crossing_finding(line, chain)
            chain = []
        chain.append(crossing)
    if chain:
        yield crossing_finding(line, chain)


def crossing_finding(line: Timeline, chain: Sequence[Crossing]) -> Finding:
    ids = {name for one in chain for stroke in (*one.upper_notes, *one.lower_notes) for name in stroke}
    notes = sorted((line.score.by_id[name] for name in ids), key=lambda note: line.score.place_of[note.id])
    ratio = chain[0].ratio
    if ratio is None:
        return line.finding("cross-rhythm", notes, "both", NO_RATIO)
    params: Params = {"right": ratio[0], "left": ratio[1]}
    message = CROSSING
    if len(chain) > 1:
        message, params["count"] = CROSSING_RUNS, len(chain)
    return line.finding("cross-rhythm", notes, "both", message, params, detail=f"{ratio[0]}:{ratio[1]}")


def crossed_measures(line: Timeline) -> list[int]:
    """Measures in which some beat, half or whole has hands whose divisions do not fit: with whole numbers, so that the
    search with exact fractions looks at these alone."""
    struck: dict[int, tuple[list[int], list[int]]] = {}
    for place, side in enumerate(SIDES):
        for stroke in line.strokes[side]:
            struck.setdefault(stroke.notes[0].measure, ([], []))[place].append(stroke.at)
    measures = line.score.measures
    return [
        index
        for index in sorted(struck)
        if struck[index][0] and struck[index][1] and may_cross(line, measures[index], *struck[index])
    ]


def may_cross(line: Timeline, measure: Measure, right: list[int], left: list[int]) -> bool:
    ticks = line.ticks
    start, length, nominal = measure.start * ticks, measure.length * ticks, measure.nominal * ticks
    is_compound = measure.beats > 3 and measure.beats % 3 == 0 and measure.beat_type >= 8
    beat = Fraction(4 * ticks * (3 if is_compound else 1), measure.beat_type)
    origin = start + length - nominal if measure.is_pickup else start
    for size in {beat, nominal / 2, length}:
        if size <= 0:
            continue
        begin = start if size == length else origin
        while begin + size <= start + length:
            if begin >= start and not fits(begin, size, right, left):
                return True
            begin += size
    return False


def fits(begin: Fraction, size: Fraction, right: list[int], left: list[int]) -> bool:
    """Whether one hand's even division of the span holds the other's."""
    # In parts that measure the span's ends too, where these fall between ticks.
    scale = begin.denominator * size.denominator
    start, whole = int(begin * scale), int(size * scale)
    divisions = []
    for hand in (right, left):
        measure, inside = whole, False
        for at in hand:
            offset = at * scale - start
            if 0 <= offset < whole:
                inside = True
                measure = gcd(measure, offset)
        if not inside:
            return True
        divisions.append(whole // measure)
    upper, lower = divisions
    return upper % lower == 0 or lower % upper == 0


def tuplets(line: Timeline, crossed: frozenset[str]) -> Iterator[Finding]:
    """Tuplets other than triplets and sextuplets, voice by voice; those that run on are one finding. What is part of a
    cross-rhythm that is listed (`crossed`, its ids) is not listed again."""
    lanes: dict[tuple[Side, str], list[Note]] = {}
    for note in line.score.notes:
        if note.tuplet and not note.is_grace and is_unusual(note):
            lanes.setdefault((note.side, note.voice), []).append(note)
    for (side, _), notes in lanes.items():
        row: list[Note] = []
        for note in notes:
            if row and not goes_on(row[-1], note):
                yield from tuplet_finding(line, side, row, crossed)
                row = []
            row.append(note)
        yield from tuplet_finding(line, side, row, crossed)


def is_unusual(note: Note) -> bool:
    """Two keys of a tremolo are written with doubled values: that is no tuplet."""
    assert note.tuplet is not None
    return (note.tuplet.actual, note.tuplet.normal) not in USUAL and not any(
        sign.kind == "tremolo" for sign in note.ornaments
    )


def goes_on(before: Note, note: Note) -> bool:
    """The same tuplet, with at most its own rests between."""
    assert before.tuplet is not None
    room = before.length * before.tuplet.actual
    return note.tuplet == before.tuplet and note.onset - before.end < room


def tuplet_finding(line: Timeline, side: Side, row: list[Note], crossed: frozenset[str]) -> Iterator[Finding]:
    if all(note.id in crossed for note in row):
        return
    tuplet: Tuplet | None = row[0].tuplet
    assert tuplet is not None
    numbers = {"actual": tuplet.actual, "normal": tuplet.normal}
    yield line.finding("tuplet", row, side, TUPLET, numbers, detail=f"{tuplet.actual}:{tuplet.normal}")


# Speed


def repeats(line: Timeline, side: Side) -> Iterator[tuple[int, int, Finding]]:
    """Keys struck again at once, at least `REPEATED_LEAST` times running: first stroke, the one after the last, and
    what to say of them. Of keys that are repeated together, as a chord is, the lowest of the longest run speaks."""
    strokes = line.strokes[side]
    running: dict[int, tuple[int, float]] = {}  # key -> first stroke, quickest gap in seconds
    found: list[tuple[int, int, int, float]] = []  # first stroke, minus the one after the last, key, quickest gap
    for place in range(1, len(strokes) + 1):
        gap = line.seconds(side, place - 1) if place < len(strokes) else 1e9
        struck = set(strokes[place].keys) if gap * REPEATED_A_SECOND <= 1 else set()
        again = {key: running.get(key, (place - 1, gap)) for key in strokes[place - 1].keys if key in struck}
        found += [
            (start, -place, key, quickest)
            for key, (start, quickest) in running.items()
            if key not in again and place - start >= REPEATED_LEAST
        ]
        running = {key: (start, min(quickest, gap)) for key, (start, quickest) in again.items()}
    until = 0
    for start, stop, key, quickest in sorted(found):
        if -stop > until:
            until = -stop
            yield start, until, repeat_finding(line, side, strokes[start:until], key, quickest)


def repeat_finding(line: Timeline, side: Side, strokes: list[Stroke], key: int, quickest: float) -> Finding:
    notes = [stroke.notes[stroke.keys.index(key)] for stroke in strokes]
    said: Params = {"note": key_name(notes[0]), "count": len(notes), "rate": rate_words(1 / quickest)}
    return line.finding("repeat", notes, side, REPEAT, said)


def fast_passages(line: Timeline, side: Side, repeated: Sequence[tuple[int, int]]) -> Iterator[Finding]:
    """Strokes of one hand that follow each other faster than asked for. What is nothing but a repeated note (in
    `repeated`, ranges of strokes) is listed there."""
    strokes, rate = line.strokes[side], line.options.notes_per_second
    gaps = line.gaps[side]
    start = 0
    for place in range(1, len(strokes) + 1):
        if place < len(strokes) and gaps[place - 1] * rate < 1:
            continue
        inside = any(first <= start and place <= stop for first, stop in repeated) if repeated else False
        if place - start >= FAST_LEAST and not inside:
            notes = [note for stroke in strokes[start:place] for note in stroke.notes]
            said: Params = {
                "count": place - start,
                "rate": rate_words(1 / min(gaps[start : place - 1])),
                "tempo": f"{float(line.tempo_at(notes[0].onset)):.4g}",
            }
            yield line.finding("fast", notes, side, FAST, said)
        start = place


def rate_words(rate: float) -> str:
    return f"{rate:.3g}"


def speed(line: Timeline) -> Iterator[Finding]:
    for side in SIDES:
        repeated = list(repeats(line, side))
        yield from (finding for _, _, finding in repeated)
        ranges = [(first, stop) for first, stop, _ in repeated] if "repeat" in line.options.kinds else []
        yield from fast_passages(line, side, ranges)


def rhythms(line: Timeline) -> Iterator[Finding]:
    """Everything of this module, in no order."""
    crossed: set[str] = set()
    if "cross-rhythm" in line.options.kinds:
        for finding in crossings(line):
            crossed.update(finding.notes)
            yield finding
    yield from tuplets(line, frozenset(crossed))
    yield from speed(line)
