"""On which days a rule falls: RFC 5545, section 3.3.10.

Pure: days in, days out. Days are counted as proleptic Gregorian ordinals (`date.toordinal`) inside, because whole
numbers are quick.

What the standard leaves open is taken thus: a rule's days begin at its first matching day on or after the first day,
and COUNT counts from there; BYWEEKNO without BYDAY means the first day's weekday; a week belongs to the calendar year
in which the day lies.
"""

from __future__ import annotations

import calendar
from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from itertools import chain, pairwise
from zoneinfo import ZoneInfo

from lessons.rules import DAILY, MONTHLY, WEEKLY, YEARLY, BadRule, Rule, read_rule, write_rule

__all__ = ["BadRule", "Rule", "days", "ended", "first_fall", "moment_of", "moments_of", "read_rule", "write_rule"]

LONGEST = 366 * 60  # days of one window
SEARCHED = 366 * 40  # days in which a rule has to fall at least once


# Moments


def moment_of(day: date, at: time, zone: ZoneInfo) -> datetime:
    """The moment, in UTC, at which a wall clock in the zone shows this time.

    In the hour that is skipped it is the moment that the offset before the gap gives, so the lesson falls as much later
    on the wall as the clock jumps; in the hour that comes twice, the first (RFC 5545, section 3.3.5).
    """
    return datetime.combine(day, at, zone).astimezone(UTC)


def moments_of(found: Iterable[date], at: time, zone: ZoneInfo) -> Iterator[datetime]:
    """`moment_of` each of some days, quicker where many lie in one year."""
    year, first, here = 0, 0, offsets(zone, 1970)
    for day in found:
        if day.year != year:
            year, here = day.year, offsets(zone, day.year)
            first = date(year, 1, 1).toordinal()
        offset = here[day.toordinal() - first]
        yield moment_of(day, at, zone) if offset is None else datetime.combine(day, at, UTC) - offset


@lru_cache(maxsize=512)
def offsets(zone: ZoneInfo, year: int) -> tuple[timedelta | None, ...]:
    """The offset from UTC of each day of a year, None where it changes in the course of the day. Asking the zone for
    every lesson is what takes longest in expanding a rule."""
    first = date(year, 1, 1).toordinal()
    length = 366 if calendar.isleap(year) else 365
    starts = [midnight(first + number, zone) for number in range(length + 1)]
    return tuple(here if here == after else None for here, after in pairwise(starts))


def midnight(day: int, zone: ZoneInfo) -> timedelta | None:
    return datetime.combine(date.fromordinal(day), time(), zone).utcoffset()


def last_day(rule: Rule, at: time, zone: ZoneInfo) -> int:
    """The ordinal of the last day on which a lesson at this time still begins by the rule's end."""
    if rule.until is None:
        return date.max.toordinal()
    if rule.until_at is None:
        return rule.until.toordinal()
    if rule.until_at.tzinfo is None:
        return rule.until_at.toordinal() - (at > rule.until_at.time())
    day = rule.until_at.astimezone(zone).toordinal() + 1
    while moment_of(date.fromordinal(day), at, zone) > rule.until_at:
        day -= 1
    return day


# The days of a rule


def first_fall(rule: Rule, first_day: date, *, at: time = time(), zone: ZoneInfo | None = None) -> date:
    """The first day of the rule. Raises `BadRule` if it does not fall within forty years."""
    found = next(days(rule, first_day, first_day, within(first_day, SEARCHED), at=at, zone=zone), None)
    if found is None:
        raise BadRule("This rule never falls.")
    return found


def within(day: date, many: int) -> date:
    return date.fromordinal(min(day.toordinal() + many, date.max.toordinal() - 400))


def days(
    rule: Rule, first_day: date, first: date, last: date, *, at: time = time(), zone: ZoneInfo | None = None
) -> Iterator[date]:
    """The days of a rule that begins on `first_day`, from `first` to `last`, both included, in order.

    `at` and `zone` (UTC if not given) are looked at only for a rule that ends at a moment. Lazy, and bounded by `last`
    whatever the rule. Raises `ValueError` for a window of more than sixty years.
    """
    if (last - first).days > LONGEST:
        raise ValueError("a window of more than sixty years")
    start, low = first_day.toordinal(), max(first, first_day).toordinal()
    high = min(last.toordinal(), last_day(rule, at, zone or ZoneInfo("UTC")))
    # What is counted has to be counted from the start; everything else can begin at the window.
    begin = start if rule.count else low
    left = rule.count or 0
    for period in periods(filled(rule, first_day), start, begin, high):
        for day in period:
            if day > high:
                return
            if day >= low:
                yield date.fromordinal(day)
            if left and day >= start:
                left -= 1
                if not left:
                    return


def filled(rule: Rule, first_day: date) -> Filter:
    """The rule with what it does not say taken from its first day."""
    month, month_day, by_day = rule.by_month, rule.by_month_day, rule.by_day
    if rule.freq == WEEKLY and not by_day:
        by_day = ((0, first_day.weekday()),)
    if rule.freq == MONTHLY and not (by_day or month_day):
        month_day = (first_day.day,)
    if rule.freq == YEARLY and rule.by_week and not (by_day or month_day or rule.by_year_day):
        by_day = ((0, first_day.weekday()),)
    if rule.freq == YEARLY and not (by_day or month_day or rule.by_year_day or rule.by_week):
        month, month_day = month or (first_day.month,), (first_day.day,)
    return Filter(rule, frozenset(month), month_day, by_day)


@dataclass(frozen=True)
class Filter:
    """A rule ready to be followed."""

    rule: Rule
    months: frozenset[int]
    month_days: tuple[int, ...]
    by_day: tuple[tuple[int, int], ...]
    plain: frozenset[int] = field(init=False)
    numbered: tuple[tuple[int, int], ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "plain", frozenset(day for number, day in self.by_day if not number))
        object.__setattr__(self, "numbered", tuple(pair for pair in self.by_day if pair[0]))

    def lets(self, day: int) -> bool:
        """Whether a day has one of the months, days of the month and weekdays; numbered weekdays are not looked at."""
        if self.months or self.month_days:
            here = date.fromordinal(day)
            if self.months and here.month not in self.months:
                return False
            if self.month_days:
                length = calendar.monthrange(here.year, here.month)[1]
                if here.day not in self.month_days and here.day - length - 1 not in self.month_days:
                    return False
        return not self.plain or (day - 1) % 7 in self.plain


def periods(rule: Filter, start: int, begin: int, high: int) -> Iterator[list[int]]:
    """The days of each period in order, BYSETPOS applied, from the one that holds `begin` on; none after `high`."""
    walk = {DAILY: daily, WEEKLY: weekly, MONTHLY: monthly, YEARLY: yearly}[rule.rule.freq]
    positions = rule.rule.by_position
    for found in walk(rule, start, begin, high):
        if not positions:
            yield found
            continue
        many = len(found)
        places = (position - (position > 0) for position in positions)
        yield [found[place] for place in sorted({place % many for place in places if -many <= place < many})]


def daily(rule: Filter, start: int, begin: int, high: int) -> Iterator[list[int]]:
    step = rule.rule.interval
    for day in range(start + max(0, begin - start) // step * step, high + 1, step):
        yield [day] if rule.lets(day) else []


def weekly(rule: Filter, start: int, begin: int, high: int) -> Iterator[list[int]]:
    step = 7 * rule.rule.interval
    week = start - (start - 1 - rule.rule.week_start) % 7
    offsets = sorted((day - rule.rule.week_start) % 7 for day in rule.plain)
    first = week + max(0, begin - week) // step * step
    if not rule.months and not rule.rule.by_position:
        # By far the most frequent rules: all their weeks at once, which is quick and bounded by `high`.
        yield sorted(chain.from_iterable(range(first + offset, high + 1, step) for offset in offsets))
        return
    for monday in range(first, high + 1, step):
        found = [monday + offset for offset in offsets]
        yield [day for day in found if rule.lets(day)] if rule.months else found


def monthly(rule: Filter, start: int, begin: int, high: int) -> Iterator[list[int]]:
    step = rule.rule.interval
    number, goal = months_of(start), months_of(begin)
    for month in range(number + max(0, goal - number) // step * step, months_of(high) + 1, step):
        if not rule.months or month % 12 + 1 in rule.months:
            yield days_of_month(rule, month // 12, month % 12 + 1)
        else:
            yield []


def months_of(day: int) -> int:
    here = date.fromordinal(day)
    return here.year * 12 + here.month - 1


def days_of_month(rule: Filter, year: int, month: int) -> list[int]:
    length = calendar.monthrange(year, month)[1]
    first = date(year, month, 1).toordinal()
    if rule.month_days:
        numbers = {day if day > 0 else length + 1 + day for day in rule.month_days}
        found = sorted(first + number - 1 for number in numbers if 1 <= number <= length)
    else:
        found = list(range(first, first + length))
    return by_weekday(rule, found, first, length)


def by_weekday(rule: Filter, found: list[int], first: int, length: int) -> list[int]:
    """Those days whose weekday the rule names, or whose numbered weekday in the span from `first`."""
    if not rule.by_day:
        return found
    named = {one for one in (nth(first, length, *pair) for pair in rule.numbered) if one}
    return [day for day in found if (day - 1) % 7 in rule.plain or day in named]


def nth(first: int, length: int, number: int, weekday: int) -> int:
    """The ordinal of the nth such weekday in a span, from its end if negative; 0 if there is none."""
    last = first + length - 1
    if number > 0:
        day = first + (weekday - (first - 1)) % 7 + 7 * (number - 1)
    else:
        day = last - ((last - 1) - weekday) % 7 + 7 * (number + 1)
    return day if first <= day <= last else 0


def yearly(rule: Filter, start: int, begin: int, high: int) -> Iterator[list[int]]:
    step = rule.rule.interval
    year, goal = date.fromordinal(start).year, date.fromordinal(begin).year
    for here in range(year + max(0, goal - year) // step * step, date.fromordinal(high).year + 1, step):
        yield days_of_year(rule, here)


def days_of_year(rule: Filter, year: int) -> list[int]:
    first, length = date(year, 1, 1).toordinal(), 366 if calendar.isleap(year) else 365
    in_weeks_or_days = bool(rule.rule.by_week or rule.rule.by_year_day)
    if rule.months and not in_weeks_or_days:
        return list(chain.from_iterable(days_of_month(rule, year, month) for month in sorted(rule.months)))
    if rule.month_days and not in_weeks_or_days and not rule.numbered:
        return list(chain.from_iterable(days_of_month(rule, year, month) for month in range(1, 13)))
    found = list(range(first, first + length))
    if rule.rule.by_year_day:
        numbers = {day if day > 0 else length + 1 + day for day in rule.rule.by_year_day}
        found = sorted(first + number - 1 for number in numbers if 1 <= number <= length)
    if rule.rule.by_week:
        found = [day for day in found if in_week(day, rule.rule.by_week, rule.rule.week_start)]
    if rule.months or rule.month_days:
        bare = Filter(rule.rule, rule.months, rule.month_days, ())
        found = [day for day in found if bare.lets(day)]
    if rule.numbered and rule.months:
        spans = [
            (date(year, month, 1).toordinal(), calendar.monthrange(year, month)[1]) for month in sorted(rule.months)
        ]
        return [day for span, long in spans for day in by_weekday(rule, cut(found, span, span + long), span, long)]
    return by_weekday(rule, found, first, length)


def cut(found: list[int], low: int, high: int) -> list[int]:
    return found[bisect_left(found, low) : bisect_left(found, high)]


def first_of_weeks(year: int, week_start: int) -> int:
    """The ordinal of the first day of week 1: the first week with four days in the year or more."""
    first = date(year, 1, 1).toordinal()
    begin = first - (first - 1 - week_start) % 7
    return begin if begin + 4 > first else begin + 7


def in_week(day: int, weeks: tuple[int, ...], week_start: int) -> bool:
    year = date.fromordinal(day).year
    if day < first_of_weeks(year, week_start):
        year -= 1
    elif day >= first_of_weeks(year + 1, week_start):
        year += 1
    begin, end = first_of_weeks(year, week_start), first_of_weeks(year + 1, week_start)
    number = (day - begin) // 7 + 1
    return number in weeks or number - (end - begin) // 7 - 1 in weeks


def ended(rule: Rule, first_day: date, last: date) -> Rule:
    """The same rule with `last` as its last day; the rule itself where it ends by then anyway."""
    if rule.count and not any(days(rule, first_day, last + timedelta(days=1), within(last, LONGEST))):
        return rule
    if rule.until and rule.until <= last:
        return rule
    return replace(rule, count=None, until=last, until_at=None)
