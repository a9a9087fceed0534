"""What cannot be in a fingering, said at once and precisely.

Unmarked notes say nothing. A finger holds its key until the note ends as written, ties joined; a substitution frees all
its fingers but the last. All rules here are common practice.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from scores.music.fingering.hand import Hand
from scores.music.fingering.problems import Problem, gettext_noop, key_name, place
from scores.music.fingering.text import NOT_A_FINGER_AT, fingers_of, quoted
from scores.music.notation import Note, Score, held_until, moments, reading_order

SAME_FINGER = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: finger %(finger)s is asked for on two keys at once, %(key)s and %(other)s."
)
TWO_KEYS_ONE_THUMB = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: the thumb lies on two keys at once, %(key)s and %(other)s."
)
TWO_FINGERS_ONE_KEY = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: two different fingers, %(finger)s and %(second)s, stand on one key, %(key)s."
)
STILL_HELD = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: finger %(finger)s is asked for on %(key)s while it still holds %(other)s, "
    "struck in measure %(from_measure)s, beat %(from_beat)s."
)
NO_TIME_TO_CHANGE = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: %(key)s cannot change to finger %(finger)s, "
    "which holds %(other)s all the while."
)
CROSSED = gettext_noop(
    "Measure %(measure)s, beat %(beat)s: finger %(finger)s on %(key)s and finger %(second)s on %(other)s are crossed."
)
JOIN_SAME_FINGER = gettext_noop(
    "From measure %(from_measure)s, beat %(from_beat)s to measure %(measure)s, beat %(beat)s: finger %(finger)s plays "
    "%(other)s and then %(key)s, so the line breaks where the parts join."
)
JOIN_TOO_WIDE = gettext_noop(
    "From measure %(from_measure)s, beat %(from_beat)s to measure %(measure)s, beat %(beat)s: from finger %(second)s "
    "on %(other)s to finger %(finger)s on %(key)s is beyond this hand's reach, so the hand leaps where the parts join."
)
MESSAGES = (
    NOT_A_FINGER_AT,
    SAME_FINGER,
    TWO_KEYS_ONE_THUMB,
    TWO_FINGERS_ONE_KEY,
    STILL_HELD,
    NO_TIME_TO_CHANGE,
    CROSSED,
    JOIN_SAME_FINGER,
    JOIN_TOO_WIDE,
)

Fingers = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Down:
    """A key that a marked finger strikes, or takes over on a tied note."""

    note: Note
    fingers: tuple[int, ...]
    until: Fraction

    @property
    def holds(self) -> int:
        """The finger that is on the key once a substitution is done."""
        return self.fingers[-1]


def check(notes: Iterable[Note], fingers: Fingers, score: Score) -> tuple[Problem, ...]:
    """Everything in the fingering that cannot be or that looks like a slip, in the order of the music.

    `notes` may hold both hands: each is looked at by itself.
    """
    passage = sorted(notes, key=reading_order)
    problems = [
        Problem("not-a-finger", (note.id,), NOT_A_FINGER_AT, place(note, score) | {"typed": quoted(fingers[note.id])})
        for note in passage
        if fingers.get(note.id) and not fingers_of(fingers[note.id])
    ]
    for side in ("right", "left"):
        hand_notes = [note for note in passage if note.side == side]
        if hand_notes:
            problems += check_hand(hand_notes, fingers, score)
    where = {note.id: index for index, note in enumerate(passage)}
    return tuple(sorted(problems, key=lambda problem: where[problem.notes[0]]))


def check_hand(notes: Sequence[Note], fingers: Fingers, score: Score) -> list[Problem]:
    """As `check`, for notes of one hand in reading order."""
    problems: list[Problem] = []
    held: list[Down] = []
    for group in grouped(downs(notes, fingers, score)):
        onset = group[0].note.onset
        held = [down for down in held if down.until > onset and not taken_over(down, group)]
        problems += at_once(group, score)
        for down in group:
            problems += against_held(down, held, score)
            problems += no_time_to_change(down, [*held, *group], score)
        held += group
    return problems


def downs(notes: Sequence[Note], fingers: Fingers, score: Score) -> list[Down]:
    """The marked notes with the time their keys are released. A marked note inside a tie takes its key over."""
    side, start = notes[0].side, notes[0].onset
    ends = held_until(note for note in score.notes if note.side == side and note.onset >= start)
    marked = [(note, fingers_of(fingers.get(note.id))) for note in notes]
    return [Down(note, these, ends.get(note.id) or tied_until(note, score)) for note, these in marked if these]


def tied_until(note: Note, score: Score) -> Fraction:
    """When the key of a tied-over note is released."""
    later = held_until(other for other in score.notes if other.side == note.side and other.onset >= note.onset)
    return later.get(note.id, note.end)


def grouped(marked: Sequence[Down]) -> list[list[Down]]:
    """Marked notes that are struck together."""
    by_id = {down.note.id: down for down in marked}
    # Ties count as struck here: what matters is which finger is on the key from then on.
    struck: dict[tuple[Fraction, int], list[Down]] = {}
    for down in by_id.values():
        grace = down.note.grace.order if down.note.grace else 10_000
        struck.setdefault((down.note.onset, grace), []).append(down)
    return [sorted(struck[key], key=lambda down: down.note.pitch.midi) for key in sorted(struck)]


def taken_over(down: Down, group: Sequence[Down]) -> bool:
    """Whether a finger of the group is on the same key: on a tied note it holds the key from then on, and a key that is
    struck again has been let go."""
    return any(other.note.pitch.midi == down.note.pitch.midi for other in group)


def at_once(group: Sequence[Down], score: Score) -> list[Problem]:
    """Conflicts between fingers that come down together."""
    problems = []
    for low, high in combinations(group, 2):
        one_key = low.note.pitch.midi == high.note.pitch.midi
        first, second = low.fingers[0], high.fingers[0]
        ids = (high.note.id, low.note.id)
        words = place(high.note, score) | {
            "finger": first,
            "second": second,
            "key": key_name(low.note),
            "other": key_name(high.note),
        }
        if first == second and not one_key:
            neighbours = first == 1 and under_one_thumb(low.note, high.note)
            message = TWO_KEYS_ONE_THUMB if neighbours else SAME_FINGER
            problems.append(Problem("same-finger", ids, message, words, "watch" if neighbours else "cannot"))
        elif first != second and one_key:
            problems.append(Problem("one-key", ids, TWO_FINGERS_ONE_KEY, words, "watch"))
        elif first != second and crossed(low, first, high, second):
            problems.append(Problem("crossed", ids, CROSSED, words, "watch"))
    return problems


def under_one_thumb(low: Note, high: Note) -> bool:
    """Two neighbouring white keys, or two neighbouring black ones: a thumb can lie across them."""
    interval = high.pitch.midi - low.pitch.midi
    same_colour = low.pitch.is_black == high.pitch.is_black
    return same_colour and interval <= (3 if low.pitch.is_black else 2)


def crossed(low: Down, first: int, high: Down, second: int) -> bool:
    return (first > second) == (low.note.side == "right")


def against_held(down: Down, held: Sequence[Down], score: Score) -> list[Problem]:
    """Conflicts of a finger with those that are still down from before."""
    problems = []
    for other in held:
        same_key = other.note.pitch.midi == down.note.pitch.midi
        if down.fingers[0] == other.holds and not same_key:
            words = place(down.note, score) | {
                "finger": other.holds,
                "key": key_name(down.note),
                "other": key_name(other.note),
                **before(other.note, score),
            }
            problems.append(Problem("still-held", (down.note.id, other.note.id), STILL_HELD, words))
        elif not same_key and 1 not in (down.fingers[0], other.holds) and over_held(down, other):
            words = place(down.note, score) | {
                "finger": down.fingers[0],
                "second": other.holds,
                "key": key_name(down.note),
                "other": key_name(other.note),
            }
            problems.append(Problem("crossed", (down.note.id, other.note.id), CROSSED, words, "watch"))
    return problems


def over_held(down: Down, other: Down) -> bool:
    """Whether a finger lands on the wrong side of one that is down. The thumb may: it passes under."""
    low, high = sorted((down, other), key=lambda item: item.note.pitch.midi)
    first, second = (item.fingers[0] if item is down else item.holds for item in (low, high))
    return crossed(low, first, high, second)


def no_time_to_change(down: Down, others: Sequence[Down], score: Score) -> list[Problem]:
    """A substitution to a finger that another key keeps for as long as this one sounds."""
    if len(down.fingers) == 1:
        return []
    return [
        Problem(
            "no-time",
            (down.note.id, other.note.id),
            NO_TIME_TO_CHANGE,
            place(down.note, score) | {"finger": down.holds, "key": key_name(down.note), "other": key_name(other.note)},
        )
        for other in others
        if other is not down and other.holds == down.holds and other.until >= down.until
    ]


def before(note: Note, score: Score | None) -> dict[str, str | int]:
    where = place(note, score)
    return {"from_measure": where["measure"], "from_beat": where["beat"]}


def check_join(
    score: Score,
    earlier: tuple[Iterable[Note], Fingers],
    later: tuple[Iterable[Note], Fingers],
    hand: Hand | None = None,
) -> tuple[Problem, ...]:
    """What goes wrong where one part ends and the next begins: pairs of notes and fingers, of one hand.

    Looks at fingers still held across the join, at the same finger on another key without a rest between, and, where a
    hand is given, at a step from the last note to the first that is wider than its reach.
    """
    first = sorted(earlier[0], key=reading_order)
    second = sorted(later[0], key=reading_order)
    ours = {note.id for note in second}
    first = [note for note in first if note.id not in ours]
    if not first or not second:
        return ()
    held = downs(first, earlier[1], score)
    problems: list[Problem] = []
    for group in grouped(downs(second, later[1], score)):
        held = [down for down in held if down.until > group[0].note.onset and not taken_over(down, group)]
        for down in group:
            problems += against_held(down, held, score)
    return tuple(problems) + tuple(at_the_join(score, first, second, earlier[1], later[1], hand))


def at_the_join(
    score: Score,
    first: Sequence[Note],
    second: Sequence[Note],
    fingers: Fingers,
    next_fingers: Fingers,
    hand: Hand | None,
) -> list[Problem]:
    """The step from the last moment of one part to the first of the next, where no rest stands between."""
    last, start = moments(first)[-1:], moments(second)[:1]
    if not last or not start:
        return []
    before_join = [down for down in downs(first, fingers, score) if down.note.id in last[0].ids]
    after_join = [down for down in downs(second, next_fingers, score) if down.note.id in start[0].ids]
    problems = []
    for here in before_join:
        for there in after_join:
            if here.until != there.note.onset or here.note.pitch.midi == there.note.pitch.midi:
                continue
            words = place(there.note, score) | {
                "finger": there.fingers[0],
                "second": here.holds,
                "key": key_name(there.note),
                "other": key_name(here.note),
                **before(here.note, score),
            }
            ids = (there.note.id, here.note.id)
            if here.holds == there.fingers[0]:
                problems.append(Problem("join-same-finger", ids, JOIN_SAME_FINGER, words, "watch"))
            elif hand and not hand.reaches(here.holds, here.note.pitch.midi, there.fingers[0], there.note.pitch.midi):
                problems.append(Problem("join-too-wide", ids, JOIN_TOO_WIDE, words, "watch"))
    return problems
