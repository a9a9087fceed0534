"""Stretches: the moments of one hand that a passage or a fingering covers, and how places are said to a reader."""

from collections.abc import Iterable
from dataclasses import dataclass

from scores.marking import beat_words
from scores.models import Fingering, Passage
from scores.music.notation import Hands, Moment, Note, Score, Side, moment_key, moments, sides_of

Key = tuple[object, int]


@dataclass(frozen=True)
class Place:
    """Where a moment stands, as printed: the measure's number and the beat ("2½")."""

    measure: str
    beat: str


def place_of(score: Score, note: Note) -> Place:
    measure = score.measure_of(note)
    return Place(measure.number, beat_words(measure.beat_of(note.onset)))


def notes_in(passage: Passage, side: Hands = "both") -> tuple[Note, ...]:
    """The notes of the passage that belong to one of its own hands, or to one of them."""
    score = passage.edition.score
    near = score.in_measures(passage.first_measure, passage.last_measure, passage.hands)
    own = tuple(note for note in near if side in ("both", note.side))
    return between(score, own, passage.first_note, passage.last_note)


def between(score: Score, notes: Iterable[Note], first: str, last: str) -> tuple[Note, ...]:
    """As `Score.between`, out of a few notes instead of all."""
    start, end = sorted((score.by_id[first], score.by_id[last]), key=moment_key)
    low = moment_key(start) if start.is_grace else (start.onset, -1)
    high = moment_key(end)
    return tuple(note for note in notes if low <= moment_key(note) <= high)


def stretch(passage: Passage, side: Side, first: str = "", last: str = "") -> tuple[Moment, ...]:
    """The moments of a hand from the moment of note `first` to that of `last` (by default the passage's own ends),
    never beyond the passage. Empty when that hand strikes nothing there."""
    score = passage.edition.score
    inside = notes_in(passage, side)
    if first in score.by_id and last in score.by_id:
        inside = between(score, inside, first, last)
    return moments(inside)


def stretch_of(fingering: Fingering) -> tuple[Moment, ...]:
    """The moments that a fingering covers."""
    return stretch(fingering.passage, fingering.side, fingering.first_note, fingering.last_note)


def sides_in(passage: Passage) -> tuple[Side, ...]:
    """The hands of the passage that strike something in it."""
    return tuple(side for side in sides_of(passage.hands) if stretch(passage, side))


def key_of(moment: Moment) -> Key:
    """Tells moments of one hand apart and sorts them: a grace stands before the note it leads to."""
    return moment_key(moment.notes[0])
