"""What is wrong with a fingering and where, as a sentence that the screens translate."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from scores.music.notation import Note, Score

Severity = Literal["cannot", "watch"]

PARTS_OF_A_BEAT = {
    Fraction(1, 2): "½",
    Fraction(1, 3): "⅓",
    Fraction(2, 3): "⅔",
    Fraction(1, 4): "¼",
    Fraction(3, 4): "¾",
    Fraction(1, 6): "⅙",
    Fraction(5, 6): "⅚",
    Fraction(1, 8): "⅛",
    Fraction(3, 8): "⅜",
    Fraction(5, 8): "⅝",
    Fraction(7, 8): "⅞",
}


def gettext_noop(msgid: str) -> str:
    """Marks a sentence for the translators' catalogue and returns it unchanged: the screens translate it."""
    return msgid


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong. `message` is an English msgid with %(name)s places for `params`; `notes` are the ids it
    speaks of, the one to change first. `severity`: "cannot" be played, or "watch": unusual, perhaps meant."""

    kind: str
    notes: tuple[str, ...]
    message: str
    params: Mapping[str, str | int] = field(default_factory=dict)
    severity: Severity = "cannot"

    def __str__(self) -> str:
        return self.message % self.params if self.params else self.message


def beat_name(beat: Fraction) -> str:
    """A beat as it is said: "2", "2½", "3+5/12"."""
    whole, part = divmod(beat, 1)
    if not part:
        return str(whole)
    return f"{whole}{PARTS_OF_A_BEAT[part]}" if part in PARTS_OF_A_BEAT else f"{whole}+{part}"


def place(note: Note, score: Score | None) -> dict[str, str | int]:
    """The measure as printed and the beat of a note, as `measure` and `beat`. Without the score they are not known: the
    measure is counted from the first and the beat is "?"."""
    if score is None or not 0 <= note.measure < len(score.measures):
        return {"measure": str(note.measure + 1), "beat": "?"}
    measure = score.measure_of(note)
    return {"measure": measure.number, "beat": beat_name(measure.beat_of(note.onset))}


def key_name(note: Note) -> str:
    """The key in words: "E♭4"."""
    return f"{note.pitch.name}{note.pitch.octave}"
