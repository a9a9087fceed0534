from datetime import date

from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.models import Account
from studio.tuition.balances import ledger_of, state_of, states
from tests.studio.tuition.make_tuition import account, charge, payment

TODAY = date(2020, 12, 1)


def all_states(studio, on=TODAY):
    return states(Account.objects.filter(studio=studio), studio=studio, on=on)


def test_who_waits_longest_stands_first_and_who_paid_last(cast):
    paid, young, old = (account(cast.studio, name=name) for name in ("Paid", "Young", "Old"))
    charge(paid, 100)
    payment(paid, 150)
    charge(young, 9000, date(2020, 11, 1))
    charge(old, 100, date(2020, 9, 1))
    charge(old, 100, date(2020, 10, 1))
    payment(old, 100, date(2020, 11, 15))
    assert [(one.account, one.minor, one.since) for one in all_states(cast.studio)] == [
        (old, 100, date(2020, 10, 1)),
        (young, 9000, date(2020, 11, 1)),
        (paid, -50, None),
    ]
    assert [state_of(row, on=TODAY).since for row in (old, young, paid)] == [date(2020, 10, 1), date(2020, 11, 1), None]


def test_a_day_before_the_payment_shows_what_was_owed_then(cast):
    row = account(cast.studio)
    charge(row, 100, date(2020, 9, 1))
    payment(row, 100, date(2020, 10, 1))
    assert [all_states(cast.studio, day)[0].minor for day in (date(2020, 9, 30), date(2020, 10, 1))] == [100, 0]


def test_next_doors_money_is_not_counted(cast):
    charge(account(cast.next_door), 100)
    account(cast.studio)
    assert [one.minor for one in all_states(cast.studio)] == [0]


def test_a_span_of_the_ledger_stands_between_two_balances(cast):
    row = account(cast.studio)
    charge(row, 100, date(2020, 9, 1))
    charge(row, 200, date(2020, 10, 1))
    payment(row, 50, date(2020, 10, 31))
    charge(row, 400, date(2020, 11, 1))
    found = ledger_of(row, first=date(2020, 10, 1), last=date(2020, 10, 31))
    assert (found.opening, [line.balance for line in found.rows], found.closing) == (100, [300, 250], 250)
    nothing = ledger_of(row, first=date(2021, 1, 1), last=date(2021, 1, 31))
    assert (nothing.opening, nothing.rows, nothing.closing) == (650, [], 650)


def test_ten_more_accounts_and_entries_add_no_query(cast):
    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            all_states(cast.studio)
        return len(found)

    charge(account(cast.studio), 100)
    before = queries()
    for number in range(10):
        charge(account(cast.studio, name=f"Account {number}"), 100)
    assert queries() == before
