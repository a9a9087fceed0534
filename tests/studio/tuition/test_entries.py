"""Nothing that is written is ever changed: neither by the verbs, nor through the models, nor in the database."""

from datetime import date

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from studio.models import Charge, Payment, WrittenOnce
from studio.tuition import entries
from studio.tuition.accounts import NotPossible
from studio.tuition.balances import ledger_of, state_of
from studio.tuition.invoicing import make_invoice
from tests.studio.tuition.make_tuition import SEPTEMBER, account, charge, payment

LATER = date(2030, 1, 1)


def test_a_charge_and_a_payment_make_the_balance(cast):
    row = account(cast.studio)
    charge(row, 5000)
    payment(row, 3000)
    assert state_of(row, on=LATER).minor == 2000
    assert state_of(row, on=date(2020, 8, 31)).minor == 0


def test_the_same_form_sent_twice_is_one_entry(cast):
    row = account(cast.studio)
    first = payment(row, once="the same")
    second = payment(row, once="the same")
    assert first.pk == second.pk
    assert state_of(row, on=LATER).minor == -5000


def test_a_refund_is_an_entry_of_its_own(cast):
    row = account(cast.studio)
    payment(row, 5000)
    back = entries.refund(account=row, minor=2000, method="cash", day=SEPTEMBER, once="back")
    assert (back.minor, back.is_refund) == (-2000, True)
    assert row.payments.count() == 2
    assert state_of(row, on=LATER).minor == -3000


@pytest.mark.parametrize("minor", [0, -1])
def test_amounts_that_are_none_are_refused(cast, minor: int):
    row = account(cast.studio)
    for verb in (charge, payment):
        with pytest.raises(NotPossible, match="above zero"):
            verb(row, minor)
    with pytest.raises(NotPossible, match="above zero"):
        entries.refund(account=row, minor=minor, method="cash", day=SEPTEMBER, once="x")
    assert not Charge.objects.exists()


def test_an_adjustment_may_take_off(cast):
    row = account(cast.studio)
    charge(row, -500, kind="adjustment")
    assert state_of(row, on=LATER).minor == -500


def test_a_recital_for_several_is_divided_without_losing_a_cent(cast):
    one, two = account(cast.studio), account(cast.studio, name="Menon")
    made = entries.charge_several(
        students=[(cast.oda, one), (cast.ilmari, one), (cast.ravi, two)],
        kind="recital",
        minor=10000,
        text="Hall",
        day=SEPTEMBER,
        once="hall",
        divided=True,
    )
    assert [row.minor for row in made] == [3334, 3333, 3333]
    assert state_of(one, on=LATER).minor + state_of(two, on=LATER).minor == 10000


def test_a_division_in_which_somebody_pays_nothing_charges_nobody(cast):
    row = account(cast.studio)
    with pytest.raises(NotPossible):
        entries.charge_several(
            students=[(cast.oda, row), (cast.ilmari, row)],
            kind="recital",
            minor=1,
            text="Hall",
            day=SEPTEMBER,
            once="hall",
            divided=True,
        )
    assert not Charge.objects.exists()


def test_what_is_taken_back_stays_with_the_entry_that_takes_it_back(cast):
    row = account(cast.studio)
    wrong, right = charge(row, 5000), charge(row, 700)
    back = entries.take_back_charge(charge=wrong, day=date(2020, 9, 5))
    assert (back.minor, back.reverses, back.kind) == (-5000, wrong, "adjustment")
    assert state_of(row, on=LATER).minor == 700
    for entry in (wrong, back):
        with pytest.raises(NotPossible, match="already"):
            entries.take_back_charge(charge=entry, day=date(2020, 9, 6))
    assert [line.entry.pk for line in ledger_of(row).rows] == [wrong.pk, right.pk, back.pk]


def test_a_payment_and_a_refund_can_be_taken_back(cast):
    row = account(cast.studio)
    paid = payment(row, 5000)
    given = entries.refund(account=row, minor=1000, method="cash", day=SEPTEMBER, once="back")
    entries.take_back_payment(payment=paid, day=SEPTEMBER)
    entries.take_back_payment(payment=given, day=SEPTEMBER)
    assert state_of(row, on=LATER).minor == 0
    assert row.payments.count() == 4


steps = st.lists(
    st.one_of(
        st.tuples(st.sampled_from(["charge", "pay", "refund"]), st.integers(1, 10**6)),
        st.tuples(st.just("take back"), st.integers(0, 50)),
    ),
    max_size=8,
)


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps)
def test_the_balance_is_the_sum_of_the_entries_whatever_is_done(cast, steps: list[tuple[str, int]]):
    row = account(cast.studio)
    expected, standing = 0, []
    for number, (what, value) in enumerate(steps):
        once = f"{row.pk}-{number}"
        if what == "charge":
            standing.append(charge(row, value, once=once))
            expected += value
        elif what == "pay":
            standing.append(payment(row, value, once=once))
            expected -= value
        elif what == "refund":
            standing.append(entries.refund(account=row, minor=value, method="cash", day=SEPTEMBER, once=once))
            expected += value
        elif standing:
            entry = standing.pop(value % len(standing))
            if isinstance(entry, Charge):
                entries.take_back_charge(charge=entry, day=SEPTEMBER)
                expected -= entry.minor
            else:
                entries.take_back_payment(payment=entry, day=SEPTEMBER)
                expected += entry.minor
    assert state_of(row, on=LATER).minor == expected == ledger_of(row).closing


def test_an_entry_cannot_be_saved_again_nor_updated(cast):
    row = charge(account(cast.studio))
    row.minor = 1
    with pytest.raises(WrittenOnce):
        row.save()
    with pytest.raises(WrittenOnce):
        Charge.objects.update(minor=1)
    with pytest.raises(WrittenOnce):
        Payment.objects.filter(pk=1).update(minor=1)


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("studio_charge", "minor = 1"),
        ("studio_charge", "day = '2020-01-01'"),
        ("studio_payment", "minor = 1"),
        ("studio_payment", "account_id = account_id + 1"),
        ("studio_invoice", "number = 7"),
        ("studio_invoice", "content = '{}'"),
    ],
)
def test_the_database_itself_refuses_to_change_an_entry(cast, table: str, change: str):
    row = account(cast.studio)
    charge(row)
    payment(row)
    make_invoice(account=row, day=SEPTEMBER)
    with pytest.raises(DatabaseError, match="stands"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"UPDATE {table} SET {change}")


def test_an_entry_outlives_the_login_of_who_wrote_it(cast):
    row = charge(account(cast.studio), by=cast.birger.user)
    cast.birger.user.delete()
    assert Charge.objects.get(pk=row.pk).written_by is None


@pytest.mark.parametrize(("minor", "kind"), [(0, "adjustment"), (-5, "tuition"), (-5, "recital"), (0, "materials")])
def test_the_database_holds_no_charge_below_zero_but_adjustments(cast, minor: int, kind: str):
    row = account(cast.studio)
    with pytest.raises(IntegrityError), transaction.atomic():
        Charge.objects.create(
            studio=cast.studio, account=row, minor=minor, kind=kind, currency="EUR", day=SEPTEMBER, text="x", once="x"
        )


@pytest.mark.parametrize(("minor", "is_refund"), [(0, False), (-5, False), (5, True), (0, True)])
def test_the_database_holds_no_payment_below_zero_but_refunds(cast, minor: int, is_refund: bool):
    row = account(cast.studio)
    with pytest.raises(IntegrityError), transaction.atomic():
        Payment.objects.create(
            studio=cast.studio, account=row, minor=minor, is_refund=is_refund, currency="EUR", day=SEPTEMBER, once="x"
        )
