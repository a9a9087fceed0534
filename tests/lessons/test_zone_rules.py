"""Time zones as other calendars read them. New York is expected as in RFC 5545's own example (section 3.6.5); the
instants of all others are those of the tz database."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from icalendar import Timezone

from lessons.zone_rules import timezone_of

ZONES = (
    "Europe/Oslo",
    "Europe/Dublin",
    "America/New_York",
    "America/Sao_Paulo",  # gave summer time up in 2019
    "Australia/Lord_Howe",  # by half an hour
    "Asia/Kathmandu",
    "Africa/Casablanca",
)
FIRST, LAST = date(2015, 1, 1), date(2027, 1, 1)


def onsets(zone: Timezone) -> list[tuple[datetime, timedelta, timedelta]]:
    """Each change, as the standard reads it: local time by the offset before, turned into UTC; the offsets."""
    found = []
    for part in zone.subcomponents:
        before, after = part["tzoffsetfrom"].td, part["tzoffsetto"].td
        dates = [one.dt for one in part["rdate"].dts] if "rdate" in part else []
        found += [((local - before).replace(tzinfo=UTC), before, after) for local in (part["dtstart"].dt, *dates)]
    return sorted(found)


def test_new_york_is_written_as_in_the_standard():
    found = timezone_of(ZoneInfo("America/New_York"), date(2007, 2, 1), date(2008, 1, 1)).to_ical().decode()
    winter = "BEGIN:STANDARD DTSTART:20071104T020000 TZNAME:EST TZOFFSETFROM:-0400 TZOFFSETTO:-0500 END:STANDARD"
    summer = "BEGIN:DAYLIGHT DTSTART:20070311T020000 TZNAME:EDT TZOFFSETFROM:-0500 TZOFFSETTO:-0400 END:DAYLIGHT"
    flat = found.replace("\r\n", " ")
    assert winter in flat
    assert summer in flat


@pytest.mark.parametrize("name", ZONES)
def test_every_change_is_told_at_the_instant_of_the_tz_database(name: str):
    zone = ZoneInfo(name)
    first, *found = onsets(timezone_of(zone, FIRST, LAST))
    assert first[0] == datetime(2015, 1, 1, tzinfo=UTC)
    for moment, before, after in found:
        assert moment.astimezone(zone).utcoffset() == after
        assert (moment - timedelta(seconds=1)).astimezone(zone).utcoffset() == before
    hours = (datetime(2015, 1, 1, tzinfo=UTC) + timedelta(hours=hour) for hour in range(12 * 8766))
    offsets = [hour.astimezone(zone).utcoffset() for hour in hours]
    assert len(found) == sum(one != other for one, other in pairwise(offsets))
