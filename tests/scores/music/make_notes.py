"""Builders for the music tests: notes in a line, measures of one length, scores."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from scores.music.notation import Measure, Note, Ornament, Pitch, Score, reading_order


def pitch(name: str) -> Pitch:
    """ "Bb4", "F#5", "C4"."""
    return Pitch(name[0], {"": 0, "#": 1, "b": -1, "##": 2, "bb": -2}[name[1:-1]], int(name[-1]))


def note(id: str, name: str, onset: object, length: object, **other: Any) -> Note:
    """A note of the right hand in the 4/4 measure where its onset falls, unless told otherwise."""
    values: dict[str, Any] = {
        "measure": int(Fraction(str(onset)) // 4),
        "side": "right",
        "staff": 1,
        "voice": "1",
        **other,
    }
    if values["side"] == "left" and "staff" not in other:
        values.update(staff=2, voice=other.get("voice", "2"))
    return Note(id, pitch(name), Fraction(str(onset)), Fraction(str(length)), **values)


def signed(
    id: str, name: str, onset: object, length: object, kind: str, other: dict[str, Any] | None = None, **options: str
) -> Note:
    """A note with one sign; `options` are the sign's attributes, hyphens as underscores."""
    attributes = tuple(sorted((key.replace("_", "-"), value) for key, value in options.items()))
    return note(id, name, onset, length, ornaments=(Ornament(kind, attributes),), **(other or {}))


def line(
    names: str, lengths: Sequence[object], *, start: object = 0, prefix: str = "n", **other: Any
) -> tuple[Note, ...]:
    """Notes one after the other: names apart by blanks, "-" for a rest."""
    notes, at = [], Fraction(str(start))
    for place, (name, length) in enumerate(zip(names.split(), lengths, strict=True)):
        if name != "-":
            notes.append(note(f"{prefix}{place}", name, at, length, **other))
        at += Fraction(str(length))
    return tuple(notes)


def score(*notes: Note, measures: int = 0, fifths: int = 0, beats: int = 4, beat_type: int = 4, **other: Any) -> Score:
    """A score of equal measures that holds the notes (their `measure` is set from their onset)."""
    length = Fraction(4 * beats, beat_type)
    last = max((one.end for one in notes), default=length)
    count = measures or max(1, -int(-last // length))
    bars = tuple(
        Measure(index, str(index + 1), index * length, length, beats, beat_type, fifths) for index in range(count)
    )
    placed = [replace(one, measure=min(count - 1, int(one.onset // length))) for one in notes]
    return Score(bars, tuple(sorted(placed, key=reading_order)), **other)
