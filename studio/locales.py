"""Amounts, numbers and dates as they are written where the studio is (CLDR, through Babel)."""

import copy
import re
from datetime import date
from decimal import Decimal, InvalidOperation
from functools import lru_cache

from babel import Locale, UnknownLocaleError
from babel.dates import format_date
from babel.localedata import locale_identifiers
from babel.numbers import NumberPattern, format_decimal, get_decimal_symbol, get_territory_currencies

from studio.money import NoAmount, places, to_amount, to_minor

BARE = "en"
NO_BREAK = "\u00a0"
UNSEEN = re.compile(r"[\s'’\u2009\u202f\u200e\u200f\u061c]")
GROUPED = re.compile(r"-?(\d+|\d{1,3}(([.,])\d{2,3}(\3\d{2,3})*))")  # by thousands, or by hundreds as in India
SIGNS = str.maketrans({"٫": ".", "،": ",", "٬": ",", "\u2212": "-"})
LETTER_AT_DIGIT = re.compile(r"(?<=[^\W\d_])(?=\d)|(?<=\d)(?=[^\W\d_])")


@lru_cache(maxsize=64)
def known(identifier: str) -> Locale:
    """The locale of that name; plain English for one that CLDR does not have."""
    try:
        return Locale.parse(identifier)
    except (UnknownLocaleError, ValueError):
        return Locale.parse(BARE)


@lru_cache(maxsize=64)
def money_pattern(identifier: str, count: int) -> NumberPattern:
    """The locale's way to write an amount, with so many decimal places: ISO 4217 has the word on those, not CLDR."""
    pattern = copy.copy(known(identifier).currency_formats["standard"])
    pattern.frac_prec = (count, count)
    return pattern


def money_words(minor: int, currency: str, identifier: str) -> str:
    """ "1 234,50 kr" for 123450 NOK in nb_NO. A code that would touch the figures gets a blank between."""
    amount = to_amount(minor, currency)
    pattern = money_pattern(identifier, places(currency))
    words = pattern.apply(amount, known(identifier), currency=currency, currency_digits=False)
    return LETTER_AT_DIGIT.sub(NO_BREAK, words)


@lru_cache(maxsize=64)
def figures_pattern(identifier: str, count: int) -> NumberPattern:
    pattern = copy.copy(known(identifier).decimal_formats[None])
    pattern.frac_prec = (count, count)
    return pattern


def figures(minor: int, currency: str, identifier: str) -> str:
    """ "1 234,50" for 123450 NOK in nb_NO: an amount in a column whose head names the currency."""
    pattern = figures_pattern(identifier, places(currency))
    return pattern.apply(to_amount(minor, currency), known(identifier))


def read_amount(text: str, currency: str, identifier: str) -> int:
    """What somebody typed, in minor units: "1 234,50", "1.234,50", "1234.5" are the same.

    The last of point and comma is taken for the decimal sign. One alone before exactly three digits is taken as the
    locale takes it, since "1,234" means two things. Raises `NoAmount`.
    """
    bare = UNSEEN.sub("", text.replace(currency, "")).translate(SIGNS)
    signs = [char for char in bare if char in ".,"]
    decimal = signs[-1] if signs else ""
    usual = get_decimal_symbol(known(identifier)).translate(SIGNS)
    groups = len(signs) == 1 and re.search(r"[.,]\d{3}$", bare) and decimal != usual
    if groups or signs.count(decimal) > 1:
        decimal = ""
    whole, _, part = bare.rpartition(decimal) if decimal else (bare, "", "")
    if not GROUPED.fullmatch(whole) or not re.fullmatch(r"\d*", part):
        raise NoAmount(text)
    try:
        return to_minor(Decimal(f"{re.sub('[.,]', '', whole)}.{part or 0}"), currency)
    except InvalidOperation:
        raise NoAmount(text) from None


def number_words(number: Decimal, identifier: str) -> str:
    """ "12,5" for 12.50 in de_DE."""
    return format_decimal(number.normalize(), locale=known(identifier))


def day_words(day: date, identifier: str) -> str:
    """ "25. nov. 2026" in nb_NO."""
    return format_date(day, "medium", locale=known(identifier))


def month_words(day: date, identifier: str) -> str:
    """ "November 2026" in en."""
    return format_date(day, "LLLL y", locale=known(identifier))


@lru_cache(maxsize=1)
def locale_choices() -> list[tuple[str, str]]:
    """Every language with its country, by name in English. Their own data are not loaded for that."""
    english = Locale.parse(BARE)
    found = []
    for identifier in locale_identifiers():
        language, _, territory = identifier.partition("_")
        if language in english.languages and len(territory) == 2 and territory in english.territories:
            found.append((identifier, f"{english.languages[language]} ({english.territories[territory]})"))
    return [(BARE, "English"), *sorted(found, key=lambda choice: choice[1])]


@lru_cache(maxsize=1)
def currency_choices() -> list[tuple[str, str]]:
    """The currencies that are paid with somewhere today, by their codes (ISO 4217), with their names in English."""
    english = Locale.parse(BARE)
    territories = [code for code in english.territories if len(code) == 2 and code.isalpha()]
    codes = {code for territory in territories for code in get_territory_currencies(territory, tender=True)}
    return [(code, f"{code} – {english.currencies.get(code, code)}") for code in sorted(codes)]
