"""A student's own choice between what the teacher left open."""

from collections.abc import Iterable

from django.db import transaction

from lessons.models import AssignedPassage, OfferedFingering
from lessons.models.assignments import ChosenBy
from scores.inheriting import here
from scores.models import Fingering, Passage, Placement


class NotOpen(Exception):
    """This was not left open, or not offered."""


def lock(assigned: AssignedPassage) -> None:
    """Holds the row for the rest of the transaction: a student may choose while her teacher decides."""
    AssignedPassage.objects.select_for_update().get(pk=assigned.pk)


def same_part(one: Fingering, other: Fingering) -> bool:
    """Whether two fingerings are options of one part: the same hand over the same stretch."""
    return (one.side, one.first_note, one.last_note) == (other.side, other.first_note, other.last_note)


def options_of(assigned: AssignedPassage, fingering: Fingering) -> list[OfferedFingering]:
    """What is offered for the part that this fingering, as it stands at the passage, belongs to."""
    rows = offered_here(assigned)
    fingering = next((row.fingering for row in rows if row.fingering_id == fingering.pk), fingering)
    return [row for row in rows if same_part(row.fingering, fingering)]


def offered_here(assigned: AssignedPassage) -> list[OfferedFingering]:
    """What is offered, each fingering as it stands at the passage: it may have been written where the music stands
    first."""
    return as_they_stand(assigned.offered.select_related("fingering"), assigned.passage)


def as_they_stand(rows: Iterable[OfferedFingering], passage: Passage) -> list[OfferedFingering]:
    """The rows, each with its fingering as it stands at the passage, as long as it does or did."""
    notes = here(passage)
    standing = {one.pk: one for one in (*notes.gone, *notes.fingerings)}
    rows = list(rows)
    for row in rows:
        if row.fingering_id in standing:
            row.fingering = standing[row.fingering_id]
    return rows


@transaction.atomic
def choose_fingering(*, assigned: AssignedPassage, offered: OfferedFingering) -> None:
    """Makes this fingering the student's own in its part.

    Raises `NotOpen` where the teacher has chosen already.
    """
    lock(assigned)
    options = options_of(assigned, offered.fingering)
    if any(row.chosen_by == ChosenBy.TEACHER for row in options):
        raise NotOpen
    for row in options:
        row.chosen_by = ChosenBy.STUDENT if row.pk == offered.pk else ChosenBy.NOBODY
        row.save(update_fields=["chosen_by"])


@transaction.atomic
def choose_placement(*, assigned: AssignedPassage, note: str, placement: Placement) -> None:
    """Decides where the ornament of a note falls. Raises `NotOpen` unless it was left to the student."""
    lock(assigned)
    row = assigned.placements.filter(note=note).first()
    if row is None or row.chosen_by == ChosenBy.TEACHER:
        raise NotOpen
    row.placement = placement
    row.chosen_by = ChosenBy.STUDENT
    row.save(update_fields=["placement", "chosen_by"])
