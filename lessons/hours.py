"""Free hours as they are typed, "15:00–18:30, 19–20", and as they are kept."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import time

from django.db import transaction

from lessons.models import FreeHours
from studio.models import Student, Studio

Stretch = tuple[time, time]
TIME = r"(\d{1,2})(?:[:.h](\d{2}))?"
STRETCH = re.compile(rf"{TIME}\s*[-–—]\s*{TIME}")
LAST_MINUTE = time(23, 59)
MOST = 12  # stretches of one day


class NotHours(ValueError):
    """Not a stretch of hours. `why` is "unread", "no time", "backwards" or "too many", `part` what was typed."""

    def __init__(self, why: str, part: str) -> None:
        self.why, self.part = why, part
        super().__init__(f"{why}: {part}")


def read_hours(text: str) -> list[Stretch]:
    """The stretches of one day, in order, those that touch made one. Raises `NotHours`."""
    found = [read_stretch(part.strip()) for part in re.split(r"[,;\n]|\band\b", text) if part.strip()]
    if len(found) > MOST:
        raise NotHours("too many", text[:40])
    joined: list[Stretch] = []
    for begin, end in sorted(found):
        if joined and begin <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((begin, end))
    return joined


def read_stretch(part: str) -> Stretch:
    match = STRETCH.fullmatch(part)
    if not match:
        raise NotHours("unread", part[:40])
    begin, end = read_time(match[1], match[2], part), read_time(match[3], match[4], part)
    if end <= begin:
        raise NotHours("backwards", part[:40])
    return begin, end


def read_time(hour: str, minute: str | None, part: str) -> time:
    if (int(hour), int(minute or 0)) == (24, 0):
        return LAST_MINUTE  # the end of the day
    try:
        return time(int(hour), int(minute or 0))
    except ValueError:
        raise NotHours("no time", part[:40]) from None


def write_hours(stretches: Iterable[Stretch]) -> str:
    """ "15:00–18:30, 19:00–20:00" """
    return ", ".join(f"{begin:%H:%M}–{'24:00' if end == LAST_MINUTE else f'{end:%H:%M}'}" for begin, end in stretches)


def hours_by_weekday(studio: Studio, student: Student | None) -> dict[int, list[Stretch]]:
    """What a student, or with None the teacher, has said: weekday from 0 for Monday to stretches in order."""
    found: dict[int, list[Stretch]] = {weekday: [] for weekday in range(7)}
    for row in FreeHours.objects.filter(studio=studio, student=student):
        found[row.weekday].append((row.begins, row.ends))
    return found


@transaction.atomic
def keep_hours(*, studio: Studio, student: Student | None, hours: Mapping[int, Sequence[Stretch]]) -> None:
    """Replaces the free hours of a student, or with None the teacher's."""
    FreeHours.objects.filter(studio=studio, student=student).delete()
    FreeHours.objects.bulk_create(
        FreeHours(studio=studio, student=student, weekday=weekday, begins=begin, ends=end)
        for weekday, stretches in hours.items()
        for begin, end in stretches
    )
