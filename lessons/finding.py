"""Finding a time: where the free hours of teacher and students meet and nothing stands in the way."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from lessons.calendar import Stretch, starts_in
from lessons.meetings import ASSUMED, Wanted, closed_days, free_for, here_between, hours_of
from lessons.recurrence import moment_of
from studio.models import Student, Studio

DAYS = 14  # shown
WEEKS = 12  # for which it is said how often a time is free
MOST_STARTS = 8  # offered of one stretch
STEPS = (15, 30, 60, 120)  # minutes between two offers of one stretch


@dataclass(frozen=True)
class Start:
    """A beginning that is free; `weeks` of the next `WEEKS` weeks have it free."""

    begin: datetime
    weeks: int


@dataclass(frozen=True)
class Free:
    """A free stretch of one day, in local time, with the beginnings that are offered in it."""

    begin: datetime
    end: datetime
    starts: Sequence[Start]


@dataclass(frozen=True)
class Found:
    """Days with what is free on them. `unsaid` are those students who have not said when they could come; `is_assumed`:
    nor has the teacher."""

    days: Sequence[tuple[date, Sequence[Free]]]
    unsaid: Sequence[Student]
    is_assumed: bool
    weeks: int = WEEKS


def find_times(
    studio: Studio, students: Sequence[Student], *, minutes: int, where: str, first: date, at: datetime
) -> Found:
    """The free times of the fourteen days from `first` on, in as many queries whatever stands in them."""
    zone = ZoneInfo(studio.timezone)
    last, horizon = first + timedelta(days=DAYS - 1), first + timedelta(days=DAYS - 1, weeks=WEEKS)
    here = here_between(studio, moment_of(first, time(), zone), moment_of(horizon + timedelta(days=1), time(), zone))
    hours = hours_of(studio, students)
    closed = [day for day, _ in closed_days(studio, students, first, horizon)]
    wanted = Wanted(students, moment_of(first, time(), zone), minutes, where)
    meeting = wanted.meeting(here.families)
    free = free_for(wanted, meeting, here, hours, closed, first, horizon, at=at)
    shown = [shown_free(one, free, minutes, zone) for one in free if one[0].astimezone(zone).date() <= last]
    return Found(
        days=[(day, list(found)) for day, found in groupby(shown, key=lambda one: one.begin.date())],
        unsaid=[student for student in students if student.pk not in hours],
        is_assumed=hours[None] == list(ASSUMED),
    )


def shown_free(one: Stretch, free: Sequence[Stretch], minutes: int, zone: ZoneInfo) -> Free:
    starts = []
    for step in STEPS:
        starts = starts_in(one, minutes, apart=timedelta(minutes=step))
        if len(starts) <= MOST_STARTS:
            break
    return Free(
        one[0].astimezone(zone),
        one[1].astimezone(zone),
        [Start(begin.astimezone(zone), weeks_free(begin, free, minutes, zone)) for begin in starts[:MOST_STARTS]],
    )


def weeks_free(begin: datetime, free: Sequence[Stretch], minutes: int, zone: ZoneInfo) -> int:
    """In how many of the weeks from this one on the same time on the wall is free."""
    local, length = begin.astimezone(zone), timedelta(minutes=minutes)
    starts = [moment_of(local.date() + timedelta(weeks=week), local.time(), zone) for week in range(WEEKS)]
    places = [bisect_right(free, start, key=lambda one: one[0]) - 1 for start in starts]
    return sum(place >= 0 and start + length <= free[place][1] for start, place in zip(starts, places, strict=True))
