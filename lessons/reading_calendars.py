"""Reading a calendar file (iCalendar, RFC 5545) as times at which its owner is taken.

Runs in the workshop, never in the process that answers requests: a file from outside may be anything, and a short rule
can name a million days. Knows nothing of Django.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import icalendar
import recurring_ical_events

MOST = 5000  # times of one file
LONGEST = timedelta(days=60)  # of one event: a longer one is no appointment

Row = tuple[str, str, str, str]  # name of the event, begin, end (ISO 8601, UTC), label


class CannotReadCalendar(Exception):
    """The file is no calendar that can be used; `reason` says why: "calendar", "empty", "many"."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


def read(data: bytes, zone: str, first: str, last: str) -> tuple[list[Row], int]:
    """The events between two moments (ISO 8601) that take time, and how many events could not be read.

    Whole days and times without a zone are those of `zone`. What is cancelled or marked as taking no time is left out.
    Raises `CannotReadCalendar`.
    """
    try:
        calendars = icalendar.Calendar.from_ical(data, multiple=True)
    except (ValueError, IndexError, KeyError, TypeError, AttributeError) as error:
        raise CannotReadCalendar("calendar") from error
    if not calendars or b"END:VCALENDAR" not in data.upper():
        raise CannotReadCalendar("calendar")
    if not any(calendar.walk("VEVENT") for calendar in calendars):
        raise CannotReadCalendar("empty")
    here, begin, end = ZoneInfo(zone), datetime.fromisoformat(first), datetime.fromisoformat(last)
    rows: list[Row] = []
    unread = 0
    for calendar in calendars:
        query = recurring_ical_events.of(calendar, skip_bad_series=True)
        for event in query.between(begin, end):
            row = row_of(event, here)
            if row is None:
                continue
            if row == ():
                unread += 1
            elif len(rows) == MOST:
                raise CannotReadCalendar("many")
            else:
                rows.append(row)  # type: ignore[arg-type]
    return sorted(set(rows), key=lambda one: (one[1], one[0])), unread


def row_of(event: icalendar.Event, here: ZoneInfo) -> Row | tuple[()] | None:
    """The row of one event; None for one that takes no time, () for one that cannot be used."""
    if str(event.get("transp", "")).upper() == "TRANSPARENT" or str(event.get("status", "")).upper() == "CANCELLED":
        return None
    try:
        begin, end = moment_of(event.start, here), moment_of(event.end, here)
    except (ValueError, OverflowError, AttributeError, KeyError, icalendar.error.IncompleteComponent):
        return ()
    if end <= begin:
        return None
    if end - begin > LONGEST:
        return ()
    utc = ZoneInfo("UTC")
    label = " ".join(str(event.get("summary", "")).split())[:200]
    name = str(event.get("uid", ""))[:300]
    return name, begin.astimezone(utc).isoformat(), end.astimezone(utc).isoformat(), label


def moment_of(found: date | datetime, here: ZoneInfo) -> datetime:
    if not isinstance(found, datetime):
        return datetime.combine(found, time(), here)
    return found if found.tzinfo else found.replace(tzinfo=here)
