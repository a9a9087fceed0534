"""Slots become lessons: one row for each meeting and student, half a year ahead.

Laying out is done again whenever a slot, a holiday, an absence or a term changes, and daily as time goes on. Done
twice it changes nothing. The past is left alone. A row in which something is held is never taken away.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import reduce
from operator import or_
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import BooleanField, Exists, ExpressionWrapper, OuterRef, Prefetch, QuerySet
from django.utils.translation import ngettext

from lessons.calendar import Days, Stretch, Times, expand, falls
from lessons.models import Absence, Holiday, Lesson, Slot
from lessons.recurrence import moment_of
from lessons.rules import read_rule
from studio.models import Student, Studio, Term

WEEKS_AHEAD = 26
LOOKED_AHEAD = timedelta(days=800)


@dataclass(frozen=True)
class Laid:
    """What laying out did: how many lessons came and went, and which stay though no slot names them any more, because
    something is held in them."""

    made: int = 0
    removed: int = 0
    kept: Sequence[Lesson] = ()


@dataclass(frozen=True)
class Frame:
    """The days on which a studio's slots can fall."""

    zone: ZoneInfo
    holidays: Days
    terms: Days
    absences: dict[int, Days] = field(default_factory=dict)


def frame_of(studio: Studio, first: date, last: date) -> Frame:
    """Holidays, terms and absences that touch these days."""
    spans: dict[int, list[tuple[date, date]]] = defaultdict(list)
    for student, begin, end in (
        Absence.objects.filter(studio=studio).touching(first, last).values_list("student_id", "first_day", "last_day")
    ):
        spans[student].append((begin, end))
    holidays = Holiday.objects.filter(studio=studio).touching(first, last)
    terms = Term.objects.filter(studio=studio, first_day__lte=last, last_day__gte=first)
    return Frame(
        ZoneInfo(studio.timezone),
        Days(holidays.values_list("first_day", "last_day")),
        Days(terms.values_list("first_day", "last_day")),
        {student: Days(found) for student, found in spans.items()},
    )


def slots_of(studio: Studio) -> QuerySet[Slot]:
    """The standing slots with those of their students who still come."""
    return (
        Slot.objects.standing()
        .filter(studio=studio)
        .prefetch_related(Prefetch("students", Student.objects.current(), to_attr="comers"))
    )


def times_of(slot: Slot) -> Times:
    rule = read_rule(slot.rule) if slot.rule else None
    return Times(slot.first_day, slot.at, slot.minutes, rule, slot.in_terms)


def meetings_of(slot: Slot, frame: Frame, first: date, last: date) -> Iterator[Stretch]:
    """When the slot's meetings fall, whoever comes to them."""
    return expand(times_of(slot), first, last, zone=frame.zone, holidays=frame.holidays, terms=frame.terms)


def next_day(slot: Slot, today: date, zone: ZoneInfo) -> date | None:
    """The first day from today on for which the slot's rule stands, holidays or not; None for a slot that is over."""
    return next(falls(times_of(slot), today, today + LOOKED_AHEAD, zone), None)


def comers(slot: Slot, begin: datetime, frame: Frame) -> list[Student]:
    """Who comes to one meeting: those who are not absent and whose meeting was not taken out."""
    day = begin.astimezone(frame.zone).date()
    return [
        student
        for student in slot.comers
        if day not in frame.absences.get(student.pk, ()) and left_out_key(day, student.pk) not in slot.left_out
    ]


def left_out_key(day: date, student_id: int) -> str:
    return f"{day.isoformat()}/{student_id}"


def horizon(today: date) -> date:
    """The last day that is laid out."""
    return today + timedelta(weeks=WEEKS_AHEAD)


def local_day(studio: Studio, at: datetime) -> date:
    """The day on the studio's wall calendar."""
    return at.astimezone(ZoneInfo(studio.timezone)).date()


@transaction.atomic
def lay_out(studio: Studio, *, at: datetime, slots: Iterable[Slot] | None = None) -> Laid:
    """Makes the studio's lessons, or those of these slots, be what the slots say from today to the horizon."""
    Studio.objects.select_for_update(no_key=True).get(pk=studio.pk)  # two at once would both make what is missing
    today = local_day(studio, at)
    last = horizon(today)
    frame = frame_of(studio, today, last)
    standing, rows = slots_of(studio), laid_rows(studio, moment_of(today, time(), frame.zone))
    if slots is not None:
        keys = [slot.pk for slot in slots]
        standing, rows = standing.filter(pk__in=keys), rows.filter(slot__in=keys)
    wanted = {
        (slot.pk, begin, student.pk): slot
        for slot in standing
        for begin, _ in meetings_of(slot, frame, today, last)
        for student in comers(slot, begin, frame)
    }
    there = {(row.slot_id, row.meant_for, row.student_id): row for row in rows}
    missing = [
        Lesson(
            studio=studio,
            student_id=student,
            slot=slot,
            starts_at=begin,
            meant_for=begin,
            minutes=slot.minutes,
            where=slot.where,
            place=slot.place,
        )
        for (_, begin, student), slot in wanted.items()
        if (slot.pk, begin, student) not in there
    ]
    surplus = [row for key, row in there.items() if key not in wanted and row.starts_at > at and not row.cancelled_at]
    bare = [row.pk for row in surplus if is_bare(row)]
    Lesson.objects.filter(pk__in=bare).delete()
    Lesson.objects.bulk_create(missing)
    return Laid(len(missing), len(bare), [row for row in surplus if not is_bare(row)])


def laid_rows(studio: Studio, begin: datetime) -> QuerySet[Lesson]:
    """Lessons of slots meant for a moment from `begin` on; `holds` says whether anything hangs on them: work, handouts,
    credits, whatever refers to a lesson."""
    related = (
        Exists(one.related_model._base_manager.filter(**{one.field.name: OuterRef("pk")}))
        for one in Lesson._meta.related_objects
    )
    return (
        Lesson.objects.filter(studio=studio, slot__isnull=False, meant_for__gte=begin)
        .annotate(holds=ExpressionWrapper(reduce(or_, related), output_field=BooleanField()))
        .select_related("student__user")
        .order_by("starts_at", "pk")
    )


def is_bare(row: Lesson) -> bool:
    """Whether nothing was written, decided or moved in a lesson from `laid_rows`, so that it can go without loss."""
    written = row.notes.strip() or row.private_notes.strip() or row.attendance or row.makes_up_for_id
    return not (written or row.holds or row.starts_at != row.meant_for)


def lay_out_ahead(studio: Studio, at: datetime) -> str:
    """The clock's job: keeps half a year of lessons laid out."""
    laid = lay_out(studio, at=at)
    if not laid.made:
        return ""
    return ngettext("%(count)s lesson laid out", "%(count)s lessons laid out", laid.made) % {"count": laid.made}
