"""Two windows, or a window and the daily job, at one moment: numbers without a gap, nothing written twice."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier

import pytest
from django.db import connection, transaction

from studio.models import Charge, Invoice, Payment
from studio.tuition import charging, entries
from studio.tuition.accounts import NotPossible
from studio.tuition.invoicing import make_invoice
from tests import people
from tests.studio.tuition.make_tuition import SEPTEMBER, account, charge, enrolment, plan

DAY = date(2020, 11, 25)
AT_ONCE = 4


@pytest.fixture
def cast(transactional_db):
    return people.gather()


def at_once(work: Callable[[int], object]) -> list[object]:
    """Runs the work in several threads that set out together; gives what each gave, or the refusal it got."""
    start = Barrier(AT_ONCE)

    def run(number: int) -> object:
        start.wait(timeout=20)
        try:
            return work(number)
        except NotPossible as refusal:
            return refusal
        finally:
            connection.close()

    with ThreadPoolExecutor(AT_ONCE) as pool:
        return list(pool.map(run, range(AT_ONCE)))


def test_invoices_made_at_once_are_numbered_without_a_gap(cast):
    rows = [account(cast.studio, name=f"Account {number}") for number in range(AT_ONCE)]
    for row in rows:
        charge(row)
    made = at_once(lambda number: make_invoice(account=rows[number], day=DAY))
    assert sorted(invoice.number for invoice in made) == [1, 2, 3, 4]


def test_of_invoices_of_one_account_made_at_once_one_has_the_charges(cast):
    row = account(cast.studio)
    charge(row)
    made = at_once(lambda number: make_invoice(account=row, day=DAY))
    assert sum(isinstance(one, NotPossible) for one in made) == AT_ONCE - 1
    assert [invoice.number for invoice in Invoice.objects.all()] == [1]


def test_the_job_run_at_once_charges_a_month_once(cast):
    by = plan(cast.studio)
    for student in (cast.oda, cast.ilmari, cast.ravi):
        enrolment(student, by=by)

    def run(number: int) -> int:
        with transaction.atomic():
            charging.lock(cast.studio)
            return len(charging.write(studio=cast.studio, at=SEPTEMBER, lessons=[]).charges)

    assert sorted(at_once(run)) == [0, 0, 0, 3]
    assert Charge.objects.count() == 3


def test_a_payment_sent_at_once_from_one_form_is_one(cast):
    row = account(cast.studio)
    at_once(lambda number: entries.pay(account=row, minor=500, method="cash", day=SEPTEMBER, once="the same form").pk)
    assert Payment.objects.count() == 1


def test_a_charge_taken_back_at_once_is_taken_back_once(cast):
    wrong = charge(account(cast.studio))
    found = at_once(lambda number: entries.take_back_charge(charge=wrong, day=SEPTEMBER))
    assert sum(isinstance(one, NotPossible) for one in found) == AT_ONCE - 1
    assert Charge.objects.count() == 2
