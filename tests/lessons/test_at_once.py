"""The clock and a window at one moment."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from threading import Event

import pytest
from django.db import connection, transaction

from lessons import credits
from lessons.laying_out import lay_out
from lessons.models import CreditEntry, Lesson
from tests import make, people

NOW = datetime(2020, 11, 4, 10, 0, tzinfo=UTC)


@pytest.fixture
def cast(transactional_db):
    return people.gather()


def test_laying_out_and_the_ledger_of_make_up_lessons_do_not_stand_in_each_others_way(cast):
    """Each holds a row that what the other writes refers to: a studio here, a student there."""
    missed = make.lesson(student=cast.oda, starts_at=NOW)
    holds_studio, holds_student = Event(), Event()

    def plan() -> None:
        with transaction.atomic():
            lay_out(cast.studio, at=NOW)
            holds_studio.set()
            holds_student.wait(timeout=1)  # In vain on SQLite, where the other cannot begin.
            make.lesson(student=cast.oda)

    def owe() -> None:
        holds_studio.wait(timeout=20)
        with transaction.atomic():
            credits.hold(cast.oda.pk)
            holds_student.set()
            credits.earn(lesson=missed, day=NOW.date(), expires_on=None, by=None)

    def run(work: Callable[[], None]) -> None:
        try:
            work()
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(run, (plan, owe)))
    assert (Lesson.objects.count(), CreditEntry.objects.count()) == (2, 1)
