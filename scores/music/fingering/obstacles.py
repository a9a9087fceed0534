"""What this hand cannot play in a fingering, where, and the smallest change that would help."""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from dataclasses import replace
from itertools import combinations

from scores.music.fingering.checks import NO_TIME_TO_CHANGE, SAME_FINGER, STILL_HELD, before
from scores.music.fingering.cost import Shape, hold, strike
from scores.music.fingering.hand import Hand
from scores.music.fingering.passage import Key, Passage, Step, thumb_covers
from scores.music.fingering.problems import Problem, gettext_noop, key_name, place
from scores.music.fingering.remedies import Remedies, Remedy
from scores.music.notation import Score

TOO_MANY_NOTES = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: %(count)s keys at once are more than one hand has fingers for. "
    "Give %(keys)s to the other hand, or roll the chord."
)
TOO_MANY_GIVE = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: %(count)s keys at once are more than one hand has fingers for. "
    "Give %(give)s to the other hand."
)
TOO_MANY_ROLL = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: %(count)s keys at once are more than one hand has fingers for. Roll the chord."
)
TOO_MANY = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: %(count)s keys at once are more than one hand has fingers for."
)
TOO_WIDE_TO_GRIP = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: %(span)s semitones from %(key)s to %(other)s between fingers %(finger)s and "
    "%(second)s, where this hand reaches %(reach)s at most. Roll the chord, or give %(give)s to the other hand."
)
TOO_WIDE_GIVE = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: %(span)s semitones from %(key)s to %(other)s between fingers %(finger)s and "
    "%(second)s, where this hand reaches %(reach)s at most. Give %(give)s to the other hand."
)
TOO_WIDE_ROLL = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: %(span)s semitones from %(key)s to %(other)s between fingers %(finger)s and "
    "%(second)s, where this hand reaches %(reach)s at most. Roll the chord."
)
TOO_WIDE_TO_HOLD = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: %(span)s semitones from %(key)s to %(other)s between fingers %(finger)s and "
    "%(second)s, where this hand reaches %(reach)s at most. "
    "Let go of %(give)s and leave it to the pedal, or give it to the other hand."
)
TOO_WIDE_TO_HOLD_ALL = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: %(span)s semitones from %(key)s to %(other)s between fingers %(finger)s and "
    "%(second)s, where this hand reaches %(reach)s at most. "
    "Let go of %(give)s and leave them to the pedal, or give them to the other hand."
)
TOO_WIDE_FOR_THESE_FINGERS = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: %(span)s semitones from %(key)s to %(other)s between fingers %(finger)s and "
    "%(second)s, where this hand reaches %(reach)s at most. Other fingers reach it."
)
TOO_WIDE_ROLL_OR_OTHERS = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: %(span)s semitones from %(key)s to %(other)s between fingers %(finger)s and "
    "%(second)s, where this hand reaches %(reach)s at most. Roll the chord, or take other fingers, which reach it."
)
TOO_WIDE = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: %(span)s semitones from %(key)s to %(other)s between fingers %(finger)s and "
    "%(second)s, where this hand reaches %(reach)s at most."
)
TOO_CROSSED = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: fingers %(finger)s on %(key)s and %(second)s on %(other)s cross further than "
    "this hand can. Another finger on one of them would help."
)
LET_GO = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: no finger is left to hold %(other)s, struck in measure %(from_measure)s, beat "
    "%(from_beat)s. Let go of %(give)s and leave it to the pedal, or give it to the other hand."
)
LET_GO_ALL = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: no finger is left to hold %(other)s, struck in measure %(from_measure)s, beat "
    "%(from_beat)s. Let go of %(give)s and leave them to the pedal, or give them to the other hand."
)
NO_FINGER_GIVE = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: no finger is left to hold %(other)s, struck in measure %(from_measure)s, beat "
    "%(from_beat)s. Give %(give)s to the other hand."
)
NO_FINGER_ROLL = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: no finger is left to hold %(other)s, struck in measure %(from_measure)s, beat "
    "%(from_beat)s. Roll the chord."
)
NO_FINGER_WITH_THESE = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: no finger is left to hold %(other)s, struck in measure %(from_measure)s, beat "
    "%(from_beat)s. Other fingers leave one free."
)
NO_FINGER = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: no finger is left to hold %(other)s, struck in measure %(from_measure)s, beat "
    "%(from_beat)s."
)
OUTSIDE_THE_RULES = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: the published rules know no step from finger %(second)s on %(other)s to "
    "finger %(finger)s on %(key)s."
)
MESSAGES = (
    TOO_CROSSED,
    TOO_MANY_NOTES,
    TOO_MANY_GIVE,
    TOO_MANY_ROLL,
    TOO_MANY,
    TOO_WIDE_TO_GRIP,
    TOO_WIDE_GIVE,
    TOO_WIDE_ROLL,
    TOO_WIDE_TO_HOLD,
    TOO_WIDE_TO_HOLD_ALL,
    TOO_WIDE_FOR_THESE_FINGERS,
    TOO_WIDE_ROLL_OR_OTHERS,
    TOO_WIDE,
    LET_GO,
    LET_GO_ALL,
    NO_FINGER_GIVE,
    NO_FINGER_ROLL,
    NO_FINGER_WITH_THESE,
    NO_FINGER,
    OUTSIDE_THE_RULES,
    SAME_FINGER,
    NO_TIME_TO_CHANGE,
    STILL_HELD,
)

# By kind, the sentence for each advice: roll or give, give, roll, let go of one key or of several, take other fingers;
# the last where nothing was found to help.
ADVICE = {
    "too-many-notes": (TOO_MANY_NOTES, TOO_MANY_GIVE, TOO_MANY_ROLL, TOO_MANY_GIVE, TOO_MANY_GIVE, TOO_MANY, TOO_MANY),
    "too-wide": (
        TOO_WIDE_TO_GRIP,
        TOO_WIDE_GIVE,
        TOO_WIDE_ROLL,
        TOO_WIDE_TO_HOLD,
        TOO_WIDE_TO_HOLD_ALL,
        TOO_WIDE_FOR_THESE_FINGERS,
        TOO_WIDE,
    ),
    "let-go": (NO_FINGER_GIVE, NO_FINGER_GIVE, NO_FINGER_ROLL, LET_GO, LET_GO_ALL, NO_FINGER_WITH_THESE, NO_FINGER),
}

Down = tuple[int, Key, bool]


def obstacles(
    passage: Passage,
    hand: Hand,
    shapes: Sequence[Shape],
    score: Score | None,
    remedies: Remedies,
    *,
    asked: Container[str] = (),
    melodic: bool = False,
) -> tuple[Problem, ...]:
    """All that cannot be played, in the order of the music. `asked` are the notes whose fingers were asked for;
    `melodic`: also what the published rules rule out."""
    found: list[Problem] = []
    for step, shape in zip(passage.steps, shapes, strict=True):
        of_step = [*crowded(step, score), *gripped(step, shape, hand, score), *unchanged(step, shape, score)]
        if step.index:
            last, last_shape = passage.steps[step.index - 1], shapes[step.index - 1]
            of_step += dropped(step, shape, last_shape, asked, score)
        found += [
            advised(problem, remedies.at(step.index)) if problem.kind in ADVICE else problem for problem in of_step
        ]
        if step.index and melodic:
            found += outside(last, step, last_shape, shape, hand, score)
    return tuple(found)


def advised(problem: Problem, remedy: Remedy) -> Problem:
    """The problem with the smallest change that was seen to help."""
    if remedy.other_fingers:
        which = 5
    elif remedy.give and remedy.held:
        which = 3 if len(remedy.give) == 1 else 4
    elif remedy.give:
        which = 0 if remedy.roll else 1
    else:
        which = 2 if remedy.roll else 6
    message = ADVICE[problem.kind][which]
    if message == TOO_WIDE_FOR_THESE_FINGERS and remedy.roll:
        message = TOO_WIDE_ROLL_OR_OTHERS
    names = ", ".join(key_name(note) for note in remedy.give)
    words = dict(problem.params) | ({"give": names, "keys": names} if names else {})
    return replace(problem, message=message, params=words)


def crowded(step: Step, score: Score | None) -> Iterator[Problem]:
    if step.spare:
        words = place(step.spare[0], score) | {
            "count": len(step.struck) + len(step.spare),
        }
        ids = tuple(note.id for note in step.spare)
        yield Problem("too-many-notes", ids, TOO_MANY, words)


def dropped(
    step: Step, shape: Shape, last_shape: Shape, asked: Container[str], score: Score | None
) -> Iterator[Problem]:
    """Held keys whose finger was needed elsewhere. A key that was let go before is not spoken of again."""
    for code, at, key in zip(shape[len(step.struck) :], step.held, step.held_keys, strict=True):
        finger = hold(last_shape[at])
        if code or not finger:
            continue
        taker = next(other for other, took in zip(step.struck, shape, strict=False) if strike(took) == finger)
        words = place(taker.note, score) | {
            "finger": finger,
            "key": key_name(taker.note),
            "other": key_name(key.note),
            **before(key.note, score),
        }
        if taker.note.id in asked and key.note.id in asked:
            yield Problem("still-held", (taker.note.id, key.note.id), STILL_HELD, words)
        else:
            yield Problem("let-go", (key.note.id, taker.note.id), NO_FINGER, words)


def gripped(step: Step, shape: Shape, hand: Hand, score: Score | None) -> Iterator[Problem]:
    down = [
        (strike(code), key, place < len(step.struck))
        for place, (code, key) in enumerate(zip(shape, step.sounding, strict=True))
        if code
    ]
    down.sort(key=lambda one: one[1].key)
    found = [
        problem
        for low, high in combinations(down, 2)
        if low[2] or high[2]
        for problem in pair_problem(low, high, hand, score)
    ]
    yield from (problem for problem in found if problem.kind != "too-wide")
    # One chord that is too wide is one obstacle, told by its worst pair.
    wide = [problem for problem in found if problem.kind == "too-wide"]
    if wide:
        yield max(wide, key=lambda problem: int(problem.params["span"]) - int(problem.params["reach"]))


def pair_problem(low: Down, high: Down, hand: Hand, score: Score | None) -> Iterator[Problem]:
    (finger, key, _), (second, other, other_struck) = low, high
    newest = other if other_struck else key
    words = place(newest.note, score) | {
        "finger": finger,
        "second": second,
        "key": key_name(key.note),
        "other": key_name(other.note),
    }
    ids = (newest.note.id, (key if newest is other else other).note.id)
    if finger == second:
        if finger != 1 or not thumb_covers(key, other):
            yield Problem("same-finger", ids, SAME_FINGER, words)
        return
    spans = hand.by_pair[(min(finger, second), max(finger, second))]
    interval = other.key - key.key
    if finger > second:
        if -interval < spans.min_practical:
            yield Problem("too-crossed", ids, TOO_CROSSED, words)
    elif interval > spans.max_practical:
        words |= {"span": interval, "reach": int(spans.max_practical)}
        yield Problem("too-wide", ids, TOO_WIDE, words)


def unchanged(step: Step, shape: Shape, score: Score | None) -> Iterator[Problem]:
    """Substitutions to a finger that another key keeps."""
    for code, key in zip(shape, step.sounding, strict=True):
        if code > 5:
            for other_code, other in zip(shape, step.sounding, strict=True):
                if other is not key and hold(other_code) == hold(code):
                    words = place(key.note, score) | {
                        "finger": hold(code),
                        "key": key_name(key.note),
                        "other": key_name(other.note),
                    }
                    yield Problem("no-time", (key.note.id, other.note.id), NO_TIME_TO_CHANGE, words)


def outside(
    last: Step, step: Step, last_shape: Shape, shape: Shape, hand: Hand, score: Score | None
) -> Iterator[Problem]:
    second, other = hold(last_shape[len(last.struck) - 1]), last.struck[-1]
    finger, key = strike(shape[len(step.struck) - 1]), step.struck[-1]
    if finger == second:
        possible = key.key == other.key
    else:
        low, high = min(finger, second), max(finger, second)
        spans = hand.by_pair[(low, high)]
        span = key.key - other.key if finger > second else other.key - key.key
        possible = spans.min_practical <= span <= spans.max_practical
    if not possible:
        words = place(key.note, score) | {
            "finger": finger,
            "second": second,
            "key": key_name(key.note),
            "other": key_name(other.note),
        }
        yield Problem("outside-the-rules", (key.note.id, other.note.id), OUTSIDE_THE_RULES, words)
