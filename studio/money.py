"""Money as whole numbers of a currency's smallest unit, so that no cent is ever made or lost by rounding.

Amounts are `int` in minor units (cents, øre; yen themselves; fils). Parts of an amount are `Fraction`s and are rounded
once, at the end, halves away from zero (common practice of tuition; local law may ask for another rule).
"""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction

# Decimal places by ISO 4217, where they are not two.
OTHER_PLACES = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
PLACES = {currency: count for count, currencies in OTHER_PLACES.items() for currency in currencies.split()}

# What nobody pays for lessons: more than this in one entry is a slip of the keyboard. Where the unit is small (common
# practice, from memory) a thousand times as much.
MOST = 1_000_000
SMALL = "CLP COP GNF IDR IQD IRR ISK JPY KHR KRW LAK LBP MGA MMK MNT NGN PYG RWF SYP TZS UGX UZS VND"
SMALL_UNITS = frozenset(SMALL.split())


class NoAmount(ValueError):
    """A number that is no amount of this currency: too many decimal places, or beyond all measure."""


def places(currency: str) -> int:
    """How many decimal places an amount has (ISO 4217)."""
    return PLACES.get(currency, 2)


def most(currency: str) -> Decimal:
    """The largest amount that is taken for one, in units of the currency."""
    return Decimal(MOST * 1000 if currency in SMALL_UNITS else MOST)


def to_minor(amount: Decimal, currency: str) -> int:
    """12.50 EUR -> 1250. Raises `NoAmount` for 12.505 EUR, for what is no number, and for what is absurd."""
    if not amount.is_finite() or abs(amount) > most(currency):
        raise NoAmount(str(amount))
    minor = amount.scaleb(places(currency))
    if minor != minor.to_integral_value():
        raise NoAmount(str(amount))
    return int(minor)


def to_amount(minor: int, currency: str) -> Decimal:
    """1250 in EUR -> 12.50, with the places of the currency."""
    return Decimal(minor).scaleb(-places(currency))


def rounded(value: Fraction) -> int:
    """The nearest whole number; a half goes away from zero."""
    whole = (2 * abs(value.numerator) + value.denominator) // (2 * value.denominator)
    return whole if value >= 0 else -whole


def part_of(minor: int, share: Fraction, percent_off: Decimal = Decimal(0)) -> int:
    """A share of an amount (1 for all of it), less a discount in percent; rounded once."""
    return rounded(minor * share * (100 - Fraction(percent_off)) / 100)


def allocate(minor: int, weights: Sequence[Fraction | int]) -> list[int]:
    """Divides an amount over parts in proportion to their weights; the parts sum to the amount.

    Largest remainder method: each part gets its whole units, and what is left goes one by one to the parts with the
    largest remainders, the earlier first among equals. Raises `ValueError` where the weights are negative or all zero.
    """
    total = Fraction(sum(weights))
    if total <= 0 or any(weight < 0 for weight in weights):
        raise ValueError("weights must not be negative, and one must be above zero")
    sign = -1 if minor < 0 else 1
    exact = [abs(minor) * Fraction(weight) / total for weight in weights]
    parts = [share.numerator // share.denominator for share in exact]
    left = abs(minor) - sum(parts)
    by_remainder = sorted(range(len(exact)), key=lambda index: (parts[index] - exact[index], index))
    for index in by_remainder[:left]:
        parts[index] += 1
    return [sign * part for part in parts]


def tax_within(minor: int, rate: Decimal) -> int:
    """The tax in an amount that includes it, at a rate in percent. Whether there is any is for local law to decide."""
    return rounded(minor * Fraction(rate) / (100 + Fraction(rate)))


def days_in(first: date, last: date) -> int:
    """From the first to the last day, both counted; none where the last is before the first."""
    return max(0, (last - first).days + 1)


def share_of_days(period: tuple[date, date], part: tuple[date, date]) -> Fraction:
    """How much of a period a part of it is, by days, both ends included. Raises `ValueError` for a part outside."""
    if part[0] < period[0] or part[1] > period[1]:
        raise ValueError("the part lies outside of the period")
    return Fraction(days_in(*part), days_in(*period))
