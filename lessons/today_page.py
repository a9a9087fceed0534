"""What the page of one day shows: its meetings in order, each with its students."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby
from typing import Literal

from django.db.models import Count, OuterRef, QuerySet, Subquery

from lessons.attending import proposed_cancellation
from lessons.models import AssignedPassage, Attendance, Lesson, Policy

State = Literal["over", "now", "next", "later", "cancelled"]


@dataclass(frozen=True)
class Attended:
    """One student's part of a meeting: `given` is what was given last time, `proposed` which kind of cancellation it
    would be now."""

    lesson: Lesson
    given: Sequence[AssignedPassage]
    proposed: Attendance


@dataclass(frozen=True)
class Meeting:
    """One line of the day: an hour with one student, or with all who come together."""

    parts: Sequence[Attended]
    state: State
    number: int = field(default=0)

    @property
    def lesson(self) -> Lesson:
        """The lesson that the line opens: the first that is not cancelled."""
        return next((one.lesson for one in self.parts if not one.lesson.cancelled_at), self.parts[0].lesson)

    @property
    def name(self) -> str:
        """A group's own name, where it has one."""
        return self.lesson.slot.name if self.lesson.slot_id and len(self.parts) > 1 else ""


def with_previous(lessons: QuerySet[Lesson]) -> QuerySet[Lesson]:
    """With `previous_id`, the student's last lesson before it that was held and gave work."""
    earlier = Lesson.objects.held().filter(
        student=OuterRef("student"), starts_at__lt=OuterRef("starts_at"), assignments__isnull=False
    )
    return lessons.annotate(previous_id=Subquery(earlier.order_by("-starts_at", "-pk").values("pk")[:1]))


def with_counts(lessons: QuerySet[Lesson]) -> QuerySet[Lesson]:
    """With how many passages each gives, and how many sheets were given."""
    return lessons.annotate(
        passages=Count("assignments__passages", distinct=True), sheets=Count("handouts", distinct=True)
    )


def meetings_of(lessons: QuerySet[Lesson], *, policy: Policy, at: datetime) -> list[Meeting]:
    """A day's lessons as meetings, in order of time. Needs two queries, however many lessons there are."""
    rows = list(
        with_counts(with_previous(lessons))
        .select_related("student", "slot")
        .order_by("starts_at", "slot_id", "meant_for", "student__name", "pk")
    )
    given = given_at({row.previous_id for row in rows if row.previous_id})
    together = [list(group) for _, group in groupby(rows, key=meeting_key)]
    states = states_of(together, at=at)
    return [
        Meeting(
            [Attended(row, given.get(row.previous_id, ()), proposed_cancellation(row, policy, at=at)) for row in group],
            state,
            number,
        )
        for number, (group, state) in enumerate(zip(together, states, strict=True), start=1)
    ]


def meeting_key(lesson: Lesson) -> tuple[object, ...]:
    """The same for those who come together: to the same lesson of one slot, at the same time."""
    if lesson.slot_id is None:
        return (lesson.pk,)
    return (lesson.slot_id, lesson.meant_for, lesson.starts_at)


def given_at(lessons: Iterable[int]) -> dict[int, list[AssignedPassage]]:
    """What was given at these lessons, by lesson."""
    found: dict[int, list[AssignedPassage]] = {}
    rows = AssignedPassage.objects.filter(assignment__lesson__in=list(lessons))
    for row in rows.select_related("assignment__piece", "passage").order_by("assignment__position", "position", "pk"):
        found.setdefault(row.assignment.lesson_id, []).append(row)
    return found


def states_of(meetings: Sequence[Sequence[Lesson]], *, at: datetime) -> list[State]:
    """Where each meeting stands at a moment. The first to come is the next one, unless one is going on."""
    states: list[State] = []
    for lessons in meetings:
        if all(lesson.cancelled_at for lesson in lessons):
            states.append("cancelled")
        elif lessons[0].ends_at <= at:
            states.append("over")
        elif lessons[0].starts_at <= at:
            states.append("now")
        else:
            states.append("later" if {"now", "next"} & set(states) else "next")
    return states
