"""Short passages for the fingering tests, from note names. Music invented here."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from scores.music.notation import Grace, Measure, Note, Pitch, Score, Side

ALTER = {"": 0, "#": 1, "b": -1, "##": 2, "bb": -2}


def pitch(name: str) -> Pitch:
    """ "Eb4" -> a pitch."""
    return Pitch(name[0], ALTER[name[1:-1]], int(name[-1]))


def spell(midi: int) -> Pitch:
    """A key as a pitch, black keys as sharps."""
    name = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"][midi % 12]
    return pitch(f"{name}{midi // 12 - 1}")


def note(
    id: str,
    name: str | int,
    onset: Fraction | int | float,
    length: Fraction | int | float = 1,
    *,
    side: Side = "right",
    voice: str = "1",
    tie: str = "",
    grace: int | None = None,
    printed: str = "",
) -> Note:
    start = Fraction(onset)
    return Note(
        id=id,
        pitch=pitch(name) if isinstance(name, str) else spell(name),
        onset=start,
        length=Fraction(0) if grace is not None else Fraction(length),
        measure=int(start // 4),
        side=side,
        staff=1 if side == "right" else 2,
        voice=voice,
        tie_start="start" in tie,
        tie_stop="stop" in tie,
        grace=None if grace is None else Grace(grace),
        printed=printed,
    )


def line(names: str, *, side: Side = "right", each: Fraction | int | float = 1, start: int = 0) -> tuple[Note, ...]:
    """ "C4 E4+G4 _ D4": moments one after another, "+" within a chord, "_" a rest. Ids n1, n2, ... in reading order."""
    made: list[Note] = []
    for place, token in enumerate(names.split()):
        for name in token.split("+") if token != "_" else ():
            made.append(note(f"n{len(made) + 1}", name, start + place * Fraction(each), each, side=side))
    return tuple(made)


def keys(midis: Sequence[int], *, side: Side = "right", each: Fraction | int | float = 1) -> tuple[Note, ...]:
    """One note after another, by MIDI number."""
    return tuple(note(f"n{place + 1}", key, place * Fraction(each), each, side=side) for place, key in enumerate(midis))


def score(notes: Sequence[Note]) -> Score:
    """A score in 4/4 around the notes."""
    last = max((n.onset + n.length for n in notes), default=Fraction(0))
    count = int(last // 4) + 1
    measures = tuple(Measure(i, str(i + 1), Fraction(4 * i), Fraction(4), 4, 4) for i in range(count))
    return Score(measures, tuple(notes))


def fingers(notes: Sequence[Note], text: str) -> dict[str, str]:
    """ "1 2 _ 4-5" in reading order, "_" unmarked; or "1234" without blanks."""
    tokens = text.split() if " " in text else list(text)
    return {n.id: token for n, token in zip(notes, tokens, strict=True) if token != "_"}
