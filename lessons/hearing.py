"""Hearing again what was given: the teacher's quick marks on each passage, as verbs."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import transaction
from django.db.models import QuerySet

from lessons import assigning
from lessons.models import AssignedPassage, Lesson, Mark
from studio.models import Student

Kind = Mark.Kind


@dataclass(frozen=True)
class Marked:
    """What a mark did. `undo` is a token for `assigning.restore` where it took the passage out of this lesson's work,
    "" elsewhere."""

    mark: Mark | None
    undo: str = ""


@transaction.atomic
def mark(*, lesson: Lesson, assigned: AssignedPassage, kind: str, tempo: int | None = None) -> Marked:
    """Says at `lesson` what becomes of a passage that was given earlier; said anew, it replaces what was said there.

    Carried on, it stands in this lesson's work with all its choices, at the tempo reached where one is given. Done or
    set aside, it does not stand there.
    """
    Lesson.objects.select_for_update().get(pk=lesson.pk)  # so that two clicks at once make one mark
    row, _ = Mark.objects.update_or_create(
        assigned=assigned,
        lesson=lesson,
        defaults={"studio_id": lesson.studio_id, "kind": kind, "tempo": tempo},
    )
    if kind != Kind.CARRY_ON:
        return Marked(row, take_out(lesson, assigned))
    carried = carry(lesson, assigned)
    if tempo is not None:
        carried.tempo_now = tempo
        carried.save(update_fields=["tempo_now"])
    return Marked(row)


@transaction.atomic
def unmark(*, lesson: Lesson, assigned: AssignedPassage) -> Marked:
    """Takes back what was said; a passage that was carried on leaves this lesson's work again."""
    row = Mark.objects.filter(lesson=lesson, assigned=assigned).first()
    if row is None:
        return Marked(None)
    row.delete()
    return Marked(None, take_out(lesson, assigned) if row.kind == Kind.CARRY_ON else "")


def carry(lesson: Lesson, assigned: AssignedPassage) -> AssignedPassage:
    """The passage in this lesson's work, with the choices that it had."""
    is_new = not lesson.assignments.filter(piece_id=assigned.assignment.piece_id).exists()
    assignment = assigning.assign_piece(lesson=lesson, piece=assigned.assignment.piece)
    if is_new and assigned.assignment.remark:
        assigning.keep_assignment(assignment=assignment, remark=assigned.assignment.remark)
    there = assignment.passages.filter(passage_id=assigned.passage_id).first()
    return there or assigning.copy_assigned(assigned, assignment)


def take_out(lesson: Lesson, assigned: AssignedPassage) -> str:
    here = AssignedPassage.objects.filter(assignment__lesson=lesson, passage_id=assigned.passage_id)
    row = here.select_related("assignment").first()
    return assigning.remove_assigned(assigned=row) if row else ""


def learned(student: Student) -> QuerySet[Mark]:
    """What the student has learned, the newest first: each mark with its passage, piece and lesson."""
    return (
        Mark.objects.filter(assigned__assignment__lesson__student=student, kind=Kind.DONE)
        .select_related("lesson", "assigned__passage", "assigned__assignment__piece")
        .order_by("-lesson__starts_at", "-pk")
    )
