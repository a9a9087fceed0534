"""The smallest change that makes a moment playable, each one tried before it is named.

A change is tried by fingering the stretch anew with the change made: the moment itself and all that hangs together with
it by held keys. Only what leaves nothing impossible at that moment, and adds nothing elsewhere, is proposed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations

from scores.music.fingering.cost import CANNOT, total
from scores.music.fingering.hand import Hand
from scores.music.fingering.house import House
from scores.music.fingering.passage import MOST_FINGERS, Key, Passage, Step, read_passage
from scores.music.fingering.search import best_shapes
from scores.music.notation import Note

# Moments on each side that are looked at, and notes that a player would give away at most.
AROUND, MOST_GIVEN = 8, 3
# A rolled note is held for so much of the time to the next moment.
ROLLED = Fraction(1, 16)


@dataclass(frozen=True, slots=True)
class Remedy:
    """What would help: other fingers than those asked for, or giving `give` away (to the other hand, or where they are
    held already, to the pedal), or rolling the chord. Several may hold; nothing helps if none does."""

    other_fingers: bool = False
    give: tuple[Note, ...] = ()
    held: bool = False
    roll: bool = False


@dataclass(frozen=True, slots=True)
class Tried:
    """What cannot be in a stretch: in all, and at the moment in question."""

    whole: int
    here: int


class Remedies:
    """Remedies for the moments of one passage. `fixed` are the fingers that were asked for."""

    def __init__(self, passage: Passage, hand: Hand, fixed: Mapping[str, str]) -> None:
        self.passage, self.hand, self.fixed = passage, hand, fixed
        self.known: dict[int, Remedy] = {}

    def at(self, index: int) -> Remedy:
        if index not in self.known:
            self.known[index] = self.find(index)
        return self.known[index]

    def find(self, index: int) -> Remedy:
        step = self.passage.steps[index]
        notes = [sounding_note(key) for key in stretch(self.passage, index)]
        now = self.tried(notes, step, self.fixed)
        roll = len(step.struck) + len(step.spare) > 1 and self.helps(now, self.rolled(notes, step))
        ids = {key.note.id for key in step.sounding}
        if ids & self.fixed.keys():
            free = {note: text for note, text in self.fixed.items() if note not in ids}
            if self.helps(now, self.tried(notes, step, free)):
                return Remedy(other_fingers=True, roll=roll)
        within_reach = (given for given in gifts(step) if self.may_help(step, given))
        give = next((given for given in within_reach if self.helps(now, self.without(notes, step, given))), ())
        held = {key.note.id for key in step.held_keys}
        return Remedy(give=give, held=bool(give) and {note.id for note in give} <= held, roll=roll)

    def may_help(self, step: Step, given: Sequence[Note]) -> bool:
        """Whether what is left is not too much or too wide at first sight, which saves trying."""
        notes = [*step.spare, *(key.note for key in step.sounding)]
        left = {note.pitch.midi for note in notes if note not in given}
        widest = max(spans.max_practical for spans in self.hand.spans)
        return len(left) <= MOST_FINGERS + 1 and (not left or max(left) - min(left) <= widest)

    def helps(self, now: Tried, then: Tried) -> bool:
        return not then.here and then.whole <= now.whole - now.here

    def without(self, notes: Iterable[Note], step: Step, given: Sequence[Note]) -> Tried:
        """The stretch with some notes given away, from this moment on where they are held from before."""
        gone = {note.id for note in given}
        left = [cut_off(note, step.onset) if note.id in gone else note for note in notes]
        return self.tried([note for note in left if note], step, self.fixed)

    def rolled(self, notes: Sequence[Note], step: Step) -> Tried:
        """The stretch with the notes of the moment one after another, kept by the pedal."""
        later = [note.onset for note in notes if note.onset > step.onset]
        each = ROLLED * (min(later) - step.onset if later else 1)
        struck = [*(key.note.id for key in step.struck), *(note.id for note in step.spare)]
        chord = sorted((note for note in notes if note.id in struck), key=lambda note: note.pitch.midi)
        place = {note.id: at for at, note in enumerate(chord)}
        apart = [
            replace(note, onset=note.onset + place[note.id] * each, length=each) if note.id in place else note
            for note in notes
        ]
        return self.tried(apart, step, self.fixed, until=step.onset + len(chord) * each)

    def tried(
        self, notes: Sequence[Note], step: Step, fixed: Mapping[str, str], until: Fraction | None = None
    ) -> Tried:
        model = House(read_passage(notes, self.passage.side), self.hand, fixed)
        if not model.steps:
            return Tried(0, 0)
        terms = model.account(best_shapes(model, 1)[0][1])
        # Notes that no finger is left for do not cost: they are no part of a shape.
        blocks = [total(of_step) // CANNOT + len(one.spare) for of_step, one in zip(terms, model.steps, strict=True)]
        last = until or step.onset
        here = sum(count for count, one in zip(blocks, model.steps, strict=True) if step.onset <= one.onset <= last)
        return Tried(sum(blocks), here)


def stretch(passage: Passage, index: int) -> list[Key]:
    """The keys struck in the moments that hang together with this one by held keys."""
    steps, first, last = passage.steps, index, index
    while first > max(0, index - AROUND) and hangs_on(steps[first - 1], steps[first]):
        first -= 1
    while last + 1 < min(len(steps), index + AROUND) and hangs_on(steps[last], steps[last + 1]):
        last += 1
    spare = [Key(note, 0, 0, 0.0, False, note.end) for step in steps[first : last + 1] for note in step.spare]
    held = list(steps[first].held_keys)
    return held + [key for step in steps[first : last + 1] for key in step.struck] + spare


def hangs_on(last: Step, step: Step) -> bool:
    """Whether a key that was down before a step stays down, or is struck again while another voice holds it."""
    return any(key.until > step.onset for key in last.sounding)


def sounding_note(key: Key) -> Note:
    """The note as long as its key is down, ties joined."""
    length = key.note.length if key.note.is_grace else max(key.until - key.note.onset, Fraction(0))
    return replace(key.note, length=length, tie_start=False)


def gifts(step: Step) -> Iterable[tuple[Note, ...]]:
    """What might be given away, the least first: keys that are held already before those that are struck, and those on
    the side of the other hand before those beyond."""
    held = [key.note for key in sorted(step.held_keys, key=lambda key: key.key)]
    struck = [*step.spare, *(key.note for key in step.struck)]
    for count in range(1, MOST_GIVEN + 1):
        yield from combinations(held + struck, count)


def cut_off(note: Note, onset: Fraction) -> Note | None:
    """A note that is let go at this moment; None if it is struck there."""
    return replace(note, length=onset - note.onset) if note.onset < onset else None
