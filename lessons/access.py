"""Who may see and change which lessons, assignments, handouts and logs: the one place that answers it."""

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone

from lessons.models import (
    Absence,
    AssignedPassage,
    Assignment,
    Handout,
    Holiday,
    Lesson,
    PracticeEntry,
    Slot,
    TermReport,
)
from studio.access import students_of
from studio.models import Term, User


def lessons_of(user: User) -> QuerySet[Lesson]:
    """A teacher's all; a student's own; a guardian's children's."""
    return Lesson.objects.filter(studio_id=user.studio_id, student__in=students_of(user)).select_related("student")


def assignments_of(user: User) -> QuerySet[Assignment]:
    return Assignment.objects.filter(studio_id=user.studio_id, lesson__student__in=students_of(user)).select_related(
        "lesson__student", "piece"
    )


def assigned_of(user: User) -> QuerySet[AssignedPassage]:
    """A teacher's all; for a family what was given: at a lesson that has begun and was not cancelled, or on a
    handout. Until then the teacher may still be planning."""
    rows = AssignedPassage.objects.filter(
        studio_id=user.studio_id, assignment__lesson__student__in=students_of(user)
    ).select_related("assignment__lesson__student", "assignment__piece", "passage__edition")
    if user.is_teacher:
        return rows
    held = {"assignment__lesson__cancelled_at": None}
    on_a_sheet = Exists(Handout.objects.filter(lesson=OuterRef("assignment__lesson")))
    return rows.filter(Q(assignment__lesson__starts_at__lte=timezone.now(), **held) | on_a_sheet)


def handouts_of(user: User) -> QuerySet[Handout]:
    return Handout.objects.filter(studio_id=user.studio_id, lesson__student__in=students_of(user)).select_related(
        "lesson__student"
    )


def entries_of(user: User) -> QuerySet[PracticeEntry]:
    """Those taken out included: they can be brought back."""
    return PracticeEntry.objects.filter(studio_id=user.studio_id, student__in=students_of(user)).select_related(
        "student", "entered_by", "assigned__passage", "assigned__assignment__piece"
    )


def reports_of(user: User) -> QuerySet[TermReport]:
    """A teacher's all, those taken out included; for a family those that were given and still stand."""
    rows = TermReport.objects.filter(studio_id=user.studio_id, student__in=students_of(user)).select_related("student")
    return rows if user.is_teacher else rows.standing().exclude(given_at=None)


def lesson_for(user: User, pk: int) -> Lesson:
    return get_object_or_404(lessons_of(user), pk=pk)


def assigned_for(user: User, pk: int) -> AssignedPassage:
    return get_object_or_404(assigned_of(user), pk=pk)


def slots_seen_by(user: User) -> QuerySet[Slot]:
    """The teacher's weekly lessons, those taken out included: they can be brought back."""
    return Slot.objects.filter(studio_id=user.studio_id) if user.is_teacher else Slot.objects.none()


def slot_for(user: User, pk: int) -> Slot:
    return get_object_or_404(slots_seen_by(user).select_related("studio"), pk=pk)


def days_for(user: User, model: type[Holiday | Absence | Term], pk: int) -> Holiday | Absence | Term:
    """A holiday, an absence or a term that the teacher may change."""
    rows = model.objects.filter(studio_id=user.studio_id) if user.is_teacher else model.objects.none()
    return get_object_or_404(rows.select_related("studio"), pk=pk)
