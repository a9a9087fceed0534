"""Pitches, notes, moments, measures: the only vocabulary that the engines share.

Units, everywhere: time is an exact `Fraction` of a quarter note, counted from the start of the piece as it is
written (repeats are not unfolded); intervals are semitones; tempo is quarters a minute unless a name says
otherwise. All objects are immutable.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import groupby
from typing import Literal

Side = Literal["right", "left"]
Hands = Literal["right", "left", "both"]
Placement = Literal["before", "on"]

SIDES: tuple[Side, Side] = ("right", "left")
STEPS = "CDEFGAB"
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
BLACK = frozenset({1, 3, 6, 8, 10})


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled pitch. `step` is one of CDEFGAB, `alter` in semitones (-1 flat), `octave` as in C4, middle C."""

    step: str
    alter: int
    octave: int

    @property
    def midi(self) -> int:
        """The key on the keyboard: 60 is middle C."""
        return 12 * (self.octave + 1) + SEMITONES[self.step] + self.alter

    @property
    def is_black(self) -> bool:
        return self.midi % 12 in BLACK

    @property
    def name(self) -> str:
        """English name without octave, with Unicode accidentals: "E♭", "F♯"."""
        sign = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}.get(self.alter, f"({self.alter:+d})")
        return self.step + sign


@dataclass(frozen=True, slots=True)
class Grace:
    """A grace note's own marks. `order` counts from 0 within its group; percentages are MusicXML's steal-time,
    `make_time` is its make-time in quarters."""

    order: int
    slash: bool = False
    steal_previous: Fraction | None = None
    steal_following: Fraction | None = None
    make_time: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Ornament:
    """A sign on a note. `kind` is the MusicXML element name: trill-mark, turn, inverted-turn, delayed-turn,
    mordent, inverted-mordent, schleifer, tremolo, arpeggiate, ... `options` are its attributes, in name order."""

    kind: str
    options: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Tuplet:
    """`actual` notes in the time of `normal`."""

    actual: int
    normal: int


@dataclass(frozen=True, slots=True)
class Note:
    """One note head. `onset` and `length` in quarters; a grace has length 0 and the onset of the note it leads to.

    `measure` is an index into `Score.measures`. `tie_stop` means that the key is already down: no new attack.
    `printed` is the fingering that stands in the edition, as text ("3", "4-5"), or "".
    """

    id: str
    pitch: Pitch
    onset: Fraction
    length: Fraction
    measure: int
    side: Side
    staff: int
    voice: str
    type: str = ""
    dots: int = 0
    tuplet: Tuplet | None = None
    tie_start: bool = False
    tie_stop: bool = False
    grace: Grace | None = None
    printed: str = ""
    ornaments: tuple[Ornament, ...] = ()

    @property
    def end(self) -> Fraction:
        return self.onset + self.length

    @property
    def is_grace(self) -> bool:
        return self.grace is not None

    @property
    def is_attack(self) -> bool:
        """A finger comes down here: every note except the later ones of a tie."""
        return not self.tie_stop


@dataclass(frozen=True, slots=True)
class Rest:
    onset: Fraction
    length: Fraction
    measure: int
    side: Side
    voice: str


@dataclass(frozen=True, slots=True)
class Measure:
    """`number` is what is printed ("0" for a pick-up, "12a"); `index` counts from 0; `length` is what sounds in it.

    `times` is how often what a closing repeat sign ends is played in all; `marks` are the signs that send the player
    elsewhere, in name order: "coda", "da capo", "dal segno", "fine", "segno", "to coda".
    """

    index: int
    number: str
    start: Fraction
    length: Fraction
    beats: int
    beat_type: int
    fifths: int = 0
    repeat_start: bool = False
    repeat_end: bool = False
    ending: str = ""
    times: int = 2
    marks: tuple[str, ...] = ()

    @property
    def nominal(self) -> Fraction:
        """The length that the time signature asks for, in quarters."""
        return Fraction(4 * self.beats, self.beat_type)

    @property
    def is_pickup(self) -> bool:
        return self.index == 0 and self.length < self.nominal

    @property
    def end(self) -> Fraction:
        return self.start + self.length

    def beat_of(self, onset: Fraction) -> Fraction:
        """The beat of a moment, counted from 1 in units of the time signature; a pick-up counts from the bar's end."""
        missing = self.nominal - self.length if self.is_pickup else Fraction(0)
        return (onset - self.start + missing) * self.beat_type / 4 + 1


@dataclass(frozen=True, slots=True)
class Tempo:
    """A written metronome mark: `quarters` a minute from `onset` on."""

    onset: Fraction
    quarters: Fraction


@dataclass(frozen=True, slots=True)
class Words:
    """Words that stand over, between or under the staves at a moment, on one line: "Allegro", "dolce", "rit."."""

    onset: Fraction
    text: str


@dataclass(frozen=True, slots=True)
class Change:
    """A key or metre that changes inside a measure; what changes at its beginning is the measure's own. `before` and
    `after` as read: "3/4", or fifths as a number ("-3")."""

    onset: Fraction
    kind: Literal["key", "metre"]
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Moment:
    """The notes of one hand that are struck together. `notes` from low to high. Graces stand in moments of their own,
    before the notes they lead to."""

    onset: Fraction
    notes: tuple[Note, ...]

    @property
    def is_grace(self) -> bool:
        return self.notes[0].is_grace

    @property
    def ids(self) -> tuple[str, ...]:
        return tuple(note.id for note in self.notes)


def reading_order(note: Note) -> tuple[Fraction, int, int, int]:
    """Sort key: by onset, graces first in their order, then from low to high."""
    grace = note.grace.order if note.grace else 10_000
    return (note.onset, grace, note.pitch.midi, note.staff)


@dataclass(frozen=True)
class Score:
    """What one edition has: `measures` in order, `notes` in reading order (see `reading_order`), `rests`, `tempos`,
    `words` and `changes` by onset."""

    measures: tuple[Measure, ...]
    notes: tuple[Note, ...]
    rests: tuple[Rest, ...] = ()
    tempos: tuple[Tempo, ...] = ()
    title: str = ""
    composer: str = ""
    words: tuple[Words, ...] = ()
    changes: tuple[Change, ...] = ()

    @cached_property
    def by_id(self) -> dict[str, Note]:
        return {note.id: note for note in self.notes}

    @cached_property
    def place_of(self) -> dict[str, int]:
        """A note's position in `notes`, by id."""
        return {note.id: place for place, note in enumerate(self.notes)}

    def measure_of(self, note: Note) -> Measure:
        return self.measures[note.measure]

    def between(self, first: str, last: str, hands: Hands = "both") -> tuple[Note, ...]:
        """The notes from the moment of note `first` to the moment of note `last`, both included, of one hand or both.

        Raises `KeyError` for an id that the score does not have.
        """
        start, stop = self.by_id[first], self.by_id[last]
        if moment_key(stop) < moment_key(start):
            start, stop = stop, start
        # A note's own graces belong to it, so a passage that starts on the note starts with them.
        low = moment_key(start) if start.is_grace else (start.onset, -1)
        high = moment_key(stop)
        return tuple(
            note for note in self.notes if low <= moment_key(note) <= high and (hands == "both" or note.side == hands)
        )

    def in_measures(self, first: int, last: int, hands: Hands = "both") -> tuple[Note, ...]:
        """The notes of the measures with these indexes, both included."""
        return tuple(
            note for note in self.notes if first <= note.measure <= last and (hands == "both" or note.side == hands)
        )


def moment_key(note: Note) -> tuple[Fraction, int]:
    return (note.onset, note.grace.order if note.grace else 10_000)


def moments(notes: Iterable[Note]) -> tuple[Moment, ...]:
    """Groups notes of one hand into moments, ties left out: only what is struck. `notes` need not be sorted."""
    struck = sorted((note for note in notes if note.is_attack), key=reading_order)
    return tuple(Moment(key[0], tuple(group)) for key, group in groupby(struck, key=moment_key))


def held_until(score_notes: Iterable[Note]) -> dict[str, Fraction]:
    """When the key of each struck note is released as written, ties joined: id of the attack -> quarters."""
    open_ties: dict[tuple[str, int, str], str] = {}
    ends: dict[str, Fraction] = {}
    for note in sorted(score_notes, key=reading_order):
        lane = (note.side, note.pitch.midi, note.voice)
        attack = open_ties.pop(lane, None) if note.tie_stop else None
        attack = attack or note.id
        ends[attack] = note.end
        if note.tie_start:
            open_ties[lane] = attack
    return ends


def sides_of(hands: Hands) -> Iterator[Side]:
    """The hands that a word names: "both" is the right, then the left."""
    return iter(SIDES if hands == "both" else (hands,))
