"""The calendar of lessons: what changes it, as verbs."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.core import signing
from django.db import transaction
from django.db.models import Count

from lessons.models import Lesson
from studio.models import Student, Studio

SALT = "lesson taken out"
KEPT_HOURS = 24  # how long an undo holds
FIELDS = ("minutes", "place", "notes", "private_notes")


class NoSuchTime(ValueError):
    """The clocks are put forward over this hour: it is not on that day."""


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


def plan_lesson(*, student: Student, starts_at: datetime, minutes: int, place: str = "") -> Lesson:
    return Lesson.objects.create(
        studio_id=student.studio_id, student=student, starts_at=starts_at, minutes=minutes, place=place
    )


def change_lesson(*, lesson: Lesson, student: Student, starts_at: datetime, minutes: int, place: str) -> Lesson:
    lesson.student, lesson.starts_at, lesson.minutes, lesson.place = student, starts_at, minutes, place
    lesson.save(update_fields=["student", "starts_at", "minutes", "place"])
    return lesson


def keep_notes(*, lesson: Lesson, notes: str, private_notes: str) -> None:
    lesson.notes, lesson.private_notes = notes, private_notes
    lesson.save(update_fields=["notes", "private_notes"])


def usual_time(student: Student, *, at: datetime, zone: str) -> dict[str, Any]:
    """What a new lesson of this student begins with: the weekday, time, length and place of the last one, in the first
    week that has none yet."""
    last = student.lessons.order_by("-starts_at").first()
    if last is None:
        return {"minutes": 45}
    local = last.starts_at.astimezone(ZoneInfo(zone))
    weeks = 1
    while local.date() + timedelta(weeks=weeks) < at.astimezone(ZoneInfo(zone)).date():
        weeks += 1
    return {
        "day": local.date() + timedelta(weeks=weeks),
        "time": local.time().replace(second=0, microsecond=0),
        "minutes": last.minutes,
        "place": last.place,
    }


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

    Raises `StillHolds` if work or handouts hang on it, unless `with_all`.
    """
    counts = what_hangs_on(lesson)
    held = any(counts.values())
    if held and not with_all:
        raise StillHolds(counts)
    kept = {"student": lesson.student_id, "starts_at": lesson.starts_at.isoformat()}
    token = "" if held else signing.dumps(kept | {name: getattr(lesson, name) for name in FIELDS}, salt=SALT)
    lesson.delete()
    return token


def restore_lesson(*, studio: Studio, token: str) -> Lesson:
    """Brings a lesson back. Raises `signing.BadSignature` for a token that is not ours or too old, and
    `Student.DoesNotExist`."""
    kept = signing.loads(token, salt=SALT, max_age=KEPT_HOURS * 3600)
    student = Student.objects.get(pk=kept["student"], studio=studio)
    lesson, _ = Lesson.objects.get_or_create(
        studio=studio,
        student=student,
        starts_at=datetime.fromisoformat(kept["starts_at"]),
        defaults={name: kept[name] for name in FIELDS},
    )
    return lesson
