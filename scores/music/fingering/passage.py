"""A stretch of one hand as the engine sees it: one step for each moment, in the coordinates of a right hand.

A left hand is mirrored about the D in the middle of the keyboard, which maps white keys on white and black on black; so
everything after this module speaks of a right hand only, and left and right are judged alike.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import groupby
from typing import Literal

from scores.music.notation import BLACK, STEPS, Note, Side, held_until, moment_key, reading_order

Gap = Literal[0, 1, 2]

MIRROR = 124  # twice the D above middle C
MOST_FINGERS = 5

# Where a key lies, in widths of a white key from C, black keys by their middle. The black ones are common practice,
# rounded so that the keyboard is symmetric about D and about G sharp, as the real one nearly is.
WHITE_WIDTHS = (0.0, 0.45, 1.0, 1.55, 2.0, 3.0, 3.42, 4.0, 4.5, 5.0, 5.58, 6.0)
SEMITONES_A_WIDTH = 12 / 7

# A grace has no length of its own: this is what it is given for speed, in quarters.
GRACE_LENGTH = Fraction(1, 8)
# A silence of this many quarters lets the hand be set down afresh; any shorter one lets it move without hurry.
LONG_GAP = Fraction(1)
# Intervals of at most RUN_STEP semitones, MEAN_STEP in the mean, one way for at least an octave, are a run: a scale
# or an arpeggio. The chromatic scale is none: it has no positions to return to.
RUN_STEP, MEAN_STEP, RUN_SPAN, RUN_TURN = 5, 1.5, 12, 4


@dataclass(frozen=True, slots=True)
class Key:
    """A key that goes down. `key` is its MIDI number and `letter` its diatonic step, mirrored for the left hand; `x`
    its place in semitones as measured on the keyboard (an octave is 12); `until` when it is released."""

    note: Note
    key: int
    letter: int
    x: float
    black: bool
    until: Fraction


@dataclass(frozen=True, slots=True)
class Step:
    """What one moment asks of the hand. `struck` from low to high; `held` are keys still down, each by its place among
    the sounding keys (struck, then held) of the step before. `spare` are notes beyond five fingers; `doubled` maps the
    second note head of a unison to its place in `struck`. `wait`: quarters since the last attack. `degrees`:
    the letters (0 to 6) that the run uses, seven in a scale, three in a triad's arpeggio."""

    index: int
    onset: Fraction
    struck: tuple[Key, ...]
    held: tuple[int, ...]
    held_keys: tuple[Key, ...]
    gap: Gap
    wait: Fraction
    spare: tuple[Note, ...] = ()
    doubled: tuple[tuple[str, int], ...] = ()
    in_run: bool = False
    turn: bool = False
    is_single: bool = True
    degrees: tuple[int, ...] = ()

    @property
    def sounding(self) -> tuple[Key, ...]:
        return self.struck + self.held_keys

    def is_struck_here(self, place: int) -> bool:
        """Whether a finger comes down on this one of `struck`: a key tied in from before the passage is down already,
        and its finger is not part of the fingering."""
        return self.struck[place].note.is_attack or any(at == place for _, at in self.doubled)


@dataclass(frozen=True)
class Passage:
    side: Side
    steps: tuple[Step, ...]


def read_passage(notes: Iterable[Note], side: Side) -> Passage:
    """The steps of one hand. Notes of the other hand are left out; a note tied over from before counts as struck."""
    ours = sorted((note for note in notes if note.side == side), key=reading_order)
    ends = held_until(ours)
    steps: list[Step] = []
    for _, group in groupby((note for note in ours if note.id in ends), key=moment_key):
        steps.append(next_step(steps[-1] if steps else None, len(steps), list(group), ends, side))
    return Passage(side, mark_runs(steps))


def key_of(note: Note, until: Fraction, side: Side) -> Key:
    midi, letter = note.pitch.midi, 7 * note.pitch.octave + STEPS.index(note.pitch.step)
    if side == "left":
        midi, letter = MIRROR - midi, -letter
    return Key(note, midi, letter, place_on_keyboard(midi), midi % 12 in BLACK, until)


@cache
def place_on_keyboard(midi: int) -> float:
    """In semitones as measured on the keys, in exact sixty-fourths, so that octaves and mirror images are equal."""
    octave, key = divmod(midi, 12)
    from_d = (WHITE_WIDTHS[key] - WHITE_WIDTHS[2]) * SEMITONES_A_WIDTH
    return 12 * octave + round(from_d * 64) / 64


def next_step(last: Step | None, index: int, group: Sequence[Note], ends: dict[str, Fraction], side: Side) -> Step:
    onset = group[0].onset
    struck: list[Key] = []
    doubled: list[tuple[str, int]] = []
    for key in sorted((key_of(note, ends[note.id], side) for note in group), key=lambda key: (key.key, -key.until)):
        if struck and struck[-1].key == key.key:
            doubled += [(key.note.id, len(struck) - 1)] if key.note.is_attack else []
        else:
            struck.append(key)
    spare = struck[: max(0, len(struck) - most_keys(struck))]
    struck = struck[len(spare) :]
    doubled = [(note, place - len(spare)) for note, place in doubled if place >= len(spare)]
    down = {key.key for key in struck}
    sounding = [(at, key) for at, key in enumerate(last.sounding if last else ()) if key.until > onset]
    # A key that is struck again while another voice holds it stays down for the longer of the two.
    longest = {key.key: key.until for _, key in sounding}
    struck = [replace(key, until=max(key.until, longest[key.key])) if key.key in longest else key for key in struck]
    still = [at for at, key in sounding if key.key not in down]
    return Step(
        index,
        onset,
        tuple(struck),
        tuple(still),
        tuple(last.sounding[at] for at in still) if last else (),
        gap_before(last, onset),
        (onset - last.onset or GRACE_LENGTH) if last else Fraction(1),
        tuple(key.note for key in spare),
        tuple(doubled),
        is_single=len(struck) == 1,
    )


def most_keys(struck: Sequence[Key]) -> int:
    """Five keys, or six where the thumb can lie across the two innermost of them."""
    six = struck[-MOST_FINGERS - 1 :]
    return MOST_FINGERS + 1 if len(six) > MOST_FINGERS and thumb_covers(six[0], six[1]) else MOST_FINGERS


def thumb_covers(low: Key, high: Key) -> bool:
    """Whether one finger can hold both keys: two neighbouring white keys, or two neighbouring black ones."""
    return low.black == high.black and 0 < high.key - low.key <= (3 if low.black else 2)


def gap_before(last: Step | None, onset: Fraction) -> Gap:
    """0 where the last notes reach to this one, 1 after a short silence, 2 after a long one."""
    if last is None:
        return 0
    if last.struck[0].note.is_grace or last.onset >= onset or any(key.until >= onset for key in last.sounding):
        return 0
    silence = onset - max(max(key.until for key in last.sounding), last.onset)
    return 2 if silence >= LONG_GAP else 1


def mark_runs(steps: Sequence[Step]) -> tuple[Step, ...]:
    """Marks what belongs to a scale or arpeggio of an octave or more, and where a line of four notes or more turns."""
    runs: set[int] = set()
    turns: set[int] = set()
    degrees: dict[int, tuple[int, ...]] = {}
    first = 0
    for index in range(1, len(steps) + 1):
        if index < len(steps) and continues(steps, first, index):
            continue
        last = index - 1
        if last - first + 1 >= RUN_TURN:
            turns.add(last)
            if abs(steps[last].struck[0].key - steps[first].struck[0].key) >= max(RUN_SPAN, MEAN_STEP * (last - first)):
                runs.update(range(first, last + 1))
                used = tuple(sorted({step.struck[0].letter % 7 for step in steps[first : last + 1]}))
                degrees |= dict.fromkeys(range(first, last + 1), used)
        first = last if index < len(steps) and continues(steps, last, index) else index
    return tuple(
        replace(step, in_run=step.index in runs, turn=step.index in turns, degrees=degrees.get(step.index, ()))
        if step.index in runs or step.index in turns
        else step
        for step in steps
    )


def continues(steps: Sequence[Step], first: int, index: int) -> bool:
    """Whether the step goes on in the direction of the run that began at `first`, without a break."""
    here, last = steps[index], steps[index - 1]
    if here.gap or not (here.is_single and last.is_single) or here.held or last.held:
        return False
    interval = here.struck[0].key - last.struck[0].key
    if not 0 < abs(interval) <= RUN_STEP:
        return False
    return index - 1 == first or (interval > 0) == (last.struck[0].key > steps[index - 2].struck[0].key)
