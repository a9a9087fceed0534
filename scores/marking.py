"""Marking passages: what changes them, as verbs."""

from datetime import datetime
from fractions import Fraction

from scores.models import Edition, Passage
from scores.music.notation import Hands, moment_key


def beat_words(beat: Fraction) -> str:
    """A beat as a reader writes it: "2", "2½", "5/3"."""
    whole, part = divmod(beat, 1)
    marks = {Fraction(0): "", Fraction(1, 2): "½", Fraction(1, 4): "¼", Fraction(3, 4): "¾"}
    return f"{whole}{marks[part]}" if part in marks else str(beat)


def mark_passage(*, edition: Edition, first: str, last: str, hands: Hands, name: str = "") -> Passage:
    """Marks the range between the moments of two notes, in either order.

    Raises `KeyError` for a note that the edition does not have.
    """
    score = edition.score
    start, end = sorted((score.by_id[first], score.by_id[last]), key=moment_key)
    opening, closing = score.measure_of(start), score.measure_of(end)
    return Passage.objects.create(
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


def remove_passage(passage: Passage, *, at: datetime) -> None:
    passage.removed_at = at
    passage.save(update_fields=["removed_at"])


def restore_passage(passage: Passage) -> None:
    passage.removed_at = None
    passage.save(update_fields=["removed_at"])
