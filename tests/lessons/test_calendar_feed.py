"""The feed, read back by libraries that know nothing of us: icalendar for the file, recurring-ical-events and, through
it, python-dateutil for the instants."""

from datetime import UTC, date, datetime, time, timedelta

import icalendar
import pytest
import recurring_ical_events
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lessons.calendar_feed import Reader, calendar_of, reader_for
from lessons.laying_out import lay_out
from lessons.models import Absence, Attendance, Holiday, Lesson, Where
from lessons.planning import move_lesson
from lessons.scheduling import SlotPlan, make_slot
from studio.models import Studio, Term
from tests import make

AT = datetime(2021, 2, 1, 6, tzinfo=UTC)
DAY = date(2021, 2, 1)
ZONES = (
    "Europe/Helsinki",
    "America/Sao_Paulo",
    "Australia/Lord_Howe",  # changes its clocks by half an hour
    "Asia/Kolkata",  # a half-hour zone
    "Africa/Casablanca",  # changes its rules with Ramadan
    "America/New_York",
    "UTC",
)


def plan(cast, **given) -> SlotPlan:
    fields = {
        "students": (cast.oda,),
        "first_day": DAY,
        "at": time(16, 30),
        "minutes": 45,
        "rule": "FREQ=WEEKLY",
        "where": Where.STUDIO,
        "place": "Room 2",
    }
    return SlotPlan(**{**fields, **given})


def slot(cast, **given):
    return make_slot(studio=cast.studio, plan=plan(cast, **given), at=AT)[0]


def everyone(studio: Studio) -> Reader:
    from_rows = Lesson.objects.filter(studio=studio).values_list("student_id", flat=True)
    return Reader(studio, frozenset(from_rows), names=True, title="Lessons")


def read(data: bytes, days: int = 175) -> set[tuple[datetime, timedelta]]:
    """The instants of the events that are not cancelled, as the independent library finds them."""
    calendar = icalendar.Calendar.from_ical(data)
    events = recurring_ical_events.of(calendar).between(AT, AT + timedelta(days=days))
    return {
        (one.start.astimezone(UTC), one.end - one.start)
        for one in events
        if str(one.get("status", "")) != "CANCELLED" and one.start >= AT
    }


def rows(studio: Studio, days: int = 175) -> set[tuple[datetime, timedelta]]:
    found = Lesson.objects.held().filter(studio=studio, starts_at__gte=AT, starts_at__lt=AT + timedelta(days=days))
    return {(row.starts_at, timedelta(minutes=row.minutes)) for row in found}


def event_of(data: bytes, **wanted: str) -> icalendar.Event:
    events = icalendar.Calendar.from_ical(data).walk("VEVENT")
    return next(one for one in events if all(str(one.get(name, "")) == value for name, value in wanted.items()))


@pytest.mark.parametrize("zone", ZONES)
def test_a_weekly_lesson_falls_at_the_same_instants_for_a_library_as_for_us(cast, zone):
    cast.studio.timezone = zone
    cast.studio.save()
    slot(cast)
    lay_out(cast.studio, at=AT)
    found = read(calendar_of(everyone(cast.studio), at=AT))
    assert found == rows(cast.studio)
    assert len(found) >= 24


@pytest.mark.parametrize("at", [time(2, 30), time(3, 0), time(1, 30), time(0, 0)])
def test_a_lesson_in_the_skipped_and_the_doubled_hour_is_one_instant(cast, at):
    cast.studio.timezone = "Europe/Helsinki"
    cast.studio.save()
    slot(cast, at=at, rule="FREQ=DAILY;COUNT=120")
    assert read(calendar_of(everyone(cast.studio), at=AT)) == rows(cast.studio)


def test_holidays_absences_terms_moved_and_cancelled_lessons_are_told(cast):
    weekly = slot(cast)
    slot(cast, students=(cast.oda, cast.ravi), at=time(18), rule="FREQ=WEEKLY;INTERVAL=2;BYDAY=TU")
    slot(cast, students=(cast.ravi,), at=time(15), in_terms=True, rule="FREQ=WEEKLY;BYDAY=WE")
    Term.objects.create(studio=cast.studio, name="Spring", first_day=date(2021, 2, 8), last_day=date(2021, 4, 30))
    Holiday.objects.create(studio=cast.studio, name="Easter", first_day=date(2021, 4, 1), last_day=date(2021, 4, 12))
    Absence.objects.create(studio=cast.studio, student=cast.oda, first_day=date(2021, 3, 1), last_day=date(2021, 3, 9))
    lay_out(cast.studio, at=AT)
    third = Lesson.objects.filter(slot=weekly).order_by("starts_at")[2]
    move_lesson(lesson=third, starts_at=third.starts_at + timedelta(days=1, hours=2), at=AT)
    fifth = Lesson.objects.filter(slot=weekly).order_by("starts_at")[6]
    Lesson.objects.filter(pk=fifth.pk).update(cancelled_at=AT, attendance=Attendance.TEACHER_CANCELLED, sequence=1)
    data = calendar_of(everyone(cast.studio), at=AT)
    assert read(data) == rows(cast.studio)
    moved = [one for one in icalendar.Calendar.from_ical(data).walk("VEVENT") if "recurrence-id" in one]
    assert {str(one.get("status", "")) for one in moved} == {"", "CANCELLED"}
    assert {one["uid"] for one in moved} <= {
        one["uid"] for one in icalendar.Calendar.from_ical(data).walk("VEVENT") if "rrule" in one
    }


@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    zone=st.sampled_from(ZONES),
    rule=st.sampled_from(
        [
            "FREQ=WEEKLY;BYDAY=MO,TH",
            "FREQ=WEEKLY;INTERVAL=2;COUNT=9",
            "FREQ=MONTHLY;BYDAY=-1FR",
            "FREQ=MONTHLY;BYMONTHDAY=31",
            "FREQ=WEEKLY;UNTIL=20210501",
            "FREQ=DAILY;INTERVAL=3",
        ]
    ),
    at=st.times().map(
        lambda found: found.replace(second=0, microsecond=0, minute=found.minute // 15 * 15, tzinfo=None)
    ),
    first=st.integers(0, 40),
    closed=st.lists(st.tuples(st.integers(0, 170), st.integers(0, 12)), max_size=3),
)
def test_any_slot_falls_at_the_same_instants_for_a_library_as_for_us(cast, zone, rule, at, first, closed):
    Lesson.objects.all().delete()
    Holiday.objects.all().delete()
    cast.studio.timezone = zone
    cast.studio.save()
    for begin, length in closed:
        Holiday.objects.create(
            studio=cast.studio,
            name="closed",
            first_day=DAY + timedelta(days=begin),
            last_day=DAY + timedelta(days=begin + length),
        )
    row = slot(cast, rule=rule, at=at, first_day=DAY + timedelta(days=first))
    try:
        assert read(calendar_of(everyone(cast.studio), at=AT)) == rows(cast.studio)
    finally:
        row.delete()


def test_lines_are_folded_and_end_as_the_standard_says(cast):
    slot(cast, name="The Wednesday quartet of piano, four hands, and whoever else wishes to come")
    data = calendar_of(everyone(cast.studio), at=AT)
    lines = data.split(b"\r\n")
    assert lines[0] == b"BEGIN:VCALENDAR"
    assert lines[-2:] == [b"END:VCALENDAR", b""]
    assert max(map(len, lines)) <= 75
    assert b"\n" not in data.replace(b"\r\n", b"")


def test_the_zone_comes_along_with_its_changes(cast):
    slot(cast)
    (zone,) = icalendar.Calendar.from_ical(calendar_of(everyone(cast.studio), at=AT)).walk("VTIMEZONE")
    assert str(zone["tzid"]) == "Europe/Helsinki"
    assert {one.name for one in zone.subcomponents} == {"STANDARD", "DAYLIGHT"}


def test_words_with_commas_and_line_breaks_stay_one_word(cast):
    slot(cast, place="Hill Street 4, second floor;\nring twice")
    event = event_of(calendar_of(everyone(cast.studio), at=AT))
    assert "Hill Street 4, second floor;" in str(event["location"])


def test_nothing_that_is_written_in_a_lesson_is_told(cast):
    make.lesson(student=cast.oda, starts_at=AT, notes="Sing the bass", private_notes="tired", place="Room 2")
    data = calendar_of(everyone(cast.studio), at=AT).decode()
    assert "Sing" not in data
    assert "tired" not in data
    assert "Room 2" in data


def test_a_student_reads_her_own_lessons_without_names_and_a_guardian_those_of_her_children(cast):
    for student, hour in ((cast.oda, 15), (cast.ilmari, 16), (cast.ravi, 17)):
        slot(cast, students=(student,), at=time(hour))
    hers = calendar_of(reader_for(cast.oda.user, [cast.oda]), at=AT).decode()
    theirs = calendar_of(reader_for(cast.birger.user, [cast.oda, cast.ilmari]), at=AT).decode()
    all_of_it = calendar_of(reader_for(cast.teacher, [cast.oda, cast.ilmari, cast.ravi]), at=AT).decode()
    assert hers.count("RRULE") == 1
    assert "Lindqvist" not in hers
    assert theirs.count("RRULE") == 2
    assert "Lesson: Ilmari Lindqvist" in theirs
    assert "Ravi" not in theirs
    assert all_of_it.count("RRULE") == 3


def test_one_of_a_pair_who_cancels_leaves_the_meeting_to_the_other(cast):
    pair = slot(cast, students=(cast.oda, cast.ravi))
    first = Lesson.objects.filter(slot=pair, student=cast.ravi).order_by("starts_at").first()
    Lesson.objects.filter(pk=first.pk).update(cancelled_at=AT, attendance=Attendance.CANCELLED_IN_TIME, sequence=1)
    assert first.starts_at in {begin for begin, _ in read(calendar_of(everyone(cast.studio), at=AT))}
    his = Reader(cast.studio, frozenset({cast.ravi.pk}), names=False, title="Lessons")
    assert first.starts_at not in {begin for begin, _ in read(calendar_of(his, at=AT))}


def test_the_same_rows_give_the_same_bytes_and_a_change_raises_the_sequence(cast):
    weekly = slot(cast)
    before = calendar_of(everyone(cast.studio), at=AT)
    assert calendar_of(everyone(cast.studio), at=AT) == before
    row = Lesson.objects.filter(slot=weekly).order_by("starts_at").first()
    move_lesson(lesson=row, starts_at=row.starts_at + timedelta(hours=1), at=AT)
    moved = icalendar.Calendar.from_ical(calendar_of(everyone(cast.studio), at=AT)).walk("VEVENT")
    assert max(int(one["sequence"]) for one in moved if "recurrence-id" in one) > 0


def test_more_lessons_cost_no_more_queries(cast):
    def queries():
        with CaptureQueriesContext(connection) as seen:
            calendar_of(everyone(cast.studio), at=AT)
        return len(seen)

    slot(cast)
    few = queries()
    for hour in range(8, 14):
        slot(cast, students=(cast.ravi,), at=time(hour))
    assert queries() == few
