"""Recurrence rules as text and as values: RFC 5545, section 3.3.10, down to days.

Pure. A rule names days; the time of day is the slot's own, so parts smaller than a day are refused.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime

DAILY, WEEKLY, MONTHLY, YEARLY = "DAILY", "WEEKLY", "MONTHLY", "YEARLY"
WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
BY_CLOCK = ("BYHOUR", "BYMINUTE", "BYSECOND")
NUMBERED = {
    "BYMONTH": (1, 12, False),
    "BYMONTHDAY": (1, 31, True),
    "BYYEARDAY": (1, 366, True),
    "BYWEEKNO": (1, 53, True),
    "BYSETPOS": (1, 366, True),
}
KNOWN = {"FREQ", "INTERVAL", "COUNT", "UNTIL", "WKST", "BYDAY", *BY_CLOCK, *NUMBERED}
MOST_INTERVAL = 1000
MOST_COUNT = 100_000
LONGEST_MONTHS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
BY_DAY = re.compile(r"([+-]?\d{1,2})?(MO|TU|WE|TH|FR|SA|SU)")
UNTIL_TEXT = re.compile(r"(\d{8})(?:T(\d{6})(Z?))?")


class BadRule(ValueError):
    """A rule that cannot be followed. `message` is an English sentence with `%(name)s` places for `params`."""

    def __init__(self, message: str, **params: object) -> None:
        self.message, self.params = message, params
        super().__init__(message % params)


@dataclass(frozen=True)
class Rule:
    """A recurrence rule. Months count from 1, weekdays from 0 for Monday; `by_day` has (n, weekday), n 0 for each.

    `until` is the last day; `until_at`, if there is one, the last moment: aware where the rule gave it in UTC, else on
    the wall's clock.
    """

    freq: str
    interval: int = 1
    count: int | None = None
    until: date | None = None
    until_at: datetime | None = None
    by_month: tuple[int, ...] = ()
    by_month_day: tuple[int, ...] = ()
    by_year_day: tuple[int, ...] = ()
    by_week: tuple[int, ...] = ()
    by_day: tuple[tuple[int, int], ...] = ()
    by_position: tuple[int, ...] = ()
    week_start: int = 0


# Reading and writing


def read_rule(text: str) -> Rule:
    """Reads "FREQ=WEEKLY;INTERVAL=2;BYDAY=TU", with or without "RRULE:" before it. Raises `BadRule`."""
    parts = parts_of(text)
    freq = parts.get("FREQ", "")
    if freq in ("SECONDLY", "MINUTELY", "HOURLY") or any(name in parts for name in BY_CLOCK):
        raise BadRule("A rule names days; a lesson's time of day is given beside it.")
    if freq not in (DAILY, WEEKLY, MONTHLY, YEARLY):
        raise BadRule("A rule begins with how often: FREQ=DAILY, WEEKLY, MONTHLY or YEARLY.")
    if "COUNT" in parts and "UNTIL" in parts:
        raise BadRule("A rule ends after a COUNT or with an UNTIL, not both.")
    until, until_at = read_until(parts["UNTIL"]) if "UNTIL" in parts else (None, None)
    rule = Rule(
        freq=freq,
        interval=whole(parts, "INTERVAL", MOST_INTERVAL) or 1,
        count=whole(parts, "COUNT", MOST_COUNT),
        until=until,
        until_at=until_at,
        by_day=by_day(parts.get("BYDAY", "")),
        week_start=week_start(parts.get("WKST", "MO")),
        by_month=numbers(parts, "BYMONTH"),
        by_month_day=numbers(parts, "BYMONTHDAY"),
        by_year_day=numbers(parts, "BYYEARDAY"),
        by_week=numbers(parts, "BYWEEKNO"),
        by_position=numbers(parts, "BYSETPOS"),
    )
    check(rule)
    return rule


def parts_of(text: str) -> dict[str, str]:
    parts: dict[str, str] = {}
    for part in text.strip().upper().removeprefix("RRULE:").rstrip(";").split(";"):
        name, sign, value = (piece.strip() for piece in part.partition("="))
        if not sign or not value:
            raise BadRule(
                "“%(part)s” is no part of a rule. An example of one is FREQ=WEEKLY;INTERVAL=2.", part=part[:40]
            )
        if name not in KNOWN:
            raise BadRule("“%(part)s” is not known in a rule.", part=name[:40])
        if name in parts:
            raise BadRule("“%(part)s” stands in the rule twice.", part=name)
        parts[name] = value
    return parts


def whole(parts: Mapping[str, str], name: str, most: int) -> int | None:
    if name not in parts:
        return None
    text = parts[name]
    if not text.isascii() or not text.isdecimal() or len(text) > 9 or not 1 <= int(text) <= most:
        raise BadRule("%(part)s is a whole number from 1 to %(most)s.", part=name, most=most)
    return int(text)


def numbers(parts: Mapping[str, str], name: str) -> tuple[int, ...]:
    if name not in parts:
        return ()
    least, most, signed = NUMBERED[name]
    found = set()
    for text in parts[name].split(","):
        if (
            not re.fullmatch(r"[+-]?\d{1,3}" if signed else r"\d{1,2}", text, re.ASCII)
            or not least <= abs(int(text)) <= most
        ):
            raise BadRule("“%(value)s” is no value for %(part)s.", value=text[:20], part=name)
        found.add(int(text))
    return tuple(sorted(found))


def by_day(text: str) -> tuple[tuple[int, int], ...]:
    found = set()
    for one in text.split(",") if text else ():
        match = BY_DAY.fullmatch(one)
        if not match or (match[1] and not 1 <= abs(int(match[1])) <= 53):
            raise BadRule("“%(value)s” is no weekday. Write MO, TU, WE, TH, FR, SA or SU.", value=one[:20])
        found.add((int(match[1] or 0), WEEKDAYS.index(match[2])))
    return tuple(sorted(found))


def week_start(text: str) -> int:
    if text not in WEEKDAYS:
        raise BadRule("“%(value)s” is no weekday. Write MO, TU, WE, TH, FR, SA or SU.", value=text[:20])
    return WEEKDAYS.index(text)


def read_until(text: str) -> tuple[date, datetime | None]:
    match = UNTIL_TEXT.fullmatch(text)
    try:
        if not match:
            raise ValueError(text)
        if match[2]:
            moment = datetime.strptime(match[1] + match[2], "%Y%m%d%H%M%S")
            return moment.date(), moment.replace(tzinfo=UTC) if match[3] else moment
        return datetime.strptime(match[1], "%Y%m%d").date(), None
    except ValueError:
        raise BadRule("“%(value)s” is no day to end on. An example is UNTIL=20270630.", value=text[:20]) from None


def check(rule: Rule) -> None:
    """Raises `BadRule` for parts that the standard does not let stand together, and for days that are in no month."""
    if any(number for number, _ in rule.by_day) and (rule.freq in (DAILY, WEEKLY) or rule.by_week):
        raise BadRule("A numbered weekday such as 2TU goes with MONTHLY or YEARLY, without BYWEEKNO.")
    if rule.by_week and rule.freq != YEARLY:
        raise BadRule("BYWEEKNO goes with YEARLY only.")
    if rule.by_year_day and rule.freq != YEARLY:
        raise BadRule("BYYEARDAY goes with YEARLY only.")
    if rule.by_month_day and rule.freq == WEEKLY:
        raise BadRule("BYMONTHDAY does not go with WEEKLY.")
    bare = not (rule.by_day or rule.by_month or rule.by_month_day or rule.by_year_day or rule.by_week)
    if rule.by_position and bare:
        raise BadRule("BYSETPOS chooses among the days of another part, such as BYDAY.")
    longest = max(LONGEST_MONTHS[month - 1] for month in rule.by_month or range(1, 13))
    if rule.by_month_day and min(map(abs, rule.by_month_day)) > longest:
        raise BadRule("A rule on a day that no such month has never falls.")


def write_rule(rule: Rule) -> str:
    """The rule as text; reading it gives the same rule."""
    parts = [f"FREQ={rule.freq}"]
    if rule.interval != 1:
        parts.append(f"INTERVAL={rule.interval}")
    if rule.count:
        parts.append(f"COUNT={rule.count}")
    if rule.until_at:
        parts.append(f"UNTIL={rule.until_at:%Y%m%dT%H%M%S}" + ("Z" if rule.until_at.tzinfo else ""))
    elif rule.until:
        parts.append(f"UNTIL={rule.until:%Y%m%d}")
    lists = (rule.by_month, rule.by_week, rule.by_year_day, rule.by_month_day)
    for name, values in zip(("BYMONTH", "BYWEEKNO", "BYYEARDAY", "BYMONTHDAY"), lists, strict=True):
        if values:
            parts.append(f"{name}={','.join(map(str, values))}")
    if rule.by_day:
        parts.append("BYDAY=" + ",".join(f"{number or ''}{WEEKDAYS[day]}" for number, day in rule.by_day))
    if rule.by_position:
        parts.append(f"BYSETPOS={','.join(map(str, rule.by_position))}")
    if rule.week_start:
        parts.append(f"WKST={WEEKDAYS[rule.week_start]}")
    return ";".join(parts)
