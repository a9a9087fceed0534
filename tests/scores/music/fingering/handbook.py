"""Handbook fingerings of scales and root-position arpeggios, two octaves up, as any book of scales prints them.

Majors and arpeggios: a music teachers' association's chart and a conservatory's page agree with these. Harmonic minors:
from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from scores.music.notation import SEMITONES, STEPS, Note, Pitch, Side
from tests.scores.music.fingering import make

MAJOR, HARMONIC_MINOR = (0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 11)

MAJOR_RIGHT = {
    **dict.fromkeys(("C", "G", "D", "A", "E", "B"), "12312345"),
    "F": "12341234", "Bb": "41231234", "Eb": "31234123", "Ab": "34123123", "Db": "23123412", "F#": "23412312",
}  # fmt: skip
MAJOR_LEFT = {
    **dict.fromkeys(("C", "G", "D", "A", "E", "F"), "54321321"),
    **dict.fromkeys(("Bb", "Eb", "Ab", "Db"), "32143213"),
    "B": "43214321", "F#": "43213214",
}  # fmt: skip
MINOR_RIGHT = {
    **dict.fromkeys(("A", "E", "B", "C", "D", "G"), "12312345"),
    **dict.fromkeys(("F#", "C#", "G#"), "34123123"),
    "F": "12341234", "Eb": "31234123", "Bb": "41231234",
}  # fmt: skip
MINOR_LEFT = {
    **dict.fromkeys(("A", "E", "D", "G", "C", "F"), "54321321"),
    **dict.fromkeys(("C#", "G#"), "32143213"),
    **dict.fromkeys(("Eb", "Bb"), "21432132"),
    "B": "43214321", "F#": "43213214",
}  # fmt: skip
ARPEGGIO_RIGHT = {
    **dict.fromkeys(("C", "G", "D", "A", "E", "B", "F#"), ("1231235",)),
    "Db": ("4124124", "2124124"),
}  # fmt: skip
ARPEGGIO_LEFT = {
    **dict.fromkeys(("C", "G", "D", "A", "E"), ("5421421", "5321321")),
    "B": ("5321321",), "F#": ("5321321",), "Db": ("2142142",),
}  # fmt: skip


@dataclass(frozen=True)
class Exercise:
    """`right` answers: one fingering, or several that the books give. `group` scales or arpeggios."""

    name: str
    group: str
    tonic: str
    side: Side
    notes: tuple[Note, ...]
    answers: tuple[str, ...]


def degrees(tonic: str, shape: tuple[int, ...], octave: int, count: int, skip: int = 1) -> list[Pitch]:
    """`count` degrees of a scale from its tonic up, every `skip`-th, spelled one letter a degree."""
    start = STEPS.index(tonic[0])
    base = 12 * (octave + 1) + SEMITONES[tonic[0]] + make.ALTER[tonic[1:]]
    found = []
    for degree in range(0, count * skip, skip):
        over, place = divmod(degree, 7)
        letter, up = (start + degree) % 7, octave + (start + degree) // 7
        midi = base + 12 * over + shape[place]
        found.append(Pitch(STEPS[letter], midi - 12 * (up + 1) - SEMITONES[STEPS[letter]], up))
    return found


def notes_of(pitches: list[Pitch], side: Side) -> tuple[Note, ...]:
    return tuple(
        Note(f"n{place + 1}", pitch, Fraction(place, 4), Fraction(1, 4), place // 16, side, 1, "1")
        for place, pitch in enumerate(pitches)
    )


def two_octaves(one: str, side: Side) -> str:
    """The octave's own finger is the first one again in the right hand, the last one in the left."""
    return one[:7] + one if side == "right" else one + one[1:]


def scales() -> list[Exercise]:
    found = []
    tables: list[tuple[str, Side, tuple[int, ...], dict[str, str]]] = [
        ("major", "right", MAJOR, MAJOR_RIGHT),
        ("major", "left", MAJOR, MAJOR_LEFT),
        ("minor", "right", HARMONIC_MINOR, MINOR_RIGHT),
        ("minor", "left", HARMONIC_MINOR, MINOR_LEFT),
    ]
    for mode, side, shape, table in tables:
        for tonic, one in table.items():
            notes = notes_of(degrees(tonic, shape, 4 if side == "right" else 2, 15), side)
            found.append(Exercise(f"{tonic} {mode} {side}", "scale", tonic, side, notes, (two_octaves(one, side),)))
    return found


def arpeggios() -> list[Exercise]:
    found = []
    tables: list[tuple[Side, dict[str, tuple[str, ...]]]] = [("right", ARPEGGIO_RIGHT), ("left", ARPEGGIO_LEFT)]
    for side, table in tables:
        for tonic, answers in table.items():
            seven = [pitch for at in range(2) for pitch in triad(tonic, (4 if side == "right" else 2) + at)]
            notes = notes_of([*seven, *triad(tonic, (6 if side == "right" else 4))[:1]], side)
            found.append(Exercise(f"{tonic} arpeggio {side}", "arpeggio", tonic, side, notes, answers))
    return found


def triad(tonic: str, octave: int) -> list[Pitch]:
    return degrees(tonic, MAJOR, octave, 3, skip=2)
