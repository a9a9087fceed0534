from datetime import date

import pytest
from django.db import IntegrityError, transaction
from django.db.models import RestrictedError

from studio.models import Account, Enrolment, Plan
from studio.tuition import accounts
from studio.tuition.accounts import NotPossible
from tests.studio.tuition.make_tuition import SEPTEMBER, account, charge, enrolment, plan


def test_a_second_plan_ends_the_first_the_day_before(cast):
    first = enrolment(cast.oda)
    second = enrolment(cast.oda, on=first.account, first_day=date(2020, 10, 1))
    first.refresh_from_db()
    assert (first.last_day, second.last_day) == (date(2020, 9, 30), None)


@pytest.mark.parametrize("day", [SEPTEMBER, date(2020, 8, 1)])
def test_a_plan_does_not_begin_before_one_that_is_there(cast, day: date):
    enrolment(cast.oda)
    with pytest.raises(NotPossible, match="later day"):
        enrolment(cast.oda, first_day=day)


def test_a_plan_does_not_end_before_it_begins_nor_run_into_the_next(cast):
    first = enrolment(cast.oda)
    enrolment(cast.oda, on=first.account, first_day=date(2020, 10, 1))
    with pytest.raises(NotPossible, match="before the first"):
        accounts.end_enrolment(enrolment=first, last_day=date(2020, 8, 31))
    with pytest.raises(NotPossible, match="next plan"):
        accounts.end_enrolment(enrolment=first, last_day=date(2020, 10, 1))
    with pytest.raises(NotPossible, match="next plan"):
        accounts.end_enrolment(enrolment=first, last_day=None)


def test_the_database_keeps_one_open_plan_a_student(cast):
    row = enrolment(cast.oda)
    with pytest.raises(IntegrityError), transaction.atomic():
        Enrolment.objects.create(
            studio=cast.studio, student=cast.oda, account=row.account, plan=row.plan, first_day=date(2020, 12, 1)
        )


def test_a_new_account_is_read_by_those_who_answer_for_the_student(cast):
    row = accounts.enrol_family(student=cast.oda, plan=plan(cast.studio), first_day=SEPTEMBER, name="Lindqvist family")
    assert list(row.account.guardians.all()) == [cast.birger]


def test_rows_of_two_studios_do_not_mix(cast):
    with pytest.raises(ValueError, match="different studios"):
        enrolment(cast.bruno, on=account(cast.studio), by=plan(cast.next_door))
    with pytest.raises(ValueError, match="different studios"):
        accounts.open_account(studio=cast.next_door, name="X", guardians=[cast.birger])
    assert not Account.objects.filter(name="X").exists()


def test_an_account_with_entries_cannot_be_deleted_but_a_studio_can(cast):
    row = enrolment(cast.oda)
    charge(row.account)
    with pytest.raises(RestrictedError):
        row.account.delete()
    cast.studio.delete()
    assert not Account.objects.exists()


def test_a_package_has_a_size_and_nothing_else_has(cast):
    assert plan(cast.studio, per="month", lessons=7).lessons is None
    with pytest.raises(IntegrityError), transaction.atomic():
        Plan.objects.create(studio=cast.studio, name="none", per="package")


def test_a_price_of_the_same_day_takes_the_place_of_the_first(cast):
    row = plan(cast.studio)
    accounts.set_price(plan=row, minor=9000, from_day=date(2020, 1, 1))
    assert [price.minor for price in row.prices.all()] == [9000]
    assert row.price_on(date(2019, 12, 31)) is None
