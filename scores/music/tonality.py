"""The key a piece stands in, as its signature and its last bass note say it."""

from __future__ import annotations

from scores.music.notation import Score
from scores.music.order import play_order

# By fifths from -7 to 7: a capital for major, a small letter for minor, as musicians write keys short.
MAJORS = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
MINORS = ("ab", "eb", "bb", "f", "c", "g", "d", "a", "e", "b", "f#", "c#", "g#", "d#", "a#")


def key_of(score: Score) -> str:
    """The key in short ("Eb", "c"), or "" where the signature does not decide it.

    The first signature leaves two keys; the lowest of the last notes, in the order in which the measures are played,
    names which of their tonics it is (common practice). A piece that ends elsewhere, or in another signature, is left
    to the teacher.
    """
    order = play_order(score.measures)
    notes = [note for note in score.in_measures(order[-1], order[-1]) if not note.is_grace] if order else []
    fifths = score.measures[0].fifths if order else 0
    if not notes or not -7 <= fifths <= 7 or score.measures[order[-1]].fifths != fifths:
        return ""
    end = max(note.end for note in notes)
    last = min(note.pitch.midi for note in notes if note.end == end) % 12
    major = 7 * fifths % 12
    if last == major:
        return MAJORS[fifths + 7]
    return MINORS[fifths + 7] if last == (major + 9) % 12 else ""
