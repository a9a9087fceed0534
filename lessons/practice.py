"""The practice log: what changes it, as verbs, and what is read from it."""

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import transaction

from lessons.models import AssignedPassage, PracticeEntry
from studio.models import Student, User


@dataclass(frozen=True)
class LogWeek:
    """Seven days of a log from `monday`; `minutes` is their sum, `days` on how many of them there was practice."""

    monday: date
    entries: tuple[PracticeEntry, ...]

    @property
    def minutes(self) -> int:
        return sum(entry.minutes for entry in self.entries)

    @property
    def days(self) -> int:
        return len({entry.day for entry in self.entries})


@transaction.atomic
def write_entry(
    *,
    student: Student,
    by: User,
    key: uuid.UUID,
    day: date,
    minutes: int,
    assigned: AssignedPassage | None = None,
    tempo: int | None = None,
    clean_runs: int | None = None,
    tries: int | None = None,
    remark: str = "",
) -> tuple[PracticeEntry, bool]:
    """Keeps one record of work; says whether it is new. The same `key` sent again gives the row that is there already.

    A key that belongs to another student's row raises `PermissionError`.
    """
    entry, is_new = PracticeEntry.objects.get_or_create(
        key=key,
        defaults={
            "studio_id": student.studio_id,
            "student": student,
            "assigned": assigned,
            "day": day,
            "minutes": minutes,
            "tempo": tempo,
            "clean_runs": clean_runs,
            "tries": tries,
            "remark": remark,
            "entered_by": by,
        },
    )
    if entry.student_id != student.pk:
        raise PermissionError("this key belongs to another student's entry")
    return entry, is_new


def week_of(day: date) -> date:
    """The Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def by_week(entries: Iterable[PracticeEntry]) -> tuple[LogWeek, ...]:
    """Entries in weeks, the newest first; weeks without practice are left out."""
    weeks: dict[date, list[PracticeEntry]] = {}
    for entry in entries:
        weeks.setdefault(week_of(entry.day), []).append(entry)
    return tuple(LogWeek(monday, tuple(weeks[monday])) for monday in sorted(weeks, reverse=True))


def change_entry(*, entry: PracticeEntry, fields: Sequence[str]) -> None:
    """Keeps these fields of an entry as they now stand; the key stays what it was."""
    entry.save(update_fields=[field for field in fields if field != "key"])


def remove_entry(entry: PracticeEntry, *, at: datetime) -> None:
    """Takes an entry out of the log; it can be brought back."""
    entry.removed_at = at
    entry.save(update_fields=["removed_at"])


def restore_entry(entry: PracticeEntry) -> None:
    entry.removed_at = None
    entry.save(update_fields=["removed_at"])
