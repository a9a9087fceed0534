"""Money in minor units. ISO 4217 is checked against its own list, as the package iso4217 carries it."""

from datetime import date
from decimal import Decimal
from fractions import Fraction

import iso4217
import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.money import (
    NoAmount,
    allocate,
    part_of,
    places,
    rounded,
    share_of_days,
    tax_within,
    to_amount,
    to_minor,
)

amounts = st.integers(-(10**12), 10**12)
weights = st.lists(st.fractions(0, 1000, max_denominator=97), min_size=1, max_size=12).filter(any)


def test_every_currency_has_the_places_of_iso_4217():
    listed = {one.code: one.exponent for one in iso4217.Currency if one.exponent is not None}
    assert len(listed) > 150
    assert {code: places(code) for code in listed} == listed


def test_yen_have_no_decimals_and_kuwaiti_dinars_three():
    """ISO 4217, read above; spelled out here."""
    assert (places("JPY"), places("EUR"), places("KWD")) == (0, 2, 3)


@pytest.mark.parametrize(
    ("amount", "currency", "minor"),
    [("12.5", "EUR", 1250), ("12", "JPY", 12), ("1.234", "KWD", 1234), ("-0.01", "NOK", -1), ("1E+2", "USD", 10000)],
)
def test_an_amount_becomes_minor_units(amount: str, currency: str, minor: int):
    assert to_minor(Decimal(amount), currency) == minor


@pytest.mark.parametrize(
    ("amount", "currency"),
    [("12.505", "EUR"), ("0.5", "JPY"), ("NaN", "EUR"), ("Infinity", "EUR"), ("1000000.01", "EUR"), ("-1E+30", "JPY")],
)
def test_what_is_no_amount_of_the_currency_is_refused(amount: str, currency: str):
    with pytest.raises(NoAmount):
        to_minor(Decimal(amount), currency)


@given(st.integers(-(10**8), 10**8), st.sampled_from(["EUR", "JPY", "KWD"]))
def test_there_and_back_is_the_same(minor: int, currency: str):
    if abs(to_amount(minor, currency)) <= 1_000_000:
        assert to_minor(to_amount(minor, currency), currency) == minor


@given(amounts, weights)
def test_an_allocation_loses_no_cent(minor: int, weights: list[Fraction]):
    assert sum(allocate(minor, weights)) == minor


@given(amounts, weights)
def test_no_part_is_a_whole_cent_away_from_its_exact_share(minor: int, weights: list[Fraction]):
    """The quota rule, which the largest remainder method keeps (common knowledge of apportionment)."""
    for part, weight in zip(allocate(minor, weights), weights, strict=True):
        assert abs(part - minor * Fraction(weight) / sum(weights)) < 1


@given(amounts, st.integers(1, 40))
def test_equal_parts_differ_by_one_cent_at_most(minor: int, count: int):
    parts = allocate(minor, [1] * count)
    assert max(parts) - min(parts) <= 1


def test_what_is_left_goes_to_the_largest_remainders():
    """By hand: 100 over 1:2:4 is 14.29, 28.57, 57.14; the one that is left goes to 28.57."""
    assert allocate(100, [1, 2, 4]) == [14, 29, 57]
    assert allocate(1000_00, [1, 1, 1]) == [33334, 33333, 33333]
    assert allocate(-100, [1, 2, 4]) == [-14, -29, -57]


@pytest.mark.parametrize("weights", [[], [0, 0], [1, -1], [-1]])
def test_weights_that_divide_nothing_are_refused(weights: list[int]):
    with pytest.raises(ValueError, match="weights"):
        allocate(100, weights)


def test_halves_go_away_from_zero():
    assert [rounded(Fraction(half, 2)) for half in (1, 3, 5, -1, -3)] == [1, 2, 3, -1, -2]
    assert rounded(Fraction(249, 100)) == 2


def test_a_part_with_a_discount_is_rounded_once():
    """By hand: 80.00, 13 of 30 days, 10 % off: 31.20."""
    assert part_of(8000, Fraction(13, 30), Decimal(10)) == 3120
    assert part_of(8000, Fraction(1), Decimal(100)) == 0


@given(st.integers(0, 10**8), st.integers(1, 30))
def test_the_two_parts_of_a_month_are_the_month_to_within_a_cent(minor: int, day: int):
    month = (date(2026, 11, 1), date(2026, 11, 30))
    first = part_of(minor, share_of_days(month, (month[0], date(2026, 11, day))))
    second = part_of(minor, 1 - share_of_days(month, (month[0], date(2026, 11, day))))
    assert abs(first + second - minor) <= 1


def test_the_share_of_a_month_counts_both_ends():
    assert share_of_days((date(2026, 2, 1), date(2026, 2, 28)), (date(2026, 2, 15), date(2026, 2, 28))) == Fraction(
        1, 2
    )
    with pytest.raises(ValueError, match="outside"):
        share_of_days((date(2026, 2, 1), date(2026, 2, 28)), (date(2026, 1, 31), date(2026, 2, 28)))


def test_the_tax_within_an_amount():
    """By hand: 125.00 with 25 % in it has 25.00; 119 with 19 % has 19."""
    assert tax_within(12500, Decimal(25)) == 2500
    assert tax_within(119, Decimal("19.00")) == 19
    assert tax_within(-12500, Decimal(25)) == -2500
