"""What families of the demo studio ask, and who waits for a time: a question that waits, a freed time that fits."""

from datetime import date, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from lessons.asking import ask
from lessons.models import Asked
from lessons.recurrence import moment_of
from lessons.waiting import put_on
from studio.models import Student, Studio

Data = dict[str, Any]


def lay_out_asking(studio: Studio, data: Data, students: dict[str, Student], today: date) -> None:
    """`data` is the part [asking] of the demo's file."""
    noon = moment_of(today, time(12), ZoneInfo(studio.timezone))
    for row in data["moves"]:
        student = students[row["student"]]
        lesson = student.lessons.held().upcoming(at=noon)[row["ahead"]]
        by = student.user or student.guardians.select_related("user").exclude(user=None)[0].user
        wanted = lesson.starts_at + timedelta(days=row["days"], minutes=row["minutes"])
        ask(lesson=lesson, by=by, kind=Asked.Kind.MOVE, wanted=wanted, remark=row["word"], at=noon - timedelta(hours=3))
    for row in data["waiting"]:
        since = noon - timedelta(days=row["since"])
        put_on(student=students[row["student"]], minutes=row["minutes"], remark=row["remark"], at=since)
