"""A time zone as other calendars read it: the VTIMEZONE of RFC 5545, 3.6.5.

Each change of the clocks stands at the local time that was in force before it (TZOFFSETFROM): where clocks go from 2:00
to 3:00, at 2:00. The 3:00 that is seen afterwards, which icalendar writes, would be an hour too late.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from icalendar import Timezone, TimezoneDaylight, TimezoneStandard

DAY, SECOND = timedelta(days=1), timedelta(seconds=1)


@dataclass(frozen=True)
class Clocks:
    """How clocks are set: by how much they differ from UTC now and before, under which name, and whether it is summer
    time."""

    before: timedelta
    after: timedelta
    name: str
    summer: bool


def timezone_of(zone: ZoneInfo, first: date, last: date) -> Timezone:
    """The zone with all its changes from one day to another."""
    found = Timezone()
    found.add("tzid", zone.key)
    onsets: dict[Clocks, list[datetime]] = defaultdict(list)
    for moment, clocks in changes(zone, first, last):
        onsets[clocks].append((moment + clocks.before).replace(tzinfo=None))
    for clocks, moments in onsets.items():
        part = TimezoneDaylight() if clocks.summer else TimezoneStandard()
        part.add("dtstart", moments[0])
        if moments[1:]:
            part.add("rdate", moments[1:])
        part.add("tzname", clocks.name)
        part.add("tzoffsetfrom", clocks.before)
        part.add("tzoffsetto", clocks.after)
        found.add_component(part)
    return found


@lru_cache(maxsize=64)
def changes(zone: ZoneInfo, first: date, last: date) -> tuple[tuple[datetime, Clocks], ...]:
    """The instants in UTC at which the clocks are set, the beginning of the first day among them."""
    begin, end = (datetime.combine(day, time(), UTC) for day in (first, last))
    found = [(begin, clocks_at(zone, begin, begin))]
    while begin < end:
        if begin.astimezone(zone).utcoffset() != (begin + DAY).astimezone(zone).utcoffset():
            moment = change_between(zone, begin, begin + DAY)
            found.append((moment, clocks_at(zone, moment, moment - SECOND)))
        begin += DAY
    return tuple(found)


def change_between(zone: ZoneInfo, early: datetime, late: datetime) -> datetime:
    """The first second at which the clocks are as they are at `late`."""
    after = late.astimezone(zone).utcoffset()
    while late - early > SECOND:
        middle = early + timedelta(seconds=(late - early) // SECOND // 2)
        early, late = (early, middle) if middle.astimezone(zone).utcoffset() == after else (middle, late)
    return late


def clocks_at(zone: ZoneInfo, moment: datetime, before: datetime) -> Clocks:
    local, earlier = moment.astimezone(zone), before.astimezone(zone)
    off, was = local.utcoffset() or timedelta(0), earlier.utcoffset() or timedelta(0)
    return Clocks(was, off, local.tzname() or "", bool(local.dst()))
