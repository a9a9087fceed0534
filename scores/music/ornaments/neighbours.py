"""The upper and lower neighbour of a note: the key signature, the accidentals in force, the sign's own accidental."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from scores.music.notation import STEPS, Note, Pitch, Score

SHARPS = "FCGDAEB"
ACCIDENTALS = {
    "sharp": 1,
    "natural": 0,
    "flat": -1,
    "double-sharp": 2,
    "sharp-sharp": 2,
    "flat-flat": -2,
    "natural-sharp": 1,
    "natural-flat": -1,
}
TRILL_STEPS = {"whole": 2, "half": 1, "unison": 0}


def altered_by_key(step: str, fifths: int) -> int:
    """How a key signature of `fifths` sharps (flats if negative) alters a step: 1, 0 or -1; beyond seven, doubly."""
    if fifths >= 0:
        return (fifths + 6 - SHARPS.index(step)) // 7
    return -((-fifths + SHARPS.index(step)) // 7)


class Neighbours:
    """Finds neighbours in one score, remembering the accidentals of each measure."""

    def __init__(self, score: Score) -> None:
        self._fifths = [measure.fifths for measure in score.measures]
        self._seen: dict[tuple[int, int, str, int], list[tuple[Fraction, int]]] = {}
        for note in score.notes:
            place = (note.measure, note.staff, note.pitch.step, note.pitch.octave)
            self._seen.setdefault(place, []).append((note.onset, note.pitch.alter))

    def of(self, note: Note, steps: int, options: Mapping[str, str] | None = None) -> Pitch:
        """The pitch `steps` staff places above (below if negative) `note`.

        An accidental of the sign comes first (`options`, see `sign_accidental`), then a trill step that the file
        states, then the last note up to this moment on the same place of the staff in this measure, then the key.
        """
        if not steps:
            return note.pitch
        place = STEPS.index(note.pitch.step) + steps
        step, octave = STEPS[place % 7], note.pitch.octave + place // 7
        asked = sign_accidental(options or {}, above=steps > 0)
        if asked is not None and abs(steps) == 1:
            return Pitch(step, asked, octave)
        if steps == 1 and (wide := TRILL_STEPS.get((options or {}).get("trill-step", ""))) is not None:
            return Pitch(step, note.pitch.midi + wide - Pitch(step, 0, octave).midi, octave)
        if steps == -1 and (wide := TRILL_STEPS.get((options or {}).get("two-note-turn", ""))) is not None:
            return Pitch(step, note.pitch.midi - wide - Pitch(step, 0, octave).midi, octave)
        before = [
            alter
            for onset, alter in self._seen.get((note.measure, note.staff, step, octave), ())
            if onset <= note.onset
        ]
        fifths = self._fifths[note.measure] if note.measure < len(self._fifths) else 0
        return Pitch(step, before[-1] if before else altered_by_key(step, fifths), octave)


def sign_accidental(options: Mapping[str, str], *, above: bool) -> int | None:
    """The alteration that an accidental at the sign asks for, or None.

    An accidental that stands above a sign changes the upper neighbour, one below the lower; one without a place
    changes the only neighbour that the sign has.
    """
    place = "above" if above else "below"
    for name in (f"accidental-mark-{place}", f"accidental-{place}", "accidental-mark", "accidental"):
        if name in options:
            return ACCIDENTALS.get(options[name])
    return None
