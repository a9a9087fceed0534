"""Amounts and days as written where the studio is: `{{ row.minor|money:studio }}`, `{{ row.day|day:studio }}`."""

from datetime import date
from decimal import Decimal

from django import template

from studio.locales import day_words, money_words, month_words, number_words
from studio.locales import figures as figures_words
from studio.models import Charge, Payment, Studio
from studio.tuition.invoicing import entry_words

register = template.Library()


@register.filter
def money(minor: int, studio: Studio) -> str:
    return money_words(minor, studio.currency, studio.locale)


@register.filter
def amount(minor: int, studio: Studio) -> str:
    """Without the currency, for columns whose head names it; nothing for nothing."""
    return figures(minor, studio) if minor else ""


@register.filter
def figures(minor: int, studio: Studio) -> str:
    """The same, with 0.00 for nothing."""
    return figures_words(minor, studio.currency, studio.locale)


@register.filter
def percent(rate: Decimal, studio: Studio) -> str:
    return number_words(rate, studio.locale)


@register.filter
def day(value: date, studio: Studio) -> str:
    return day_words(value, studio.locale)


@register.filter
def month(value: date, studio: Studio) -> str:
    return month_words(value, studio.locale)


@register.filter
def entry(value: Charge | Payment) -> str:
    return entry_words(value)
