"""Who came to the demo studio's lessons, its policy, and a few make-up lessons: owed, booked, given."""

from datetime import date, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from lessons import credits
from lessons.attending import book_make_up, credits_of, mark_attendance
from lessons.models import Attendance, Lesson
from lessons.policies import keep_policy
from lessons.recurrence import moment_of
from studio.models import Student, Studio, User

Data = dict[str, Any]


def lay_out_attendance(
    studio: Studio, data: Data, students: dict[str, Student], today: date, teacher: User | None
) -> None:
    """`data` is the part [attendance] of the demo's file."""
    noon = moment_of(today, time(12), ZoneInfo(studio.timezone))
    keep_policy(studio=studio, rules={}, **data["policy"])
    for row in data["past"]:
        lesson = students[row["student"]].lessons.held().past(at=noon)[row["back"]]
        mark_attendance(
            lesson=lesson, attendance=row["said"], at=lesson.ends_at, by=teacher, minutes_late=row.get("minutes")
        )
    past = Lesson.objects.filter(studio=studio, attendance=Attendance.UNSAID, starts_at__lt=noon - timedelta(hours=12))
    past.update(attendance=Attendance.PRESENT)
    for row in data["coming"]:
        lesson = students[row["student"]].lessons.held().upcoming(at=noon)[row["ahead"]]
        mark_attendance(lesson=lesson, attendance=row["said"], at=noon, by=teacher)
        if "made_up_after" in row:
            credit = credits_of(lesson.student, noon)[0]
            starts_at = lesson.starts_at + timedelta(days=row["made_up_after"])
            book_make_up(credit=credit, starts_at=starts_at, minutes=lesson.minutes, at=noon, by=teacher)
    if teacher:
        for row in data["given"]:
            student = students[row["student"]]
            credits.correct(student=student, lessons=1, at=noon, by=teacher, remark=row["why"])
