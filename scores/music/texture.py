"""What a measure holds for the ear and the hand, and as one number: equal numbers, equal notes.

Two measures hold the same notes if the same keys are struck by the same hand at the same places of the measure and
held as long, and are as long themselves; graces count, as keys struck in their order. Spelling, voices, staves, printed
fingerings, slurs and the signs of ornaments make no difference here: `differences` names them.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from operator import attrgetter
from typing import Literal

from scores.music.notation import SIDES, STEPS, Hands, Measure, Note, Score

NO_GRACE = 10_000  # after all graces
Spot = tuple[Fraction, int]

Unlike = Literal["spelling", "ornaments", "fingering", "voice"]


@dataclass(frozen=True)
class Texture:
    """What the written measures of a score hold for one hand or both, by index.

    `exact` and `shape` number the contents as they are, and without their height. `first` is the note from which the
    height of a measure is taken, None where nothing is struck or held. `strokes` counts the moments struck.
    """

    hands: Hands
    notes: tuple[tuple[Note, ...], ...] = ()
    exact: tuple[int, ...] = ()
    shape: tuple[int, ...] = ()
    strokes: tuple[int, ...] = ()

    @cached_property
    def first(self) -> tuple[Note | None, ...]:
        return tuple(notes[0] if notes else None for notes in self.notes)

    @cached_property
    def heights(self) -> tuple[int | None, ...]:
        """The key that stands for each measure's height; None where it is silent."""
        return tuple(note.pitch.midi if note else None for note in self.first)

    def interval(self, measure: int, other: int) -> int | None:
        """Semitones from a measure up to another of the same shape; 0 between silent ones, None for another shape."""
        if self.shape[measure] != self.shape[other]:
            return None
        low, high = self.heights[measure], self.heights[other]
        return 0 if low is None or high is None else high - low


def textures_of(score: Score) -> dict[Hands, Texture]:
    """What the measures hold for both hands, for the right and for the left; in time linear in the notes."""
    bars: list[list[Told]] = [[] for _ in score.measures]
    times: dict[Fraction, int] = {}
    for note in score.notes:
        bars[note.measure].append(told(score.measures[note.measure], note, times))
    for bar in bars:
        bar.sort(key=attrgetter("order"))
    lengths = [times.setdefault(measure.length, len(times)) for measure in score.measures]
    return {hands: numbered(hands, bars, lengths) for hands in ("both", *SIDES)}


@dataclass(frozen=True, slots=True)
class Told:
    """A note of a measure: where it stands in the order of the measure, and what must be equal in another measure
    beside its height. Times are numbers for what they are, so that they are compared fast."""

    note: Note
    order: tuple[Fraction, int, int, int, Fraction]
    rest: tuple[int, int, int, int, bool]


def told(measure: Measure, note: Note, times: dict[Fraction, int]) -> Told:
    offset, grace = spot_of(measure, note)
    side = SIDES.index(note.side)
    at = times.setdefault(offset, len(times))
    return Told(
        note,
        (offset, grace, side, note.pitch.midi, note.length),
        (at, grace, side, times.setdefault(note.length, len(times)), note.tie_stop),
    )


def numbered(hands: Hands, bars: Sequence[Sequence[Told]], lengths: Sequence[int]) -> Texture:
    """The texture of one hand or both."""
    exact: dict[tuple[int, int], int] = {}
    shapes: dict[Hashable, int] = {}
    rows: list[tuple[tuple[Note, ...], int, int, int]] = []
    for bar, length in zip(bars, lengths, strict=True):
        held = [one for one in bar if hands in ("both", one.note.side)]
        height = held[0].note.pitch.midi if held else 0
        content = (length, *((one.rest, one.note.pitch.midi - height) for one in held))
        shape = shapes.setdefault(content, len(shapes))
        strokes = len({one.rest[:2] for one in held if one.note.is_attack})
        notes = tuple(one.note for one in held)
        rows.append((notes, exact.setdefault((shape, height), len(exact)), shape, strokes))
    return Texture(hands, *(tuple(column) for column in zip(*rows, strict=True))) if rows else Texture(hands)


def texture_of(score: Score, hands: Hands) -> Texture:
    return textures_of(score)[hands]


def offset_in(measure: Measure, note: Note) -> Fraction:
    """Quarters from where the measure begins, or would begin if a pick-up were a whole one."""
    offset = note.onset - measure.start
    return offset + measure.nominal - measure.length if measure.is_pickup else offset


def spot_of(measure: Measure, note: Note) -> Spot:
    """A moment's place in its measure: quarters from its beginning, and where among the graces."""
    return (offset_in(measure, note), note.grace.order if note.grace else NO_GRACE)


def letter(note: Note) -> int:
    """The height of a note in letter steps: C0 is 0, D0 is 1."""
    return STEPS.index(note.pitch.step) + len(STEPS) * note.pitch.octave


def steps_between(note: Note, other: Note) -> int:
    """Letter steps from a note up to another: 4 for a fifth."""
    return letter(other) - letter(note)


def differences(one: Note, other: Note, semitones: int = 0, steps: int = 0) -> Iterator[Unlike]:
    """What differs between two notes that count as the same, the second `semitones` and letter `steps` higher."""
    if (other.pitch.midi - one.pitch.midi, steps_between(one, other)) != (semitones, steps):
        yield "spelling"
    if one.ornaments != other.ornaments:
        yield "ornaments"
    if one.printed != other.printed:
        yield "fingering"
    if (one.voice, one.staff) != (other.voice, other.staff):
        yield "voice"
