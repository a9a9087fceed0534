"""The overview of eighty students whose logs hold 250,000 entries, beside the same with 2,500."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, time, timedelta
from itertools import islice

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from lessons.logs import period_of
from lessons.models import AssignedPassage, Assignment, Lesson, PracticeEntry
from lessons.overview import WEEKS
from scores.models import Passage
from studio.models import Role, Student, Studio
from tests import make
from tests.bench.measure import Row, medians

STUDENTS, FEW, MANY = 80, 2_500, 250_000
TAUGHT = 2 * WEEKS  # weeks of lessons, as far back as the page reads them
AT_MOST = 1.2  # of the time with few
BATCH = 5_000


def rows() -> Iterator[Row]:
    few, many = (opened(studio_of(entries)) for entries in (FEW, MANY))
    address = reverse("progress-of-all")
    note = f"both have {FEW} entries in the last {WEEKS} weeks; the rest lies before it, with a lesson a week"
    long, short = medians(lambda: many.get(address), lambda: few.get(address), times=9)
    what = f"the overview of {STUDENTS} students with {MANY:,} entries"
    yield Row(what, long, f"with {FEW:,} entries", short, AT_MOST, note=note)
    yield Row(what, queries_of(many), f"with {FEW:,} entries", queries_of(few), 1, unit="queries")


def studio_of(entries: int) -> Studio:
    """Eighty students, each given the same passage every week, and so many entries among them: `FEW` in the
    last weeks, the rest before."""
    studio = make.studio(name=f"{entries} entries")
    make.user(studio=studio, role=Role.TEACHER, email=f"progress{entries}@example.org")
    passage = make.passage(edition=make.edition(piece=make.piece(studio=studio)))
    given = [lessons_of(studio, number, passage) for number in range(STUDENTS)]
    add_earlier(studio, passage, given, weeks=max(0, WEEKS * (entries // FEW) - TAUGHT))
    every = islice(log_of(given), entries)
    while batch := list(islice(every, BATCH)):
        PracticeEntry.objects.bulk_create(batch)
    return studio


def lessons_of(studio: Studio, number: int, passage: Passage) -> tuple[Student, AssignedPassage]:
    student = make.student(studio=studio, name=f"Student {number}")
    noon = timezone.make_aware(datetime.combine(timezone.localdate(), time(12)))
    rows = [
        make.assigned(
            lesson=make.lesson(student=student, starts_at=noon - timedelta(days=1 + number % 6, weeks=week)),
            passage=passage,
        )
        for week in range(TAUGHT)
    ]
    return student, rows[0]


def add_earlier(studio: Studio, passage: Passage, given: list[tuple[Student, AssignedPassage]], *, weeks: int) -> None:
    """The weekly lessons before, for as many weeks as the log goes back."""
    newest = [(student, row.assignment.lesson.starts_at) for student, row in given]
    lessons = Lesson.objects.bulk_create(
        Lesson(studio=studio, student=student, starts_at=at - timedelta(weeks=TAUGHT + week), minutes=45)
        for week in range(weeks)
        for student, at in newest
    )
    piece = passage.edition.piece_id
    works = Assignment.objects.bulk_create(Assignment(studio=studio, lesson=one, piece_id=piece) for one in lessons)
    AssignedPassage.objects.bulk_create(
        AssignedPassage(studio=studio, assignment=work, passage=passage, tempo_now=60, tempo_goal=88) for work in works
    )


def log_of(given: list[tuple[Student, AssignedPassage]]) -> Iterator[PracticeEntry]:
    """Entries without end, the newest first: `FEW` among all students in each `WEEKS` weeks."""
    shown = period_of(WEEKS, timezone.localdate())
    a_day = FEW / STUDENTS / ((shown.last - shown.first).days + 1)  # entries of a student
    number = 0
    while True:
        day = timezone.localdate() - timedelta(days=int(number / a_day))
        for place, (student, assigned) in enumerate(given):
            yield PracticeEntry(
                studio_id=student.studio_id,
                student=student,
                assigned=assigned,
                day=day,
                minutes=5 + (number + place) % 20,
                tempo=60 + (number + place) % 9,
                clean_runs=(number + place) % 5,
                tries=5,
            )
        number += 1


def opened(studio: Studio) -> Client:
    client = Client(SERVER_NAME="localhost")
    teacher = studio.users.get(role=Role.TEACHER)
    client.force_login(teacher, backend="django.contrib.auth.backends.ModelBackend")
    return client


def queries_of(client: Client) -> int:
    with CaptureQueriesContext(connection) as queries:
        client.get(reverse("progress-of-all"))
    return len(queries)
