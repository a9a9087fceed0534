"""When lessons fall, what stands in each other's way, and which times are free."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
import recurring_ical_events
from hypothesis import given, settings
from hypothesis import strategies as some
from icalendar import Calendar, Event, vRecur

from lessons.calendar import (
    Days,
    Meeting,
    Times,
    common,
    conflicts,
    conflicts_of,
    expand,
    free_times,
    hours_between,
    joined,
    nearest_free,
    starts_in,
    without,
)
from lessons.recurrence import read_rule

HELSINKI = ZoneInfo("Europe/Helsinki")
MONDAY = date(2026, 11, 23)


def at(hour: float, day: int = 0) -> datetime:
    return datetime(2026, 11, 23, tzinfo=UTC) + timedelta(days=day, hours=hour)


def weekly(rule: str = "FREQ=WEEKLY", **given) -> Times:
    return Times(**{"first_day": MONDAY, "at": time(15), "minutes": 45, "rule": read_rule(rule), **given})


def begins(times: Times, first: date, last: date, **given) -> list[datetime]:
    return [begin for begin, _ in expand(times, first, last, **{"zone": HELSINKI, **given})]


# Expanding


def test_a_weekly_lesson_keeps_its_time_on_the_wall_across_daylight_saving():
    # Helsinki leaves summer time on 25 October 2026: 15:00 is 12:00 UTC before, 13:00 after.
    found = begins(weekly(first_day=date(2026, 10, 19)), date(2026, 10, 19), date(2026, 10, 26))
    assert [begin.hour for begin in found] == [12, 13]


def test_holidays_absences_and_single_days_lift_lessons_out():
    found = begins(
        weekly(),
        MONDAY,
        date(2026, 12, 31),
        holidays=Days([(date(2026, 12, 21), date(2027, 1, 3))]),
        absences=Days([(date(2026, 12, 7), date(2026, 12, 7))]),
        left_out=frozenset({date(2026, 11, 30)}),
    )
    assert [begin.date() for begin in found] == [date(2026, 11, 23), date(2026, 12, 14)]


def test_a_slot_in_terms_only_falls_in_no_other_week():
    terms = Days([(date(2026, 11, 1), date(2026, 11, 30)), (date(2027, 1, 4), date(2027, 1, 10))])
    found = begins(weekly(in_terms=True), MONDAY, date(2027, 2, 1), terms=terms)
    assert [begin.date() for begin in found] == [date(2026, 11, 23), date(2026, 11, 30), date(2027, 1, 4)]
    assert begins(weekly(in_terms=True), MONDAY, date(2027, 2, 1)) == []


def test_a_count_counts_lessons_that_are_lifted_out_too():
    holidays = Days([(date(2026, 11, 30), date(2026, 11, 30))])
    assert len(begins(weekly("FREQ=WEEKLY;COUNT=3"), MONDAY, date(2027, 12, 31), holidays=holidays)) == 2


def test_a_slot_without_a_rule_falls_once():
    assert begins(weekly(rule="FREQ=DAILY", first_day=MONDAY), MONDAY, MONDAY) == [at(13)]
    once = Times(MONDAY, time(15), 45)
    assert begins(once, date(2026, 1, 1), date(2027, 1, 1)) == [at(13)]
    assert begins(once, date(2026, 11, 24), date(2027, 1, 1)) == []


@given(
    spans=some.lists(some.tuples(some.dates(date(2026, 1, 1), date(2026, 3, 1)), some.integers(0, 20)), max_size=8),
    day=some.dates(date(2025, 12, 1), date(2026, 4, 1)),
)
def test_a_day_lies_in_the_spans_if_it_lies_in_one_of_them(spans, day):
    pairs = [(first, first + timedelta(days=length)) for first, length in spans]
    assert (day in Days(pairs)) == any(first <= day <= last for first, last in pairs)


# Second opinions. The library expands the event as a calendar program would, time zone included.

ZONES = [
    "Europe/Oslo",
    "America/New_York",
    "America/Sao_Paulo",  # its last summer time ended in February 2019
    "Australia/Lord_Howe",  # moves by half an hour
    "Asia/Kathmandu",
    "Pacific/Auckland",
    "America/St_Johns",
    "Asia/Kolkata",
]
RULES = [
    "FREQ=WEEKLY",
    "FREQ=WEEKLY;INTERVAL=2;BYDAY=TU,TH,SU",
    "FREQ=DAILY;INTERVAL=3",
    "FREQ=MONTHLY;BYDAY=-1SU",
    "FREQ=MONTHLY;BYMONTHDAY=31",
    "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-1",
    "FREQ=YEARLY;BYMONTH=3,10;BYDAY=-1SU,2SU",
    "FREQ=WEEKLY;COUNT=90;BYDAY=SU",
    "FREQ=WEEKLY;UNTIL=20240331T120000Z;BYDAY=SU",
]


@pytest.mark.parametrize("zone", ZONES)
def test_ten_years_of_rules_fall_at_the_moments_that_another_library_says(zone: str):
    for number, text in enumerate(RULES):
        first = date(2017, 1, 1) + timedelta(days=number)
        hour, minute = [(15, 0), (9, 30), (23, 45)][number % 3]
        begin = datetime.combine(first, time(hour, minute), ZoneInfo(zone))
        expected = other_opinion(begin, text, ZoneInfo(zone), first, date(2026, 12, 31))
        times = Times(first, time(hour, minute), 45, read_rule(text))
        found = [moment for moment, _ in expand(times, first, date(2026, 12, 31), zone=ZoneInfo(zone))]
        # A first day that the rule does not name is an event of its own in iCalendar; here it is none.
        assert found == [moment for moment in expected if moment != begin or moment in found], text
        assert len(found) > 20


def other_opinion(begin: datetime, text: str, zone: ZoneInfo, first: date, last: date) -> list[datetime]:
    event = Event()
    event.add("dtstart", begin)
    event.add("dtend", begin + timedelta(minutes=45))
    event.add("uid", "a slot")
    event.add("rrule", vRecur.from_ical(text))
    calendar = Calendar()
    calendar.add_component(event)
    found = recurring_ical_events.of(calendar).between(
        datetime.combine(first, time(), zone), datetime.combine(last, time(23, 59), zone)
    )
    return sorted(event["DTSTART"].dt.astimezone(UTC) for event in found)


# Conflicts


def meeting(key: int, begin: float, end: float, **given) -> Meeting:
    return Meeting(at(begin), at(end), key, **{"where": "studio", **given})


def told(*meetings: Meeting, travel: int = 0) -> list[tuple[str, object, object]]:
    found = conflicts(meetings, travel=timedelta(minutes=travel))
    return [(conflict.kind, conflict.first.key, conflict.second.key) for conflict in found]


def test_lessons_that_follow_each_other_are_in_nobodys_way():
    assert told(meeting(1, 15, 16), meeting(2, 16, 17), travel=30) == []


def test_a_teacher_is_not_in_two_lessons_at_once():
    assert told(meeting(1, 15, 16), meeting(2, 15.5, 17)) == [("teacher", 1, 2)]


def test_a_room_is_told_beside_the_teacher():
    assert told(meeting(1, 15, 16, room="hall"), meeting(2, 15.5, 17, room="hall")) == [
        ("teacher", 1, 2),
        ("room", 1, 2),
    ]


def test_one_family_is_not_at_two_places():
    found = told(meeting(1, 15, 16, families=frozenset({7, -1})), meeting(2, 15.5, 17, families=frozenset({7, -2})))
    assert found == [("teacher", 1, 2), ("family", 1, 2)]


def test_the_way_between_two_places_takes_its_time():
    home = meeting(2, 16.1, 17, where="home 7")
    assert told(meeting(1, 15, 16), home, travel=15) == [("travel", 1, 2)]
    assert told(meeting(1, 15, 16), home, travel=5) == []
    assert told(meeting(1, 15, 16), meeting(2, 16.1, 17, where=""), travel=15) == [], "online is anywhere"


def test_a_long_lesson_is_in_the_way_of_all_that_it_covers():
    assert told(meeting(1, 9, 18), meeting(2, 10, 11), meeting(3, 12, 13)) == [("teacher", 1, 2), ("teacher", 1, 3)]


def test_two_busy_times_are_in_nobodys_way():
    assert told(meeting(1, 9, 18, is_busy=True), meeting(2, 10, 11, is_busy=True), meeting(3, 12, 13)) == [
        ("busy", 1, 3)
    ]


meetings = some.lists(
    some.builds(
        lambda begin, length, where, family: (begin, length, where, family),
        some.integers(0, 60),
        some.integers(1, 12),
        some.sampled_from(["studio", "home", ""]),
        some.integers(1, 3),
    ),
    max_size=14,
)


@given(rows=meetings, travel=some.integers(0, 30))
def test_the_sweep_finds_what_comparing_every_pair_finds(rows, travel):
    found = [
        meeting(number, begin / 4, (begin + length) / 4, where=where, families=frozenset({family}))
        for number, (begin, length, where, family) in enumerate(rows)
    ]
    swept = {(kind, *sorted((one, other))) for kind, one, other in told(*found, travel=travel)}
    paired = {
        (conflict.kind, *sorted((conflict.first.key, conflict.second.key)))
        for one in found
        for conflict in conflicts_of(one, found, travel=timedelta(minutes=travel))
    }
    assert swept == paired


# Free times


def test_weekly_hours_are_laid_out_over_days_in_the_zone():
    found = hours_between([(0, time(15), time(18)), (0, time(17), time(19))], MONDAY, date(2026, 11, 30), HELSINKI)
    assert found == [(at(13), at(17)), (at(13, 7), at(17, 7))]


def test_a_free_time_lies_in_everyones_hours_and_in_nothing_else():
    teacher, student = [(at(9), at(12)), (at(14), at(18))], [(at(11), at(15.5))]
    assert free_times([teacher, student], [(at(14.5), at(15))], minutes=30) == [
        (at(11), at(12)),
        (at(14), at(14.5)),
        (at(15), at(15.5)),
    ]
    assert free_times([teacher, student], [(at(14.5), at(15))], minutes=45) == [(at(11), at(12))]


stretches = some.lists(some.tuples(some.integers(0, 80), some.integers(1, 20)), max_size=8)


@settings(deadline=None)
@given(one=stretches, other=stretches, taken=stretches)
def test_minute_by_minute_what_is_free_is_what_both_have_and_nothing_takes(one, other, taken):
    def as_time(rows):
        return [(at(begin / 4), at((begin + length) / 4)) for begin, length in rows]

    def holds(rows, quarter):
        return any(begin <= quarter < begin + length for begin, length in rows)

    free = without(common(joined(as_time(one)), joined(as_time(other))), as_time(taken))
    for quarter in range(101):
        expected = holds(one, quarter) and holds(other, quarter) and not holds(taken, quarter)
        assert expected == any(begin <= at(quarter / 4) < end for begin, end in free)


def test_the_nearest_free_times_come_nearest_first_and_a_quarter_apart():
    free = [(at(9), at(10)), (at(15), at(17))]
    assert nearest_free(at(15.5), 45, free) == [at(15.5), at(15.25), at(15.75)]
    assert nearest_free(at(12), 60, free) == [at(9), at(15), at(15.25)]
    assert nearest_free(at(12), 90, free, count=9) == [at(15), at(15.25), at(15.5)]
    assert nearest_free(at(12), 180, free) == []


@given(rows=stretches, wanted=some.integers(0, 100), minutes=some.integers(1, 18))
def test_no_free_time_is_nearer_than_the_first_that_is_offered(rows, wanted, minutes):
    free = joined((at(begin / 4), at((begin + length) / 4)) for begin, length in rows)
    every = [start for one in free for start in starts_in(one, minutes * 5, apart=timedelta(minutes=5))]
    found = nearest_free(at(wanted / 4), minutes * 5, free)
    assert bool(found) == bool(every)
    if every:
        assert abs(found[0] - at(wanted / 4)) == min(abs(start - at(wanted / 4)) for start in every)
        assert all(start in every for start in found)
