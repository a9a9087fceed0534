"""Amounts and days as they are written. Expected texts: CLDR through Babel, looked at once and written down here."""

from datetime import date
from decimal import Decimal

import iso4217
import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.locales import (
    currency_choices,
    day_words,
    figures,
    known,
    locale_choices,
    money_words,
    month_words,
    number_words,
    read_amount,
)
from studio.money import NoAmount

LOCALES = [code for code, _name in locale_choices()]


@pytest.mark.parametrize(
    ("locale", "currency", "minor", "words"),
    [
        ("nb_NO", "NOK", 123450, "1 234,50 kr"),
        ("en_US", "USD", -123450, "-$1,234.50"),
        ("en_GB", "NOK", 123450, "NOK 1,234.50"),
        ("de_DE", "EUR", 123450, "1.234,50 €"),
        ("fr_FR", "EUR", 123450, "1 234,50 €"),
        ("ja_JP", "JPY", 1234, "¥1,234"),
        ("en", "KWD", 1234, "KWD 1.234"),
        ("hu_HU", "HUF", 123450, "1 234,50 Ft"),
        ("no such place", "EUR", 5, "€0.05"),
    ],
)
def test_an_amount_is_written_as_where_the_studio_is(locale: str, currency: str, minor: int, words: str):
    found = money_words(minor, currency, locale).replace("\u00a0", " ").replace("\u202f", " ").replace("￥", "¥")
    assert found == words


@given(st.sampled_from(LOCALES), st.sampled_from(["EUR", "JPY", "KWD", "NOK"]), st.integers(-(10**8), 10**8))
def test_what_is_written_can_be_typed(locale: str, currency: str, minor: int):
    assert read_amount(figures(minor, currency, locale), currency, locale) == minor


@pytest.mark.parametrize(
    ("typed", "locale", "minor"),
    [
        ("12,50", "nb_NO", 1250),
        ("12.50", "nb_NO", 1250),
        ("12.5", "de_DE", 1250),
        ("1.234,50", "en_US", 123450),
        ("1,234.50", "de_DE", 123450),
        ("1,234", "en_US", 123400),
        ("1.234", "de_DE", 123400),
        ("1,23,456", "en_IN", 12345600),
        ("٣", "ar_EG", 300),
        ("EUR 80", "en", 8000),
        (" 80 ", "en", 8000),
        ("1’234.50", "de_CH", 123450),
        ("-3", "en", -300),
    ],
)
def test_an_amount_is_read_however_it_is_typed(typed: str, locale: str, minor: int):
    assert read_amount(typed, "EUR", locale) == minor


@pytest.mark.parametrize("typed", ["", "eighty", "12.505", "1,2345", "--3", "1e3", "12.3.4,5,6", "=1+1", "9" * 40])
def test_what_is_no_amount_is_refused(typed: str):
    with pytest.raises(NoAmount):
        read_amount(typed, "EUR", "en")


def test_three_decimals_where_the_locale_means_them_are_too_many_for_euros():
    with pytest.raises(NoAmount):
        read_amount("1,234", "EUR", "de_DE")
    assert read_amount("1,234", "KWD", "de_DE") == 1234


def test_days_and_numbers_are_the_locales():
    assert day_words(date(2026, 11, 25), "nb_NO") == "25. nov. 2026"
    assert day_words(date(2026, 11, 25), "en_US") == "Nov 25, 2026"
    assert month_words(date(2026, 11, 25), "de_DE") == "November 2026"
    assert number_words(Decimal("12.50"), "de_DE") == "12,5"


def test_the_currencies_on_offer_are_those_of_iso_4217():
    """Against the standard's list. The Bulgarian lev ended on 1 January 2026; CLDR's data are older than that."""
    offered = {code for code, _name in currency_choices()}
    listed = {one.code for one in iso4217.Currency}
    assert offered - listed <= {"BGN"}
    assert {"EUR", "NOK", "JPY", "KWD", "USD", "INR"} <= offered


def test_a_locale_that_is_offered_is_one_that_babel_has():
    assert all(str(known(code)).startswith(code.partition("_")[0]) for code in ("nb_NO", "fi_FI", "pt_BR", "en_IN"))
    assert {"nb_NO", "fi_FI", "pt_BR", "en_IN", "en"} <= set(LOCALES)
