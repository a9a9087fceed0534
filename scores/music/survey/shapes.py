"""Shapes of the hand: stretches, leaps, crossing hands, held fingers, the thumb on black keys."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from heapq import merge
from itertools import groupby, pairwise

from scores.music.fingering.problems import gettext_noop, key_name
from scores.music.notation import BLACK, SIDES, Note, Side
from scores.music.survey.timeline import Stroke, Timeline, runs
from scores.music.survey.words import Finding, Kind, Params

STRETCH = gettext_noop("%(interval)s held open, where this hand holds %(reach)s in comfort.")
STRETCHES = gettext_noop("%(count)s times running up to %(interval)s, where this hand holds %(reach)s in comfort.")
REACH = gettext_noop(
    "%(interval)s, more than this hand reaches at most (%(reach)s): roll it, leave a note out, or share."
)
REACHES = gettext_noop("%(count)s times running up to %(interval)s, more than this hand reaches at most (%(reach)s).")
LEAP = gettext_noop("A leap from %(note)s to %(other)s, %(interval)s, with %(ms)s ms to travel.")
ABOVE = gettext_noop("The left hand plays above the right.")
SHARED = gettext_noop("Both hands want %(note)s at once.")
HELD = gettext_noop("%(note)s is held while the same hand strikes %(count)s times.")
HELD_CHAIN = gettext_noop(
    "Held notes one after another, from %(note)s on, while the same hand strikes %(count)s times."
)
THUMB_GRIP = gettext_noop("A wide grip: the thumb on %(note)s, a black key, the little finger’s side on a white one.")
THUMB_RUN = gettext_noop("%(count)s black keys on end in one direction: the thumb has to pass on one of them.")

# What a leap needs: time to let go and to aim, and time for the way. Set by hand.
LEAP_READY_MS = 100
LEAP_MS_PER_SEMITONE = 12
HELD_LEAST = 2  # strokes of the same hand during a note
GRIP_AGAIN = 4
BLACK_LEAST = 5  # black keys on end that four fingers do not cover

Open = dict[int, tuple[int, Note]]  # keys that are down: key -> (when it is let go, note)


def shapes(line: Timeline) -> Iterator[Finding]:
    """Everything of this module, in no order."""
    for side in SIDES:
        yield from stretches(line, side)
        yield from leaps(line, side)
        yield from held(line, side)
        yield from thumb_grips(line, side)
        yield from thumb_runs(line, side)
    yield from crossed_hands(line)


def press(down: Open, stroke: Stroke) -> None:
    """Lets go what has ended, presses what is struck."""
    for key in [key for key, (end, _) in down.items() if end <= stroke.at]:
        del down[key]
    for note, key, end in zip(stroke.notes, stroke.keys, stroke.ends, strict=True):
        if key not in down or down[key][0] < end:
            down[key] = (end, note)


def stretches(line: Timeline, side: Side) -> Iterator[Finding]:
    """Keys down together that lie further apart than the hand holds in comfort, or reaches at most; strokes that follow
    each other are one finding. Rolled chords are listed as such."""
    strokes, hand = line.strokes[side], line.options.hand_of(side)
    down: Open = {}
    spans: list[tuple[int, Note, Note]] = []
    for stroke in strokes:
        press(down, stroke)
        low, high = min(down, default=0), max(down, default=0)
        if high - low <= hand.comfortable or stroke.is_rolled:
            spans.append((0, stroke.notes[0], stroke.notes[0]))
        else:
            spans.append((high - low, down[low][1], down[high][1]))
    kinds = [None if not span else "reach" if span > hand.largest else "stretch" for span, _, _ in spans]
    for start, stop in runs(kinds):
        inside = spans[start:stop]
        ends = sorted(
            {note.id: note for _, low, high in inside for note in (low, high)}.values(),
            key=lambda note: line.score.place_of[note.id],
        )
        is_beyond = kinds[start] == "reach"
        kind: Kind = "reach" if is_beyond else "stretch"
        params: Params = {
            "interval": max(span for span, _, _ in inside),
            "reach": int(hand.largest if is_beyond else hand.comfortable),
        }
        message = REACH if is_beyond else STRETCH
        if len(inside) > 1:
            message, params["count"] = REACHES if is_beyond else STRETCHES, len(inside)
        yield line.finding(kind, ends, side, message, params, anchor=strokes[start].notes[0])


def leaps(line: Timeline, side: Side) -> Iterator[Finding]:
    """From one stroke to the next further than one position holds, and sooner than the way takes."""
    strokes, hand = line.strokes[side], line.options.hand_of(side)
    for place, (here, there) in enumerate(pairwise(strokes)):
        low, high = min(here.low, there.low), max(here.high, there.high)
        if high - low <= hand.largest:
            continue
        way = max(abs(there.low - here.low), abs(there.high - here.high))
        ms = 1000 * line.seconds(side, place)
        if way <= hand.largest / 2 or ms >= LEAP_READY_MS + LEAP_MS_PER_SEMITONE * way:
            continue
        upwards = there.low + there.high > here.low + here.high
        first, second = (here.notes[0], there.notes[-1]) if upwards else (here.notes[-1], there.notes[0])
        span = abs(second.pitch.midi - first.pitch.midi)
        said: Params = {"note": key_name(first), "other": key_name(second), "interval": span, "ms": round(ms)}
        yield line.finding("leap", [first, second], side, LEAP, said)


def held(line: Timeline, side: Side) -> Iterator[Finding]:
    """Notes during which the same hand strikes at least `HELD_LEAST` times; those that overlap are one finding."""
    strokes, at = line.strokes[side], line.at[side]
    chain: list[Note] = []
    start, stop = 0, 0
    for place, stroke in enumerate(strokes):
        longest = max(stroke.ends)
        if place + HELD_LEAST >= len(at) or longest <= at[place + HELD_LEAST]:
            continue
        until = bisect_left(at, longest, place)
        if chain and place >= stop:
            yield held_finding(line, side, chain, strokes[stop - 1].notes[-1], stop - start - 1)
            chain = []
        if not chain:
            start = place
        limit = at[place + HELD_LEAST]
        chain += [note for note, end in zip(stroke.notes, stroke.ends, strict=True) if end > limit]
        stop = max(stop, until)
    if chain:
        yield held_finding(line, side, chain, strokes[stop - 1].notes[-1], stop - start - 1)


def held_finding(line: Timeline, side: Side, notes: list[Note], last: Note, count: int) -> Finding:
    message = HELD if len(notes) == 1 else HELD_CHAIN
    return line.finding("held", notes, side, message, {"note": key_name(notes[0]), "count": count}, last=last)


def thumb_grips(line: Timeline, side: Side) -> Iterator[Finding]:
    """Grips that need the thumb, on a black key, while the little finger's side is on a white one: the hand turns and
    moves in. Common practice; a grip needs the thumb when it is wider than the comfort of second and fifth finger. The
    same grip again within `GRIP_AGAIN` strokes, as in an accompaniment, is one finding."""
    strokes = line.strokes[side]
    without = line.options.hand_of(side).by_pair[(2, 5)].max_comfortable
    thumb, fifth = (0, -1) if side == "right" else (-1, 0)
    notes: list[Note] = []
    last, grip = -1, [-1]
    for place, stroke in enumerate(strokes):
        keys = stroke.keys
        is_black, turns = keys[thumb] % 12 in BLACK, keys[fifth] % 12 not in BLACK
        if not (is_black and turns and stroke.high - stroke.low > without):
            continue
        if notes and (place - last > GRIP_AGAIN or keys != grip):
            yield grip_finding(line, side, notes)
            notes = []
        notes.append(stroke.notes[thumb])
        last, grip = place, keys
    if notes:
        yield grip_finding(line, side, notes)


def grip_finding(line: Timeline, side: Side, notes: list[Note]) -> Finding:
    return line.finding("thumb", notes, side, THUMB_GRIP, {"note": key_name(notes[0])}, detail="grip")


def thumb_runs(line: Timeline, side: Side) -> Iterator[Finding]:
    """Single black keys on end in one direction, more than the four other fingers cover. Common practice."""
    strokes = line.strokes[side]
    ways: list[int] = []
    for here, there in pairwise(strokes):
        single = len(here.keys) == 1 == len(there.keys)
        both = single and here.low % 12 in BLACK and there.low % 12 in BLACK
        ways.append((there.low > here.low) - (there.low < here.low) if both else 0)
    for start, stop in runs(ways, BLACK_LEAST - 1):
        notes = [stroke.notes[0] for stroke in strokes[start : stop + 1]]
        yield line.finding("thumb", notes, side, THUMB_RUN, {"count": len(notes)}, detail="run")


def crossed_hands(line: Timeline) -> Iterator[Finding]:
    """Moments in which the left hand holds a key above one of the right's, or the very same key; moments that follow
    each other are one finding. Hands are the staves' own: what one hand takes over from the other's staff is not known.
    """
    down: dict[Side, Open] = {side: {} for side in SIDES}
    both = merge(
        *([(stroke.at, side, stroke) for stroke in line.strokes[side]] for side in SIDES), key=lambda one: one[0]
    )
    found: list[tuple[str, Note, Note]] = []
    struck: list[Note] = []
    for at, group in groupby(both, key=lambda one: one[0]):
        for side in SIDES:
            for key in [key for key, (end, _) in down[side].items() if end <= at]:
                del down[side][key]
        for place, (_, side, stroke) in enumerate(group):
            press(down[side], stroke)
            if place == 0:
                struck.append(stroke.notes[0])
        right, left = down["right"], down["left"]
        if not right or not left or max(left) < min(right):
            found.append(("", *any_two(right, left)))
            continue
        lowest, highest = min(right), max(left)
        kind = "shared" if lowest == highest else "above"
        found.append((kind, right[lowest][1], left[highest][1]))
    for start, stop in runs(kind for kind, _, _ in found):
        notes = sorted(
            {note.id: note for _, high, low in found[start:stop] for note in (high, low)}.values(),
            key=lambda note: line.score.place_of[note.id],
        )
        if found[start][0] == "shared":
            names = {"note": key_name(found[start][1])}
            yield line.finding("crossed-hands", notes, "both", SHARED, names, detail="shared", anchor=struck[start])
        else:
            yield line.finding("crossed-hands", notes, "both", ABOVE, detail="above", anchor=struck[start])


def any_two(right: Open, left: Open) -> tuple[Note, Note]:
    """Some notes that are down, to stand where nothing crosses."""
    note = next(iter((*right.values(), *left.values())))[1]
    return note, note
