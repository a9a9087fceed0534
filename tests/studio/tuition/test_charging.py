"""Charges by rule. The rules are common practice; each sum beside a check is worked out by hand."""

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from studio.models import Charge, PackageEntry, Term
from studio.tuition import accounts, charging, entries
from studio.tuition.balances import state_of
from tests import make
from tests.studio.tuition.make_tuition import SEPTEMBER, account, enrolment, lesson, plan, write, written


def test_a_month_is_charged_on_its_first_day(cast):
    row = enrolment(cast.oda)
    write(cast.studio, date(2020, 10, 31))
    assert written(row.account) == [(date(2020, 9, 1), 8000), (date(2020, 10, 1), 8000)]
    charge = row.account.charges.first()
    assert (charge.kind, charge.currency, charge.student, charge.by_rule) == ("tuition", "EUR", cast.oda, True)
    assert (charge.first_day, charge.last_day) == (date(2020, 9, 1), date(2020, 9, 30))


def test_a_job_that_runs_twice_writes_nothing_twice(cast):
    enrolment(cast.oda)
    assert len(write(cast.studio, date(2020, 9, 10)).charges) == 1
    assert write(cast.studio, date(2020, 9, 10)).charges == []
    assert write(cast.studio, date(2020, 9, 30)).charges == []
    assert len(write(cast.studio, date(2020, 10, 1)).charges) == 1


def test_a_draft_writes_nothing(cast):
    enrolment(cast.oda)
    found = charging.draft(studio=cast.studio, at=date(2020, 10, 1), lessons=[])
    assert found.minor == 16000
    assert not Charge.objects.exists()


def test_a_month_that_has_not_begun_is_not_charged(cast):
    row = enrolment(cast.oda, first_day=date(2020, 10, 1))
    write(cast.studio, date(2020, 9, 30))
    assert written(row.account) == []


@pytest.mark.parametrize(
    ("divided", "minor"),
    [("days", 4267), ("whole", 8000)],  # 16 of 30 days of 80.00: 42.666..., so 42.67
)
def test_who_joins_within_a_month_pays_her_part(cast, divided: str, minor: int):
    row = enrolment(cast.oda, by=plan(cast.studio, divided=divided), first_day=date(2020, 9, 15))
    write(cast.studio, date(2020, 9, 20))
    assert written(row.account) == [(date(2020, 9, 15), minor)]


def test_a_month_divided_by_lesson_days_asks_for_their_share(cast):
    row = enrolment(cast.oda, by=plan(cast.studio, divided="lessons"), first_day=date(2020, 9, 15))
    asked = []

    def share(enrolment, period, part):
        asked.append((period, part))
        return Fraction(2, 5)

    charging.write(studio=cast.studio, at=date(2020, 9, 20), lessons=[], by_lessons=share)
    assert written(row.account) == [(date(2020, 9, 15), 3200)]
    assert asked == [((date(2020, 9, 1), date(2020, 9, 30)), (date(2020, 9, 15), date(2020, 9, 30)))]


def test_who_leaves_within_a_charged_month_gets_the_rest_back_as_an_entry_of_its_own(cast):
    row = enrolment(cast.oda)
    write(cast.studio, date(2020, 9, 1))
    accounts.end_enrolment(enrolment=row, last_day=date(2020, 9, 12))
    write(cast.studio, date(2020, 9, 14))
    assert written(row.account) == [(date(2020, 9, 1), 8000), (date(2020, 9, 14), -4800)]  # 12 of 30 days: 32.00
    assert row.account.charges.get(minor=-4800).kind == "adjustment"
    write(cast.studio, date(2020, 10, 5))
    assert len(written(row.account)) == 2


def test_an_enrolment_taken_back_gives_all_back(cast):
    row = enrolment(cast.oda)
    where = row.account
    write(cast.studio, date(2020, 10, 1))
    accounts.take_back_enrolment(enrolment=row)
    write(cast.studio, date(2020, 10, 2))
    assert state_of(where, on=date(2020, 10, 2)).minor == 0
    assert {charge.reverses.minor for charge in where.charges.exclude(reverses=None)} == {8000}
    assert write(cast.studio, date(2020, 10, 3)).charges == []


def test_a_price_holds_from_its_day_on(cast):
    row = enrolment(cast.oda)
    accounts.set_price(plan=row.plan, minor=8500, from_day=date(2020, 10, 1))
    write(cast.studio, date(2020, 10, 1))
    assert [minor for _day, minor in written(row.account)] == [8000, 8500]


def test_a_price_set_for_the_past_is_made_good_by_an_adjusting_entry(cast):
    row = enrolment(cast.oda)
    write(cast.studio, date(2020, 9, 1))
    accounts.set_price(plan=row.plan, minor=8500, from_day=date(2020, 9, 1))
    write(cast.studio, date(2020, 9, 20))
    assert written(row.account) == [(date(2020, 9, 1), 8000), (date(2020, 9, 20), 500)]


def test_a_plan_without_a_price_is_told_and_not_charged(cast):
    row = enrolment(cast.oda, by=plan(cast.studio, from_day=date(2020, 10, 1)))
    made = write(cast.studio, date(2020, 10, 1))
    assert written(row.account) == [(date(2020, 10, 1), 8000)]
    assert ["Plan month" in words for words in made.troubles] == [True]


def test_a_term_is_charged_once_and_in_part_to_who_joins_later(cast):
    Term.objects.create(studio=cast.studio, name="Autumn", first_day=date(2020, 9, 1), last_day=date(2020, 12, 9))
    by = plan(cast.studio, per="term", minor=40000)
    early = enrolment(cast.oda, by=by)
    late = enrolment(cast.ilmari, by=by, first_day=date(2020, 10, 21))
    write(cast.studio, date(2020, 9, 1))
    write(cast.studio, date(2020, 11, 1))
    assert written(early.account) == [(date(2020, 9, 1), 40000)]
    assert written(late.account) == [(date(2020, 10, 21), 20000)]  # 50 of 100 days


def test_the_second_child_pays_less_and_the_third_still_less(cast):
    where, by = account(cast.studio), plan(cast.studio)
    third = make.student(studio=cast.studio, name="Tove Lindqvist")
    accounts.set_discount(
        studio=cast.studio, from_day=SEPTEMBER, order="joined", second=Decimal(10), further=Decimal("12.5")
    )
    enrolment(third, on=where, by=by, first_day=date(2020, 9, 3))
    enrolment(cast.oda, on=where, by=by, first_day=date(2020, 9, 1))
    enrolment(cast.ilmari, on=where, by=by, first_day=date(2020, 9, 2))
    write(cast.studio, date(2020, 10, 1))
    october = where.charges.filter(day=date(2020, 10, 1))
    assert {charge.student: charge.minor for charge in october} == {cast.oda: 8000, cast.ilmari: 7200, third: 7000}


def test_the_dearest_plan_may_be_the_one_that_is_paid_in_full(cast):
    where = account(cast.studio)
    accounts.set_discount(
        studio=cast.studio, from_day=SEPTEMBER, order="dearest", second=Decimal(10), further=Decimal(10)
    )
    enrolment(cast.oda, on=where, by=plan(cast.studio, minor=6000))
    enrolment(cast.ilmari, on=where, by=plan(cast.studio, minor=9000))
    write(cast.studio, SEPTEMBER)
    assert {charge.student: charge.minor for charge in where.charges.all()} == {cast.oda: 5400, cast.ilmari: 9000}


def test_a_discount_holds_from_its_day_on(cast):
    where, by = account(cast.studio), plan(cast.studio)
    enrolment(cast.oda, on=where, by=by)
    enrolment(cast.ilmari, on=where, by=by)
    accounts.set_discount(
        studio=cast.studio, from_day=date(2020, 10, 1), order="joined", second=Decimal(50), further=Decimal(50)
    )
    write(cast.studio, date(2020, 10, 1))
    assert sorted(minor for day, minor in written(where) if day.month == 9) == [8000, 8000]
    assert sorted(minor for day, minor in written(where) if day.month == 10) == [4000, 8000]


def test_children_on_two_accounts_are_no_siblings_here(cast):
    accounts.set_discount(
        studio=cast.studio, from_day=SEPTEMBER, order="joined", second=Decimal(10), further=Decimal(10)
    )
    one, two = enrolment(cast.oda), enrolment(cast.ilmari)
    write(cast.studio, SEPTEMBER)
    assert written(one.account) + written(two.account) == [(SEPTEMBER, 8000), (SEPTEMBER, 8000)]


def test_a_lesson_is_charged_where_the_policy_says_so(cast):
    row = enrolment(cast.oda, by=plan(cast.studio, per="lesson", minor=3000))
    held = lesson(1, cast.oda, date(2020, 9, 7))
    cancelled = lesson(2, cast.oda, date(2020, 9, 14), counts=False)
    write(cast.studio, date(2020, 9, 20), held, cancelled)
    assert written(row.account) == [(date(2020, 9, 7), 3000)]


def test_an_attendance_corrected_later_makes_an_adjusting_entry_and_never_an_edit(cast):
    row = enrolment(cast.oda, by=plan(cast.studio, per="lesson", minor=3000))
    day = date(2020, 9, 7)
    write(cast.studio, date(2020, 9, 8), lesson(1, cast.oda, day))
    write(cast.studio, date(2020, 9, 9), lesson(1, cast.oda, day, counts=False))
    assert written(row.account) == [(day, 3000), (date(2020, 9, 9), -3000)]
    write(cast.studio, date(2020, 9, 10), lesson(1, cast.oda, day))
    assert written(row.account) == [(day, 3000), (date(2020, 9, 9), -3000), (date(2020, 9, 10), 3000)]
    assert write(cast.studio, date(2020, 9, 11), lesson(1, cast.oda, day)).charges == []


def test_a_lesson_that_is_gone_gives_its_charge_back(cast):
    row = enrolment(cast.oda, by=plan(cast.studio, per="lesson", minor=3000))
    write(cast.studio, date(2020, 9, 8), lesson(1, cast.oda, date(2020, 9, 7)))
    write(cast.studio, date(2020, 9, 9))
    assert state_of(row.account, on=date(2020, 9, 9)).minor == 0


def test_what_was_corrected_by_hand_is_left_alone(cast):
    row = enrolment(cast.oda)
    write(cast.studio, SEPTEMBER)
    entries.take_back_charge(charge=row.account.charges.get(), day=date(2020, 9, 2))
    assert write(cast.studio, date(2020, 9, 30)).charges == []
    assert state_of(row.account, on=date(2020, 9, 30)).minor == 0


def test_a_lesson_of_who_is_on_no_plan_is_not_charged(cast):
    row = enrolment(cast.oda, by=plan(cast.studio, per="lesson"), first_day=date(2020, 9, 10))
    write(
        cast.studio, date(2020, 9, 20), lesson(1, cast.oda, date(2020, 9, 7)), lesson(2, cast.ravi, date(2020, 9, 17))
    )
    assert written(row.account) == []


def test_a_package_is_charged_with_its_first_lesson_and_counts_down(cast):
    row = enrolment(cast.oda, by=plan(cast.studio, per="package", minor=20000, lessons=3))
    days = [date(2020, 9, day) for day in (1, 8, 15, 22)]
    for number, day in enumerate(days):
        write(cast.studio, day, *(lesson(one, cast.oda, days[one]) for one in range(number + 1)))
        left = sum(row.package_entries.values_list("lessons", flat=True))
        assert left == [2, 1, 0, 2][number]
    assert written(row.account) == [(days[0], 20000), (days[3], 20000)]


def test_a_lesson_of_a_package_is_given_back_and_taken_again(cast):
    row = enrolment(cast.oda, by=plan(cast.studio, per="package", lessons=3))
    day = date(2020, 9, 8)
    for number, counts in enumerate((True, False, True, True)):
        write(cast.studio, date(2020, 9, 9 + number), lesson(1, cast.oda, day, counts=counts))
    assert [entry.lessons for entry in row.package_entries.order_by("pk")] == [3, -1, 1, -1]
    assert len(written(row.account)) == 1


def test_a_lesson_of_a_package_that_is_taken_out_or_moved_on_is_given_back(cast):
    row = enrolment(cast.oda, by=plan(cast.studio, per="package", lessons=3))
    first, second = (lesson(number, cast.oda, date(2020, 9, number)) for number in (8, 9))
    write(cast.studio, date(2020, 9, 9), first, second)
    for _twice in range(2):
        write(cast.studio, date(2020, 9, 10), second)
    assert [entry.lessons for entry in row.package_entries.order_by("pk")] == [3, -1, -1, 1]
    write(cast.studio, date(2020, 9, 15), second, lesson(8, cast.oda, date(2020, 9, 14)))
    assert sum(row.package_entries.values_list("lessons", flat=True)) == 1  # 3 bought, 2 taken
    write(cast.studio, date(2021, 12, 1))
    assert sum(row.package_entries.values_list("lessons", flat=True)) == 1  # what lies far back is left alone


def test_a_package_taken_back_by_hand_takes_its_lessons_along(cast):
    row = enrolment(cast.oda, by=plan(cast.studio, per="package", lessons=3))
    first = lesson(1, cast.oda, date(2020, 9, 8))
    write(cast.studio, date(2020, 9, 8), first)
    entries.take_back_charge(charge=row.account.charges.get(), day=date(2020, 9, 9))
    assert sum(PackageEntry.objects.values_list("lessons", flat=True)) == -1
    write(cast.studio, date(2020, 9, 15), first, lesson(2, cast.oda, date(2020, 9, 15)))
    assert sum(PackageEntry.objects.values_list("lessons", flat=True)) == 1  # 3 bought, 2 taken


def test_a_free_plan_charges_nothing(cast):
    row = enrolment(cast.oda, by=plan(cast.studio, minor=0))
    assert write(cast.studio, date(2020, 10, 1)).charges == []
    assert written(row.account) == []


def test_what_lies_far_back_is_left_alone(cast):
    enrolment(cast.oda)
    made = write(cast.studio, date(2026, 1, 15))
    assert min(charge.day for charge in made.charges) > date(2024, 12, 1)


def test_the_plan_before_ends_where_the_next_begins_and_both_are_charged_in_part(cast):
    where = account(cast.studio)
    enrolment(cast.oda, on=where, by=plan(cast.studio, minor=6000))
    enrolment(cast.oda, on=where, by=plan(cast.studio, minor=9000), first_day=date(2020, 9, 16))
    write(cast.studio, date(2020, 9, 30))
    assert written(where) == [(date(2020, 9, 1), 3000), (date(2020, 9, 16), 4500)]


def test_next_door_is_not_charged(cast):
    elsewhere = enrolment(cast.bruno)
    enrolment(cast.oda)
    write(cast.studio, SEPTEMBER)
    assert written(elsewhere.account) == []


def test_ten_more_students_add_no_query(cast):
    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            charging.draft(studio=cast.studio, at=date(2020, 10, 1), lessons=[])
        return len(found)

    by = plan(cast.studio)
    enrolment(cast.oda, by=by)
    before = queries()
    for number in range(10):
        enrolment(make.student(studio=cast.studio, name=f"Student {number}"), by=by)
    assert queries() == before


runs = st.lists(st.tuples(st.integers(0, 90), st.sets(st.integers(0, 5))), min_size=1, max_size=6)


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(runs, st.sampled_from(["lesson", "package", "month"]))
def test_however_often_and_in_whatever_order_the_job_runs_the_ledger_says_what_is_due(cast, runs, per: str):
    """Each run sees some of six weekly lessons as held. After the last, the ledger holds what that run alone would
    have written."""
    student = make.student(studio=cast.studio, name="Someone")
    row = enrolment(
        student,
        on=account(cast.studio, name=f"Account {student.pk}"),
        by=plan(cast.studio, per=per, lessons=2 if per == "package" else None),
    )
    runs = sorted(runs, key=lambda run: run[0])
    for days, held in runs:
        at = date.fromordinal(SEPTEMBER.toordinal() + days)
        facts = [
            lesson(
                student.pk * 100 + number,
                student,
                date.fromordinal(SEPTEMBER.toordinal() + 7 * number),
                counts=number in held,
            )
            for number in range(6)
        ]
        write(cast.studio, at, *facts)
        again = write(cast.studio, at, *facts)
        assert (again.charges, again.package_entries) == ([], [])
    come = {number for number in held if 7 * number <= days}
    months = len({date.fromordinal(SEPTEMBER.toordinal() + day).month for day in range(days + 1)})
    balance = state_of(row.account, on=date(2021, 1, 1)).minor
    if per == "package":
        bought = row.package_entries.filter(about__startswith="package-").count()
        assert balance == 8000 * bought
        assert sum(row.package_entries.values_list("lessons", flat=True)) == 2 * bought - len(come)
    else:
        assert balance == 8000 * (len(come) if per == "lesson" else months)
