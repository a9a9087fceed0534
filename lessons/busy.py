"""Times at which the teacher is taken, read from a calendar file: looked at, kept, taken out again."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.core.cache import cache
from django.db import transaction
from django.db.models import Count, Max, Min, QuerySet

from lessons.models import BusyTime
from scores import workshop
from studio.models import Studio

READ = "lessons.reading_calendars:read"
BACK, AHEAD = timedelta(days=7), timedelta(weeks=52)
LARGEST = 2 * 1024 * 1024  # bytes of a file
SECONDS, MEGABYTES = 20.0, 256
SHOWN = 12
KEPT_SECONDS = 24 * 3600


@dataclass(frozen=True)
class Found:
    """What a file has for the year to come; `unread` events could not be used."""

    rows: Sequence[tuple[str, str, str, str]]
    unread: int

    @property
    def first(self) -> list[tuple[datetime, datetime, str]]:
        """The first few, for looking at."""
        return [
            (datetime.fromisoformat(begin), datetime.fromisoformat(end), label)
            for _uid, begin, end, label in self.rows[:SHOWN]
        ]


def look_into(data: bytes, *, studio: Studio, at: datetime) -> Found:
    """Reads a file; keeps nothing. Raises `CannotReadCalendar` and `WorkshopFailed`."""
    first, last = (at - BACK).isoformat(), (at + AHEAD).isoformat()
    rows, unread = workshop.run(READ, data, studio.timezone, first, last, seconds=SECONDS, megabytes=MEGABYTES)
    return Found(rows, unread)


@transaction.atomic
def keep(*, studio: Studio, source: str, found: Found) -> int:
    """Keeps what a file has; what came from the same source before goes. Says how many times were kept."""
    BusyTime.objects.filter(studio=studio, source=source).delete()
    rows = [
        BusyTime(
            studio=studio,
            source=source,
            uid=uid,
            starts_at=datetime.fromisoformat(begin),
            ends_at=datetime.fromisoformat(end),
            label=label,
        )
        for uid, begin, end, label in found.rows
    ]
    # Two events of one name may begin together; which of them is kept makes no difference to being taken.
    BusyTime.objects.bulk_create(rows, batch_size=500, ignore_conflicts=True)
    return BusyTime.objects.filter(studio=studio, source=source).count()


def sources_of(studio: Studio) -> QuerySet[Any]:
    """Where busy times came from, with how many there are and their span."""
    rows = BusyTime.objects.filter(studio=studio).order_by("source").values("source")
    return rows.annotate(count=Count("pk"), first=Min("starts_at"), last=Max("starts_at"))


@transaction.atomic
def take_out(*, studio: Studio, source: str) -> str:
    """Takes out what came from a source; gives a key for `bring_back`."""
    rows = BusyTime.objects.filter(studio=studio, source=source)
    kept = [
        (uid, begin.isoformat(), end.isoformat(), label)
        for uid, begin, end, label in rows.values_list("uid", "starts_at", "ends_at", "label")
    ]
    rows.delete()
    key = uuid.uuid4().hex
    cache.set(f"busy-{studio.pk}-{key}", (source, kept), KEPT_SECONDS)
    return key


def bring_back(*, studio: Studio, key: str) -> int:
    """Brings back what was taken out. Raises `KeyError` when it is not kept any more: the file can be read again."""
    found = cache.get(f"busy-{studio.pk}-{key}")
    if found is None:
        raise KeyError(key)
    source, kept = found
    return keep(studio=studio, source=source, found=Found(kept, 0))
