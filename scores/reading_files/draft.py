"""Music on its way to MusicXML: what the readers of other formats fill in and `writing` writes out.

Times are quarters. Words for note types, ornaments, articulations and accidentals are MusicXML's element names and
values.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from scores.reading_files.terms import Notice

TYPES = {
    Fraction(16): "long",
    Fraction(8): "breve",
    Fraction(4): "whole",
    Fraction(2): "half",
    Fraction(1): "quarter",
    Fraction(1, 2): "eighth",
    Fraction(1, 4): "16th",
    Fraction(1, 8): "32nd",
    Fraction(1, 16): "64th",
    Fraction(1, 32): "128th",
    Fraction(1, 64): "256th",
}
FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5, "256th": 6}


@dataclass
class Finger:
    text: str
    substitution: bool = False
    alternate: bool = False


@dataclass
class Head:
    """One note head. `accidental` is the printed one, "" for none; `staff` differs from the event's in a chord across
    both staves."""

    step: str
    alter: int
    octave: int
    id: str = ""
    accidental: str = ""
    tie_start: bool = False
    tie_stop: bool = False
    fingers: list[Finger] = field(default_factory=list)
    staff: int | None = None
    sounds: bool = False  # the octave is known to be the sounding one


@dataclass
class Sign:
    """An ornament with its attributes, its text (the strokes of a tremolo), its accidentals: (place, name)."""

    kind: str
    options: dict[str, str] = field(default_factory=dict)
    text: str = ""
    accidentals: list[tuple[str, str]] = field(default_factory=list)


@dataclass
class Clef:
    sign: str
    line: int
    octaves: int = 0


@dataclass
class Event:
    """What one voice does next: a note, a chord, a rest (no heads), or time that passes unseen (`hidden`).

    `tuplet` is the product of all tuplets around it; `brackets` are (number, "start" | "stop", actual, normal) of those
    that begin or end here. `beam` is the same number for all events under one beam, 0 for none. `grace` is "", "plain"
    or "slash".
    """

    heads: list[Head] = field(default_factory=list)
    length: Fraction = Fraction(0)
    type: str = ""
    dots: int = 0
    staff: int = 1
    id: str = ""
    tuplet: tuple[int, int] | None = None
    brackets: list[tuple[int, str, int, int]] = field(default_factory=list)
    beam: int = 0
    grace: str = ""
    steal: tuple[str, str] | None = None
    hidden: bool = False
    whole_measure: bool = False
    cue: bool = False
    stem: str = ""
    signs: list[Sign] = field(default_factory=list)
    articulations: list[str] = field(default_factory=list)
    fermata: bool = False
    arpeggio: tuple[str, dict[str, str]] | None = None
    slurs: list[tuple[int, str]] = field(default_factory=list)
    clef: Clef | None = None


@dataclass
class Mark:
    """A direction at a moment of its measure: kind is "tempo", "dynamics", "words", "wedge" or "pedal".

    A tempo has `unit` (a note type), `dots` and `number` a minute, or only `sound`, in quarters a minute.
    """

    onset: Fraction
    staff: int
    kind: str
    text: str = ""
    unit: str = ""
    dots: int = 0
    number: str = ""
    sound: Fraction | None = None
    place: str = ""


@dataclass
class Bar:
    """A measure. `voices`: (voice number, events). `metre`, `fifths`, `clefs` where they change; `symbol` is "common",
    "cut", or "none" for no metre at all."""

    number: str
    implicit: bool = False
    metre: tuple[int, int] | None = None
    symbol: str = ""
    fifths: int | None = None
    clefs: dict[int, Clef] = field(default_factory=dict)
    voices: list[tuple[int, list[Event]]] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    repeat_start: bool = False
    repeat_end: bool = False
    style: str = ""
    ending_start: str = ""
    ending_stop: str = ""
    ending_open: bool = False


@dataclass
class Draft:
    title: str = ""
    composer: str = ""
    staves: int = 1
    bars: list[Bar] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)


def type_of(length: Fraction) -> tuple[str, int] | None:
    """The note type and dots that last this long, or None if no single head does."""
    for dots in range(4):
        kind = TYPES.get(length / (2 - Fraction(1, 2**dots)))
        if kind:
            return kind, dots
    return None
