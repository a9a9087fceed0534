"""The demo studio's calendar: weekly lessons behind the history, a pair lesson, days without lessons, free hours."""

from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import F

from lessons.hours import keep_hours, read_hours
from lessons.laying_out import lay_out
from lessons.models import Absence, BusyTime, Holiday, Lesson, Slot, Where
from lessons.planning import move_lesson
from lessons.recurrence import moment_of
from lessons.scheduling import SlotPlan, make_slot
from studio.models import Student, Studio, Term

Data = dict[str, Any]


def lay_out_week(studio: Studio, data: Data, students: dict[str, Student], today: date) -> None:
    """`data` is the whole of the demo's file; its part [week] says what stands in the calendar."""
    zone, week = ZoneInfo(studio.timezone), data["week"]
    noon = moment_of(today, time(12), zone)
    for row in data["students"]:
        weekly(students[row["name"]], row["lesson"], data["weeks"], today)
    for row in week["together"]:
        make_slot(studio=studio, plan=together(row, students, today), at=noon)
    for row in week["holidays"]:
        Holiday.objects.create(studio=studio, **span(row, today))
    for row in week["terms"]:
        Term.objects.create(studio=studio, **span(row, today))
    for row in week["absences"]:
        Absence.objects.create(studio=studio, student=students[row["student"]], reason=row["name"], **days(row, today))
    for row in week["busy"]:
        be_busy(studio, row, today, zone)
    for name, hours in week["hours"].items():
        said = {weekday: read_hours(text) for weekday, text in enumerate(hours)}
        keep_hours(studio=studio, student=students.get(name), hours=said)
    lay_out(studio, at=noon)
    move_one(students[week["moved"]["student"]], week["moved"], noon)


def weekly(student: Student, lesson: list[int], weeks: int, today: date) -> None:
    """The slot whose lessons the history already has."""
    offset, hour, minute, minutes = lesson
    first = today + timedelta(days=offset, weeks=-weeks)
    slot = Slot.objects.create(
        studio=student.studio, first_day=first, at=time(hour, minute), minutes=minutes, rule="FREQ=WEEKLY"
    )
    slot.students.set([student])
    Lesson.objects.filter(student=student).update(slot=slot, meant_for=F("starts_at"))


def together(row: Data, students: dict[str, Student], today: date) -> SlotPlan:
    return SlotPlan(
        students=[students[name] for name in row["students"]],
        name=row["name"],
        first_day=today + timedelta(days=row["in"]),
        at=time.fromisoformat(row["at"]),
        minutes=row["minutes"],
        rule=row["rule"],
        where=Where(row["where"]),
        place=row["place"],
    )


def days(row: Data, today: date) -> Data:
    first, last = row["days"]
    return {"first_day": today + timedelta(days=first), "last_day": today + timedelta(days=last)}


def span(row: Data, today: date) -> Data:
    return {"name": row["name"], **days(row, today)}


def be_busy(studio: Studio, row: Data, today: date, zone: ZoneInfo) -> None:
    day = today + timedelta(days=row["in"])
    begin, end = (moment_of(day, time.fromisoformat(text), zone) for text in row["hours"])
    BusyTime.objects.create(
        studio=studio, source="demo", uid=row["name"], starts_at=begin, ends_at=end, label=row["name"]
    )


def move_one(student: Student, row: Data, at: datetime) -> None:
    """The student's next lesson falls on another hour, once."""
    lesson = student.lessons.upcoming(at=at).first()
    if lesson:
        move_lesson(lesson=lesson, starts_at=lesson.starts_at + timedelta(minutes=row["minutes"]), at=at)
