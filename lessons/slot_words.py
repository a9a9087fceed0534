"""A slot in words: how often, and until when."""

from __future__ import annotations

from datetime import datetime, time

from django.utils.dates import MONTHS, WEEKDAYS
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

from lessons.models import Slot
from lessons.rules import DAILY, MONTHLY, WEEKLY, YEARLY, Rule, read_rule


def slot_in_words(slot: Slot) -> str:
    """ "every second week on Tuesday, until 30 June 2027, in terms only" """
    if not slot.rule:
        return _("once, on %(day)s") % {"day": date_format(slot.first_day, "l j F Y")}
    rule = read_rule(slot.rule)
    parts = [how_often(rule, slot), ending(rule)]
    if slot.in_terms:
        parts.append(_("in terms only"))
    return ", ".join(filter(None, parts))


def how_often(rule: Rule, slot: Slot) -> str:
    if rule.by_position or rule.by_week or rule.by_year_day or (rule.by_month and rule.freq != YEARLY):
        return _("by the rule %(rule)s") % {"rule": slot.rule}
    return f"{every(rule)} {on_days(rule, slot)}".strip()


def every(rule: Rule) -> str:
    count = rule.interval
    if count == 1:
        words = {DAILY: _("every day"), WEEKLY: _("every week"), MONTHLY: _("every month"), YEARLY: _("every year")}
        return words[rule.freq]
    if count == 2:
        words = {
            DAILY: _("every second day"),
            WEEKLY: _("every second week"),
            MONTHLY: _("every second month"),
            YEARLY: _("every second year"),
        }
        return words[rule.freq]
    words = {
        DAILY: _("every %(count)s days"),
        WEEKLY: _("every %(count)s weeks"),
        MONTHLY: _("every %(count)s months"),
        YEARLY: _("every %(count)s years"),
    }
    return words[rule.freq] % {"count": count}


def on_days(rule: Rule, slot: Slot) -> str:
    """ "on Monday and Thursday", "on the last Friday", "on the 15th" """
    if rule.by_day:
        days = [weekday_in_words(number, weekday) for number, weekday in rule.by_day]
        words = _("on %(days)s") % {"days": listed(days)}
    elif rule.freq == WEEKLY:
        words = _("on %(days)s") % {"days": WEEKDAYS[slot.first_day.weekday()]}
    elif rule.freq in (MONTHLY, YEARLY):
        numbers = rule.by_month_day or (slot.first_day.day,)
        words = _("on %(days)s") % {"days": listed([month_day_in_words(number) for number in numbers])}
    else:
        words = ""
    months = rule.by_month or ((slot.first_day.month,) if rule.freq == YEARLY and not rule.by_day else ())
    if months:
        words += " " + _("in %(months)s") % {"months": listed([str(MONTHS[month]) for month in months])}
    return words.strip()


def weekday_in_words(number: int, weekday: int) -> str:
    if not number:
        return str(WEEKDAYS[weekday])
    if number == -1:
        return _("the last %(weekday)s") % {"weekday": WEEKDAYS[weekday]}
    if number < 0:
        return _("%(weekday)s number %(number)s from the end") % {"weekday": WEEKDAYS[weekday], "number": -number}
    ordinals = {1: _("the first"), 2: _("the second"), 3: _("the third"), 4: _("the fourth"), 5: _("the fifth")}
    return f"{ordinals.get(number, f'{number}.')} {WEEKDAYS[weekday]}"


def month_day_in_words(number: int) -> str:
    if number == -1:
        return _("the last day")
    if number < 0:
        return _("day %(number)s from the end") % {"number": -number}
    return pgettext("day of the month", "day %(number)s") % {"number": number}


def listed(words: list[str]) -> str:
    words = [str(word) for word in words]
    if len(words) == 1:
        return words[0]
    return _("%(first)s and %(last)s") % {"first": ", ".join(words[:-1]), "last": words[-1]}


def ending(rule: Rule) -> str:
    if rule.count:
        return ngettext("%(count)s lesson", "%(count)s lessons", rule.count) % {"count": rule.count}
    if rule.until:
        return _("until %(day)s") % {"day": date_format(datetime.combine(rule.until, time()), "j F Y")}
    return ""
