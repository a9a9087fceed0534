"""The ledger's arithmetic: balances, and what is unpaid since when. The rule of the oldest first: common practice."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from studio.ledger import Line, balance, running, unpaid

DAY = date(2026, 1, 1)


def line(days: int, minor: int, key: str = "", cancels: str = "") -> Line:
    return Line(DAY + timedelta(days=days), minor, key, cancels)


lines = st.lists(st.builds(line, st.integers(0, 60), st.integers(-(10**7), 10**7).filter(bool)), max_size=25)


@given(lines)
def test_the_last_running_balance_is_the_sum(lines: list[Line]):
    assert [after for _, after in running(lines)][-1:] == ([balance(lines)] if lines else [])


@given(lines, st.integers(-1, 61))
def test_the_balance_of_a_day_counts_that_day_and_no_later_one(lines: list[Line], days: int):
    day = DAY + timedelta(days=days)
    later = sum(one.minor for one in lines if one.day > day)
    assert balance(lines, on=day) + later == balance(lines)


@given(lines)
def test_what_is_unpaid_sums_to_the_balance(lines: list[Line]):
    assert sum(one.minor for one in unpaid(lines)) == max(0, balance(lines))


@given(lines, st.integers(1, 10**7))
def test_a_correction_restores_what_was(lines: list[Line], minor: int):
    wrong = [*lines, line(61, minor, "wrong"), line(62, -minor, "back", "wrong")]
    assert balance(wrong) == balance(lines)
    assert unpaid(wrong) == unpaid(lines)


@given(lines, st.integers(1, 10**7))
def test_a_payment_makes_nothing_newer_unpaid(lines: list[Line], minor: int):
    before, after = unpaid(lines), unpaid([*lines, line(70, -minor)])
    assert [one.line for one in after] == [one.line for one in before][len(before) - len(after) :]


def test_the_oldest_is_paid_first():
    """By hand: 30 + 30 + 30, 40 paid: 20 of the second and the third are open, since the second's day."""
    found = unpaid([line(0, 3000), line(31, 3000), line(62, 3000), line(40, -4000)])
    assert [(one.line.day, one.minor) for one in found] == [
        (DAY + timedelta(days=31), 2000),
        (DAY + timedelta(days=62), 3000),
    ]


def test_a_charge_that_was_taken_back_does_not_eat_what_was_paid_for_another():
    found = unpaid([line(0, 3000, "a"), line(5, 5000, "b"), line(9, -3000, "c", "a")])
    assert [one.line.key for one in found] == ["b"]
    assert found[0].minor == 5000


def test_lines_of_one_day_stay_in_their_order():
    assert [one.minor for one, _ in running([line(1, 5), line(0, 7), line(1, 9)])] == [7, 5, 9]
    assert running([line(0, 7)], opening=10)[0][1] == 17
