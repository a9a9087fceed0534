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
    notes: tuple[tuple[Note, ...], ...]
    exact: tuple[int, ...]
    shape: tuple[int, ...]
    strokes: tuple[int, ...]

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


def texture_of(score: Score, hands: Hands) -> Texture:
    """Numbers the measures' contents, in time linear in the notes."""
    held: list[list[Note]] = [[] for _ in score.measures]
    for note in score.notes:
        if hands in ("both", note.side):
            held[note.measure].append(note)
    exact: dict[Hashable, int] = {}
    shapes: dict[Hashable, int] = {}
    rows: list[tuple[tuple[Note, ...], int, int, int]] = []
    for measure, notes in zip(score.measures, held, strict=True):
        ordered = in_order(measure, notes)
        shape = shapes.setdefault(content(measure, ordered), len(shapes))
        height = ordered[0].pitch.midi if ordered else 0
        strokes = len({spot_of(measure, note) for note in ordered if note.is_attack})
        rows.append((ordered, exact.setdefault((shape, height), len(exact)), shape, strokes))
    return Texture(hands, *(tuple(column) for column in zip(*rows, strict=True))) if rows else empty(hands)


def empty(hands: Hands) -> Texture:
    return Texture(hands, (), (), (), ())


def offset_in(measure: Measure, note: Note) -> Fraction:
    """Quarters from where the measure begins, or would begin if a pick-up were a whole one."""
    missing = measure.nominal - measure.length if measure.is_pickup else Fraction(0)
    return note.onset - measure.start + missing


def spot_of(measure: Measure, note: Note) -> Spot:
    """A moment's place in its measure: quarters from its beginning, and where among the graces."""
    return (offset_in(measure, note), note.grace.order if note.grace else NO_GRACE)


def in_order(measure: Measure, notes: Sequence[Note]) -> tuple[Note, ...]:
    """Notes of a measure in an order that does not change when all are moved up or down alike."""
    return tuple(
        sorted(
            notes,
            key=lambda note: (
                *spot_of(measure, note),
                SIDES.index(note.side),
                note.pitch.midi,
                note.length,
                note.tie_stop,
            ),
        )
    )


def content(measure: Measure, ordered: Sequence[Note]) -> Hashable:
    """All that must be equal for two measures to have one shape."""
    height = ordered[0].pitch.midi if ordered else 0
    return (measure.length, *(told(measure, note, height) for note in ordered))


def told(measure: Measure, note: Note, height: int) -> Hashable:
    return (*spot_of(measure, note), note.side, note.pitch.midi - height, note.length, note.tie_stop)


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
