"""Single lessons: planning, moving, cancelling and taking them out, as verbs. Weekly ones are made in `scheduling`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.core import signing
from django.db import transaction
from django.db.models import Count, QuerySet

from lessons.attending import mark_attendance
from lessons.laying_out import left_out_key
from lessons.models import Attendance, Lesson, Slot
from lessons.notices import tell_of_change
from studio.models import Student, Studio, User

SALT = "lesson taken out"
KEPT_HOURS = 24  # how long an undo holds
MOVED_SALT = "lesson before"
FIELDS = ("minutes", "where", "place", "notes", "private_notes", "attendance", "minutes_late", "sequence")
TIME_AND_PLACE = ("starts_at", "minutes", "where", "place")


class NoSuchTime(ValueError):
    """The clocks are put forward over this hour: it is not on that day."""


class ChangedSince(ValueError):
    """What is to be undone was changed again since."""


class StillHolds(Exception):
    """A lesson with work or handouts is not taken out without a word about them. `counts` says how many."""

    def __init__(self, counts: dict[str, int]) -> None:
        self.counts = counts
        super().__init__("the lesson holds work")


def moment(day: date, at: time, zone: str) -> datetime:
    """A day and a time of day in a time zone. Raises `NoSuchTime` in the hour that summer time leaves out."""
    local = datetime.combine(day, at, ZoneInfo(zone))
    if local.astimezone(ZoneInfo("UTC")).astimezone(ZoneInfo(zone)).replace(tzinfo=None) != local.replace(tzinfo=None):
        raise NoSuchTime
    return local


def plan_lesson(
    *, student: Student, starts_at: datetime, minutes: int, place: str = "", where: str = "studio"
) -> Lesson:
    return Lesson.objects.create(
        studio_id=student.studio_id, student=student, starts_at=starts_at, minutes=minutes, where=where, place=place
    )


@transaction.atomic
def plan_meeting(
    *, students: Sequence[Student], starts_at: datetime, minutes: int, place: str = "", where: str = "studio"
) -> list[Lesson]:
    """One lesson for one student, or one that several come to. The latter share a slot that falls once, so that they
    stay one meeting."""
    if len(students) == 1:
        return [plan_lesson(student=students[0], starts_at=starts_at, minutes=minutes, place=place, where=where)]
    local = starts_at.astimezone(ZoneInfo(students[0].studio.timezone))
    given = {"minutes": minutes, "where": where, "place": place}
    slot = Slot.objects.create(studio_id=students[0].studio_id, first_day=local.date(), at=local.time(), **given)
    slot.students.set(students)
    rows = [
        Lesson(studio_id=slot.studio_id, student=one, starts_at=starts_at, slot=slot, meant_for=starts_at, **given)
        for one in students
    ]
    return Lesson.objects.bulk_create(rows)


def mates(lesson: Lesson) -> QuerySet[Lesson]:
    """The rows of one meeting: those of a pair or group that still meet together, this lesson's own among them."""
    if lesson.slot_id is None or lesson.meant_for is None:
        return Lesson.objects.filter(pk=lesson.pk)
    return Lesson.objects.filter(
        slot_id=lesson.slot_id,
        meant_for=lesson.meant_for,
        starts_at=lesson.starts_at,
        cancelled_at__isnull=lesson.cancelled_at is None,
    )


@transaction.atomic
def move_lesson(
    *,
    lesson: Lesson,
    starts_at: datetime,
    at: datetime,
    minutes: int | None = None,
    where: str | None = None,
    place: str | None = None,
) -> str:
    """Moves a lesson, with all who come to it, or changes its length or place. Gives a token for `undo_move`; "" where
    nothing changed."""
    given = {"starts_at": starts_at, "minutes": minutes, "where": where, "place": place}
    given = {name: value for name, value in given.items() if value is not None}
    rows = list(mates(lesson).select_for_update(of=("self",)).select_related("student__user").order_by("pk"))
    if all(getattr(row, name) == value for row in rows for name, value in given.items()):
        return ""
    kept = [before(row) for row in rows]
    for row, was in zip(rows, kept, strict=True):
        put(row, given, at=at, was=was)
    return signing.dumps({"rows": kept}, salt=MOVED_SALT)


def before(row: Lesson) -> dict[str, Any]:
    kept = {name: getattr(row, name) for name in TIME_AND_PLACE}
    return kept | {"starts_at": row.starts_at.isoformat(), "pk": row.pk, "sequence": row.sequence}


def put(row: Lesson, given: Mapping[str, Any], *, at: datetime, was: dict[str, Any]) -> None:
    for name, value in given.items():
        setattr(row, name, value)
    row.sequence += 1
    row.save(update_fields=[*TIME_AND_PLACE, "sequence"])
    tell_of_change(row, "moved", at=at, was=was)


@transaction.atomic
def undo_move(*, studio: Studio, token: str, at: datetime) -> Lesson:
    """Puts a lesson back. Raises `signing.BadSignature`, `Lesson.DoesNotExist`, and `ChangedSince` where it was changed
    again."""
    kept = signing.loads(token, salt=MOVED_SALT, max_age=KEPT_HOURS * 3600)["rows"]
    rows = []
    for was in kept:
        every = Lesson.objects.select_for_update(of=("self",)).select_related("student__user")
        row = every.get(pk=was["pk"], studio=studio)
        if row.sequence != was["sequence"] + 1:
            raise ChangedSince
        given = {name: was[name] for name in TIME_AND_PLACE} | {"starts_at": datetime.fromisoformat(was["starts_at"])}
        put(row, given, at=at, was=before(row))
        rows.append(row)
    return rows[0]


@transaction.atomic
def cancel_lesson(*, lesson: Lesson, attendance: str, at: datetime, by: User | None) -> list[Lesson]:
    """Cancels a lesson, by the teacher for all who come to it, by a student for herself. Gives the rows that were
    cancelled."""
    whole = attendance == Attendance.TEACHER_CANCELLED
    rows = list(mates(lesson).select_related("student__user", "student__studio")) if whole else [lesson]
    for row in rows:
        mark_attendance(lesson=row, attendance=attendance, at=at, by=by)
    return rows


@transaction.atomic
def uncancel_lesson(*, lesson: Lesson, at: datetime, by: User | None) -> list[Lesson]:
    """Lets a cancelled lesson take place after all; one that the teacher cancelled, for all who come to it."""
    whole = lesson.attendance == Attendance.TEACHER_CANCELLED
    rows = mates(lesson).filter(attendance=lesson.attendance) if whole else Lesson.objects.filter(pk=lesson.pk)
    found = list(rows.select_related("student__user", "student__studio"))
    for row in found:
        mark_attendance(lesson=row, attendance=Attendance.UNSAID, at=at, by=by)
    return found


@transaction.atomic
def plan_following(*, lesson: Lesson, at: datetime, zone: str) -> Lesson | None:
    """Plans the student's next lesson at the usual time; None where there is a later one by now, or nothing says when.
    Raises `NoSuchTime`."""
    student = Student.objects.select_for_update(no_key=True).get(pk=lesson.student_id)
    if student.lessons.held().filter(starts_at__gt=lesson.starts_at).exists():
        return None
    usual = usual_time(student, at=at, zone=zone)
    if "day" not in usual:
        return None
    return plan_lesson(student=student, starts_at=moment(usual.pop("day"), usual.pop("time"), zone), **usual)


def usual_time(student: Student, *, at: datetime, zone: str) -> dict[str, Any]:
    """What a new lesson of this student begins with: the weekday, time, length and place of the last one that was not
    cancelled, in the first week that has none yet. No day for someone who comes every week as it is: her lessons lie
    ahead already, and one more is on a day of its own."""
    last = student.lessons.held().order_by("-starts_at").first()
    if last is None:
        return {"minutes": 45}
    local = last.starts_at.astimezone(ZoneInfo(zone))
    usual = {
        "time": local.time().replace(second=0, microsecond=0),
        "minutes": last.minutes,
        "where": last.where,
        "place": last.place,
    }
    if last.slot_id and last.starts_at > at:
        return usual
    weeks = 1
    while local.date() + timedelta(weeks=weeks) < at.astimezone(ZoneInfo(zone)).date():
        weeks += 1
    return {"day": local.date() + timedelta(weeks=weeks)} | usual


def what_hangs_on(lesson: Lesson) -> dict[str, int]:
    """How much work, which practice and how many handouts belong to a lesson."""
    return Lesson.objects.filter(pk=lesson.pk).aggregate(
        pieces=Count("assignments", distinct=True),
        passages=Count("assignments__passages", distinct=True),
        entries=Count("assignments__passages__practice", distinct=True),
        handouts=Count("handouts", distinct=True),
    )


@transaction.atomic
def remove_lesson(*, lesson: Lesson, with_all: bool = False) -> str:
    """Takes a lesson out; gives a token with which `restore_lesson` brings it back, "" where it had more than itself.

    One of a weekly lesson is left out of its slot, so that it is not laid out again. Raises `StillHolds` if work or
    handouts hang on it, unless `with_all`.
    """
    counts = what_hangs_on(lesson)
    held = any(counts.values())
    if held and not with_all:
        raise StillHolds(counts)
    kept: dict[str, Any] = {"student": lesson.student_id, "starts_at": lesson.starts_at.isoformat()}
    kept |= {"slot": lesson.slot_id, "meant_for": lesson.meant_for.isoformat() if lesson.meant_for else None}
    kept |= {"cancelled_at": lesson.cancelled_at.isoformat() if lesson.cancelled_at else None}
    token = "" if held else signing.dumps(kept | {name: getattr(lesson, name) for name in FIELDS}, salt=SALT)
    leave_out(lesson)
    lesson.delete()
    return token


def leave_out(lesson: Lesson, *, out: bool = True) -> None:
    """Leaves a lesson's meeting out of its slot, or takes it in again."""
    if lesson.slot_id is None or lesson.meant_for is None:
        return
    slot = Slot.objects.select_for_update(of=("self",)).select_related("studio").get(pk=lesson.slot_id)
    key = left_out_key(lesson.meant_for.astimezone(ZoneInfo(slot.studio.timezone)).date(), lesson.student_id)
    slot.left_out = sorted({*slot.left_out, key} if out else set(slot.left_out) - {key})
    slot.save(update_fields=["left_out", "changed_at"])


@transaction.atomic
def restore_lesson(*, studio: Studio, token: str) -> Lesson:
    """Brings a lesson back. Raises `signing.BadSignature` for a token that is not ours or too old, and
    `Student.DoesNotExist`."""
    kept = signing.loads(token, salt=SALT, max_age=KEPT_HOURS * 3600)
    student = Student.objects.get(pk=kept["student"], studio=studio)
    slot = Slot.objects.filter(studio=studio, pk=kept["slot"]).first() if kept["slot"] else None
    starts_at = datetime.fromisoformat(kept["starts_at"])
    cancelled_at = datetime.fromisoformat(kept["cancelled_at"]) if kept.get("cancelled_at") else None
    meant = {"slot": slot, "meant_for": datetime.fromisoformat(kept["meant_for"])} if slot else {"starts_at": starts_at}
    lesson, _ = Lesson.objects.get_or_create(
        studio=studio,
        student=student,
        **meant,
        defaults={"starts_at": starts_at, "cancelled_at": cancelled_at}
        | {name: kept[name] for name in FIELDS if name in kept},
    )
    leave_out(lesson, out=False)
    return lesson
