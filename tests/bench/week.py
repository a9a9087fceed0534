"""The calendar: ten years of eighty slots checked for conflicts, and the week page of eighty students."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import recurring_ical_events
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from icalendar import Calendar, Event, vRecur

from lessons.calendar import Meeting, Times, conflicts, expand
from lessons.recurrence import first_fall, read_rule
from lessons.scheduling import SlotPlan, make_slot
from studio.models import Role, Studio
from tests import make
from tests.bench.measure import Row, lib, medians

SLOTS = 80
FIRST, LAST = date(2026, 1, 5), date(2035, 12, 31)
ZONE = ZoneInfo("Europe/Helsinki")
RULES = ("FREQ=WEEKLY", "FREQ=WEEKLY;INTERVAL=2", "FREQ=WEEKLY;BYDAY=MO,TH", "FREQ=MONTHLY;BYDAY=2TU")
AT_LEAST = 20  # times as fast
AT_MOST = 3  # times an empty page


def slots() -> list[tuple[Times, str]]:
    """Eighty slots with their rules over six days, an hour apart; those on a second day of the week meet others."""
    found = []
    for number in range(SLOTS):
        text = RULES[number % 10 % len(RULES)]
        rule, at = read_rule(text), time(8 + number // 6, 30 * (number % 2))
        first = first_fall(rule, FIRST + timedelta(days=number % 6))
        found.append((Times(first, at, (30, 45, 60)[number % 3], rule), text))
    return found


def ours() -> int:
    every = (
        Meeting(begin, end, number)
        for number, (times, _) in enumerate(slots())
        for begin, end in expand(times, FIRST, LAST, zone=ZONE)
    )
    return sum(1 for _ in conflicts(every))


def calendar_of(rows: list[tuple[Times, str]]) -> Calendar:
    calendar = Calendar()
    for number, (times, text) in enumerate(rows):
        event = Event()
        begin = datetime.combine(times.first_day, times.at, ZONE)
        event.add("uid", f"slot {number}")
        event.add("dtstart", begin)
        event.add("dtend", begin + timedelta(minutes=times.minutes))
        event.add("rrule", vRecur.from_ical(text))
        calendar.add_component(event)
    return calendar


def theirs(calendar: Calendar) -> int:
    """The library's expansion, then the same sweep."""
    begin, end = datetime.combine(FIRST, time(), ZONE), datetime.combine(LAST, time(23, 59), ZONE)
    found = recurring_ical_events.of(calendar).between(begin, end)
    every = (
        Meeting(event["DTSTART"].dt.astimezone(UTC), event["DTEND"].dt.astimezone(UTC), number)
        for number, event in enumerate(found)
    )
    return sum(1 for _ in conflicts(every))


def studio_of(students: int) -> Studio:
    """A studio with so many weekly lessons from Monday to Saturday, ten an hour apart each day."""
    studio = make.studio(name=f"Studio of {students}")
    make.user(studio=studio, role=Role.TEACHER, email=f"teacher{students}@example.org")
    at = datetime(2026, 1, 1, tzinfo=UTC)
    for number in range(students):
        student = make.student(studio=studio, name=f"Student {number}")
        make.guardian(students=[student], name=f"Guardian {number}", email=f"g{number}@example.org")
        day, hour = FIRST + timedelta(days=number % 6), time(8 + number // 6 % 14, 30 * (number // 84))
        make_slot(studio=studio, plan=SlotPlan([student], day, hour, 45, "FREQ=WEEKLY"), at=at)
    return studio


def opened(studio: Studio) -> tuple[Client, str]:
    client = Client(SERVER_NAME="localhost")
    teacher = studio.users.get(role=Role.TEACHER)
    client.force_login(teacher, backend="django.contrib.auth.backends.ModelBackend")
    return client, f"{reverse('week')}?from={FIRST:%Y-%m-%d}"


def queries_of(client: Client, url: str) -> int:
    with CaptureQueriesContext(connection) as queries:
        client.get(url)
    return len(queries)


def rows() -> Iterator[Row]:
    calendar = calendar_of(slots())
    assert ours() == theirs(calendar)
    mine, peer = medians(ours, lambda: theirs(calendar), times=3)
    what = "ten years of 80 slots, expanded and checked for conflicts"
    yield Row(what, mine, f"{lib('recurring-ical-events')}, the same sweep", peer, 1 / AT_LEAST)
    full, bare = opened(studio_of(SLOTS)), opened(studio_of(0))
    page, empty = medians(lambda: full[0].get(full[1]), lambda: bare[0].get(bare[1]), times=9)
    yield Row("the week page of 80 students", page, "an empty week", empty, AT_MOST)
    name = "queries of the week page of 80 students"
    yield Row(name, queries_of(*full), "an empty week", queries_of(*bare), 1, unit="queries")
