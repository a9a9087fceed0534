"""What is good in a fingering and what to watch, in the trade's words and tied to notes.

Common practice throughout; spans are those of the hand in question. Where a stretch is spoken of, `CAUTION` stands.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import Literal

from scores.music.fingering.cost import Shape, hold, strike
from scores.music.fingering.hand import Hand
from scores.music.fingering.passage import Key, Passage, Step
from scores.music.fingering.problems import gettext_noop, key_name, place
from scores.music.notation import Score

Tone = Literal["good", "watch", "caution"]

ONE_POSITION = gettext_noop("The whole stretch lies under the hand in one position.")
RETURNS = gettext_noop("The same fingers come back on the same keys each octave.")
CHORD_STRETCH = gettext_noop(
    "A stretch of %(span)s semitones between %(finger)s and %(second)s, where %(comfortable)s are comfortable "
    "for this hand."
)
LINE_STRETCH = gettext_noop(
    "A reach of %(span)s semitones from %(second)s to %(finger)s, where %(comfortable)s are comfortable for this hand: "
    "let the hand travel rather than hold it open."
)
OPENS = gettext_noop("From %(second)s to %(finger)s over %(span)s semitones: the hand turns outward and opens.")
CLOSES = gettext_noop("From %(second)s to %(finger)s over %(span)s semitones: the hand closes; do not let it tighten.")
LIFT_BLACK = gettext_noop("Finger %(finger)s must lift to repeat the same black key.")
LIFT = gettext_noop("Finger %(finger)s repeats the key: let the key come up first.")
SAFE_CHANGE = gettext_noop("Safe change on the repeated note, %(second)s to %(finger)s.")
THUMB_BLACK = gettext_noop("Thumb on a black key, %(key)s: play closer to the fallboard.")
FIFTH_BLACK = gettext_noop("Fifth finger on a black key, %(key)s: bring the hand in before it.")
UNDER = gettext_noop("The thumb passes under %(second)s, from %(other)s to %(key)s.")
UNDER_ROOM = gettext_noop("The thumb passes under %(second)s while that is on a black key: there is room for it.")
UNDER_TO_BLACK = gettext_noop(
    "The thumb passes under %(second)s on a white key to a black one, %(key)s: move the hand in early."
)
OVER = gettext_noop("Finger %(finger)s passes over the thumb, from %(other)s to %(key)s.")
OVER_ROOM = gettext_noop("Finger %(finger)s passes over the thumb to a black key: the hand stays in its place.")
CROSSES = gettext_noop("Finger %(finger)s crosses finger %(second)s, from %(other)s to %(key)s: turn the hand with it.")
SHIFT = gettext_noop("The hand leaves its place and is set down anew on %(key)s.")
SLIDE = gettext_noop("Finger %(finger)s slides from the black key to the white one beside it.")
SAME_FINGER_ON = gettext_noop(
    "Finger %(finger)s plays %(other)s and then %(key)s: the line parts here unless the pedal carries it."
)
WEAK_IN_TURN = gettext_noop("Third, fourth and fifth finger in turn: keep them close to the keys.")
SUBSTITUTION = gettext_noop("Change silently from %(second)s to %(finger)s while %(key)s is held.")
GUIDE = gettext_noop("Finger %(finger)s stays on %(key)s from chord to chord and guides the hand.")
BETWEEN_BLACKS = gettext_noop("Broad fingers: play %(key)s at the edge, in front of the black keys.")
CAUTION = gettext_noop(
    "Stretch only as far as is easy and rest often. Stop when anything hurts; pain that lasts belongs to a clinician."
)
MESSAGES = (
    ONE_POSITION,
    RETURNS,
    CHORD_STRETCH,
    LINE_STRETCH,
    OPENS,
    CLOSES,
    LIFT_BLACK,
    LIFT,
    SAFE_CHANGE,
    THUMB_BLACK,
    FIFTH_BLACK,
    UNDER,
    UNDER_ROOM,
    UNDER_TO_BLACK,
    OVER,
    OVER_ROOM,
    CROSSES,
    SHIFT,
    SLIDE,
    SAME_FINGER_ON,
    WEAK_IN_TURN,
    SUBSTITUTION,
    GUIDE,
    BETWEEN_BLACKS,
    CAUTION,
)
STRETCHES = frozenset({CHORD_STRETCH, LINE_STRETCH})
SURROUNDED = frozenset({2, 7, 9})  # D, G and A lie between two black keys


@dataclass(frozen=True)
class Remark:
    """One thing to say. `tone`: "good", "watch" or "caution"; `message` is a msgid with %(name)s places for `params`,
    which also hold the measure and the beat; `notes` are the ids it speaks of, none for the whole stretch."""

    kind: str
    tone: Tone
    notes: tuple[str, ...]
    message: str
    params: Mapping[str, str | int] = field(default_factory=dict)

    def __str__(self) -> str:
        return self.message % self.params if self.params else self.message


@dataclass(frozen=True, slots=True)
class Motion:
    """A finger on a key after another finger on another."""

    second: int
    other: Key
    finger: int
    key: Key

    @property
    def interval(self) -> int:
        return self.key.key - self.other.key


def remarks(passage: Passage, hand: Hand, shapes: Sequence[Shape], score: Score | None = None) -> tuple[Remark, ...]:
    """All remarks on a fingering: first those on the whole, then in the order of the music."""
    found: list[Remark] = []
    for step, shape in zip(passage.steps, shapes, strict=True):
        found += on_the_fingers(step, shape, score)
        found += on_the_grip(step, shape, hand, score)
        if step.index:
            last = passage.steps[step.index - 1]
            found += on_the_way(last, step, shapes[step.index - 1], shape, hand, score)
    found += weak_in_turn(passage, shapes, score)
    moves = sum(remark.kind in ("passing", "crossing", "shift", "same-finger", "slide") for remark in found)
    whole = list(on_the_whole(passage, shapes, moves))
    order = {key.note.id: step.index for step in passage.steps for key in step.struck}
    found.sort(key=lambda remark: order.get(remark.notes[0], 0))
    if any(remark.message in STRETCHES for remark in found):
        whole.append(Remark("caution", "caution", (), CAUTION))
    return tuple(whole + found)


def say(kind: str, tone: Tone, message: str, keys: Sequence[Key], score: Score | None, **params: str | int) -> Remark:
    where = place(keys[0].note, score)
    return Remark(kind, tone, tuple(key.note.id for key in keys), message, where | params)


def on_the_whole(passage: Passage, shapes: Sequence[Shape], moves: int) -> Iterator[Remark]:
    if len(passage.steps) > 3 and not moves and all(step.is_single for step in passage.steps):
        yield Remark("position", "good", (), ONE_POSITION)
    returning = octave_fingers(passage, shapes)
    if moves and returning and all(fingers == other for fingers, other in returning):
        yield Remark("pattern", "good", (), RETURNS)


def octave_fingers(passage: Passage, shapes: Sequence[Shape]) -> list[tuple[int, int]]:
    """The fingers of each inner note of a run and of the note an octave before it. The outermost notes may differ."""
    pairs, place_of = [], {step.struck[0].key: step.index for step in passage.steps if step.in_run}
    for step in passage.steps[1:-1]:
        at = place_of.get(step.struck[0].key - 12) if step.in_run and not step.turn else None
        if at and 0 < step.index - at < 12:
            pairs.append((strike(shapes[at][0]), strike(shapes[step.index][0])))
    return pairs


def on_the_fingers(step: Step, shape: Shape, score: Score | None) -> Iterator[Remark]:
    for code, key in zip(shape, step.struck, strict=False):
        finger = strike(code)
        if key.black and finger == 1:
            yield say("thumb-on-black", "watch", THUMB_BLACK, [key], score, key=key_name(key.note))
        elif key.black and finger == 5 and step.is_single:
            yield say("fifth-on-black", "watch", FIFTH_BLACK, [key], score, key=key_name(key.note))
        if code > 5:
            words: dict[str, str | int] = {"second": finger, "finger": hold(code), "key": key_name(key.note)}
            yield say("substitution", "watch", SUBSTITUTION, [key], score, **words)


def on_the_grip(step: Step, shape: Shape, hand: Hand, score: Score | None) -> Iterator[Remark]:
    """The widest stretch between fingers that are down together, measured by what is comfortable for the two."""
    down = [(strike(code), key) for code, key in zip(shape, step.sounding, strict=True) if code]
    down.sort(key=lambda one: one[1].key)
    worst, found = 1.0, None
    for (finger, key), (second, other) in combinations(down, 2):
        if finger >= second or (key in step.held_keys and other in step.held_keys):
            continue
        spans, span = hand.by_pair[(finger, second)], other.key - key.key
        if worst < span / spans.max_comfortable and span <= spans.max_practical:
            worst, found = span / spans.max_comfortable, (finger, key, second, other)
    if found:
        finger, key, second, other = found
        words: dict[str, str | int] = {"span": other.key - key.key, "finger": finger, "second": second}
        words["comfortable"] = int(hand.by_pair[(finger, second)].max_comfortable)
        keys = [key, other] if key in step.struck else [other, key]
        yield say("stretch", "watch", CHORD_STRETCH, keys, score, **words)


def on_the_way(
    last: Step, step: Step, last_shape: Shape, shape: Shape, hand: Hand, score: Score | None
) -> Iterator[Remark]:
    if last.is_single and step.is_single:
        motion = Motion(hold(last_shape[0]), last.struck[0], strike(shape[0]), step.struck[0])
        remark = on_a_motion(motion, step, hand)
        if remark:
            kind, tone, message = remark
            words: dict[str, str | int] = {
                "finger": motion.finger,
                "second": motion.second,
                "key": key_name(motion.key.note),
                "other": key_name(motion.other.note),
                "span": abs(motion.interval),
            }
            if motion.finger != motion.second:
                pair = (min(motion.finger, motion.second), max(motion.finger, motion.second))
                words["comfortable"] = int(hand.by_pair[pair].max_comfortable)
            yield say(kind, tone, message, [motion.key, motion.other], score, **words)
        if "broad fingers" in hand.traits and motion.other.black and motion.key.key % 12 in SURROUNDED:
            yield say("broad", "watch", BETWEEN_BLACKS, [motion.key], score, key=key_name(motion.key.note))
        return
    before = {key.key: hold(code) for code, key in zip(last_shape, last.struck, strict=False)}
    for code, key in zip(shape, step.struck, strict=False):
        if before.get(key.key) == strike(code) and len(step.struck) > 1:
            yield say("guide", "good", GUIDE, [key], score, finger=strike(code), key=key_name(key.note))


def on_a_motion(motion: Motion, step: Step, hand: Hand) -> tuple[str, Tone, str] | None:
    """The one thing most worth saying of two notes in a line, if anything is."""
    if motion.interval == 0:
        if motion.finger != motion.second:
            return "repeated-note", "good", SAFE_CHANGE
        return "repeated-note", "watch", LIFT_BLACK if motion.key.black else LIFT
    if motion.finger == motion.second:
        beside = motion.other.black and not motion.key.black and abs(motion.interval) <= 2
        return ("slide", "watch", SLIDE) if beside else ("same-finger", "watch", SAME_FINGER_ON)
    if (motion.interval > 0) == (motion.finger > motion.second):
        return on_a_span(motion, hand)
    if min(motion.finger, motion.second) > 1:
        return "crossing", "watch", CROSSES
    if abs(motion.interval) > -hand.by_pair[(1, max(motion.finger, motion.second))].min_practical:
        return "shift", "watch", SHIFT
    return on_passing(motion)


def on_passing(motion: Motion) -> tuple[str, Tone, str]:
    if motion.finger == 1:
        if motion.other.black and not motion.key.black:
            return "passing", "good", UNDER_ROOM
        return "passing", "watch", UNDER_TO_BLACK if motion.key.black and not motion.other.black else UNDER
    if motion.key.black and not motion.other.black:
        return "passing", "good", OVER_ROOM
    return "passing", "watch", OVER


def on_a_span(motion: Motion, hand: Hand) -> tuple[str, Tone, str] | None:
    low, high = min(motion.finger, motion.second), max(motion.finger, motion.second)
    spans, span = hand.by_pair[(low, high)], abs(motion.interval)
    if span > spans.max_practical:
        return "shift", "watch", SHIFT
    if span > spans.max_comfortable:
        return "stretch", "watch", LINE_STRETCH
    if low == 1 and span > spans.max_relaxed:
        return "opens", "watch", OPENS
    if low == 1 and high > 3 and span <= spans.min_relaxed - 3:
        return "closes", "watch", CLOSES
    return None


def weak_in_turn(passage: Passage, shapes: Sequence[Shape], score: Score | None) -> Iterator[Remark]:
    """Runs of the third, fourth and fifth finger on neighbouring notes; each run is spoken of once."""
    spoken = -1
    for index in range(2, len(shapes)):
        steps = passage.steps[index - 2 : index + 1]
        if index - 2 <= spoken or not all(step.is_single for step in steps):
            continue
        if {strike(shape[0]) for shape in shapes[index - 2 : index + 1]} == {3, 4, 5}:
            spoken = index
            yield say("weak", "watch", WEAK_IN_TURN, [step.struck[0] for step in steps], score)
