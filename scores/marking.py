"""Marking passages: what changes them, as verbs, and how a place in the music is read and written."""

import re
from datetime import datetime
from fractions import Fraction

from scores.models import Edition, Passage
from scores.music.fingering.problems import PARTS_OF_A_BEAT, beat_name
from scores.music.notation import Hands, Note, Score, moment_key
from scores.searching import words_changed

PARTS = {mark: part for part, mark in PARTS_OF_A_BEAT.items()}
BEAT = re.compile(
    rf"(\d{{1,4}})?\s*([{''.join(PARTS)}])?|(?:(\d{{1,4}})[\s+]+)?(\d{{1,4}})/(\d{{1,4}})|(\d{{1,4}}[.,]\d{{1,4}})"
)


def beat_words(beat: Fraction) -> str:
    """A beat as a reader writes it: "2", "2½", "1⅔", "3+5/12"."""
    return beat_name(beat)


def read_beat(text: str) -> Fraction:
    """A beat as a reader writes it, "2", "2½", "2 1/2", "2+1/2", "5/2" or "2.5". Raises `ValueError`."""
    found = BEAT.fullmatch(text.strip())
    if not found or not text.strip():
        raise ValueError(text)
    whole, mark, before, above, below, decimal = found.groups()
    if decimal:
        return Fraction(decimal.replace(",", "."))
    if below:
        if not int(below):
            raise ValueError(text)
        return int(before or 0) + Fraction(int(above), int(below))
    return int(whole or 0) + PARTS.get(mark, Fraction(0))


def note_at(score: Score, number: str, beat: Fraction | None, hands: Hands, *, last: bool) -> Note | None:
    """The note with which a passage begins or, with `last`, ends, given a measure's printed number and a beat.

    It begins with what is struck at the beat or next after it, ends with what is struck at the beat or last before it;
    without a beat, at the measure's own ends. None where the measure has no such note.
    """
    found = None
    for measure in score.measures:
        if measure.number != number:
            continue
        notes = score.in_measures(measure.index, measure.index, hands)
        if last:
            inside = [note for note in notes if beat is None or measure.beat_of(note.onset) <= beat]
            found = inside[-1] if inside else found
        else:
            inside = [note for note in notes if beat is None or measure.beat_of(note.onset) >= beat]
            if inside:
                return inside[0]
    return found


def mark_passage(*, edition: Edition, first: str, last: str, hands: Hands, name: str = "") -> Passage:
    """Marks the range between the moments of two notes, in either order.

    Raises `KeyError` for a note that the edition does not have.
    """
    score = edition.score
    start, end = sorted((score.by_id[first], score.by_id[last]), key=moment_key)
    opening, closing = score.measure_of(start), score.measure_of(end)
    passage = Passage.objects.create(
        studio_id=edition.studio_id,
        edition=edition,
        hands=hands,
        first_note=start.id,
        last_note=end.id,
        first_measure=opening.index,
        last_measure=closing.index,
        first_number=opening.number,
        last_number=closing.number,
        first_beat=beat_words(opening.beat_of(start.onset)),
        last_beat=beat_words(closing.beat_of(end.onset)),
        name=name,
    )
    words_changed(passage, passage.where)
    return passage


def mark_all(*, edition: Edition) -> Passage:
    """Marks the whole edition as one passage, for both hands or the one that plays. Raises `IndexError` if it has no
    notes."""
    notes = edition.score.notes
    sides = {note.side for note in notes}
    hands: Hands = "both" if len(sides) > 1 else notes[0].side
    return mark_passage(edition=edition, first=notes[0].id, last=notes[-1].id, hands=hands)


def remove_passage(passage: Passage, *, at: datetime) -> None:
    passage.removed_at = at
    passage.save(update_fields=["removed_at"])
    words_changed(passage, passage.where)


def restore_passage(passage: Passage) -> None:
    passage.removed_at = None
    passage.save(update_fields=["removed_at"])
    words_changed(passage, passage.where)


def name_passage(passage: Passage, *, name: str) -> None:
    passage.name = name
    passage.save(update_fields=["name"])
    words_changed(passage, passage.where)
