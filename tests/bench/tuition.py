"""A month's charges of a large studio, written in one transaction; and the page of who owes, with years of entries."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from django.db import transaction

from lessons.charging import charge_due
from studio.models import Account, Charge, Studio
from studio.tuition.balances import states
from tests import make
from tests.bench.measure import Row, medians, milliseconds
from tests.studio.tuition import make_tuition

STUDENTS = 80
AT_MOST = 1000  # milliseconds
MONTHS = 12
RUNS = 5


class Undone(Exception):
    """Ends a run, so that the next begins from the same ledger."""


def large_studio() -> Studio:
    """Half pays by the month, a quarter by the lesson, a quarter by packages; four lessons a month for each."""
    studio = make.studio(name="Large studio")
    plans = [
        make_tuition.plan(studio, per=per, from_day=date(2020, 1, 1)) for per in ("month", "month", "lesson", "package")
    ]
    for number in range(STUDENTS):
        student = make.student(studio=studio, name=f"Student {number}")
        account = make_tuition.account(studio, name=f"Account {number // 2}")
        make_tuition.enrolment(student, on=account, by=plans[number % 4], first_day=date(2020, 1, 1))
        for month in range(1, MONTHS + 1):
            for day in (1, 8, 15, 22):
                starts_at = make_tuition.noon(date(2020, month, day))
                make.lesson(student=student, starts_at=starts_at, attendance="present")
    return studio


def rows() -> Iterator[Row]:
    studio = large_studio()
    charge_due(studio=studio, at=date(2020, MONTHS - 1, 30))
    last = date(2020, MONTHS, 28)
    counts: list[int] = []

    def a_month() -> None:
        try:
            with transaction.atomic():
                counts.append(len(charge_due(studio=studio, at=last).charges))
                raise Undone
        except Undone:
            return

    [month] = medians(a_month, times=RUNS)
    before = Charge.objects.filter(studio=studio).count()
    note = f"{counts[0]} charges beside {before} that were there, {STUDENTS * 4} lessons that month"
    yield Row(f"a month's charges for {STUDENTS} students", month, "limit", AT_MOST, 1, "ms", note)
    charge_due(studio=studio, at=last)
    again = milliseconds(lambda: charge_due(studio=studio, at=last))
    yield Row("the same job run again", again, "limit", AT_MOST, 1, "ms", "writes nothing")
    accounts = Account.objects.filter(studio=studio)
    [page] = medians(lambda: states(accounts.all(), studio=studio, on=last), times=RUNS)
    note = f"{accounts.count()} accounts, {Charge.objects.filter(studio=studio).count()} charges, nothing paid"
    yield Row("who owes what since when", page, "limit", AT_MOST / 4, 1, "ms", note)
