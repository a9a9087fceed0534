"""Rules by which lessons repeat: RFC 5545's own examples, then random rules against two other programs."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import islice
from zoneinfo import ZoneInfo

import pytest
from dateutil.rrule import rrulestr
from hypothesis import assume, given, settings
from hypothesis import strategies as some

from lessons.recurrence import BadRule, Rule, days, ended, first_fall, moment_of, read_rule, write_rule

NEW_YORK = ZoneInfo("America/New_York")
NINE = time(9)


def dates(text: str) -> list[date]:
    """ "1997: 9/2 9/16; 1998: 1/6" """
    found = []
    for part in text.split(";"):
        year, _, rest = part.partition(":")
        found += [date(int(year), *map(int, one.split("/"))) for one in rest.split()]
    return found


def run(first: str, last: str) -> list[date]:
    begin, end = date.fromisoformat(first), date.fromisoformat(last)
    return [begin + timedelta(days=number) for number in range((end - begin).days + 1)]


# RFC 5545, section 3.8.5.3, all of its examples that are not smaller than a day: (DTSTART, RRULE, days). All begin at
# nine in the morning in America/New_York. Those that go on for ever are told as far as the RFC tells them.
RFC = [
    ("1997-09-02", "FREQ=DAILY;COUNT=10", run("1997-09-02", "1997-09-11")),
    ("1997-09-02", "FREQ=DAILY;UNTIL=19971224T000000Z", run("1997-09-02", "1997-12-23")),
    ("1997-09-02", "FREQ=DAILY;INTERVAL=2", run("1997-09-02", "1997-12-03")[::2]),
    ("1997-09-02", "FREQ=DAILY;INTERVAL=10;COUNT=5", dates("1997: 9/2 9/12 9/22 10/2 10/12")),
    (
        "1998-01-01",
        "FREQ=YEARLY;UNTIL=20000131T140000Z;BYMONTH=1;BYDAY=SU,MO,TU,WE,TH,FR,SA",
        [day for year in (1998, 1999, 2000) for day in run(f"{year}-01-01", f"{year}-01-31")],
    ),
    (
        "1998-01-01",
        "FREQ=DAILY;UNTIL=20000131T140000Z;BYMONTH=1",
        [day for year in (1998, 1999, 2000) for day in run(f"{year}-01-01", f"{year}-01-31")],
    ),
    ("1997-09-02", "FREQ=WEEKLY;COUNT=10", dates("1997: 9/2 9/9 9/16 9/23 9/30 10/7 10/14 10/21 10/28 11/4")),
    ("1997-09-02", "FREQ=WEEKLY;UNTIL=19971224T000000Z", run("1997-09-02", "1997-12-23")[::7]),
    (
        "1997-09-02",
        "FREQ=WEEKLY;INTERVAL=2;WKST=SU",
        dates("1997: 9/2 9/16 9/30 10/14 10/28 11/11 11/25 12/9 12/23; 1998: 1/6 1/20 2/3 2/17"),
    ),
    (
        "1997-09-02",
        "FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH",
        dates("1997: 9/2 9/4 9/9 9/11 9/16 9/18 9/23 9/25 9/30 10/2"),
    ),
    (
        "1997-09-02",
        "FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH",
        dates("1997: 9/2 9/4 9/9 9/11 9/16 9/18 9/23 9/25 9/30 10/2"),
    ),
    (
        "1997-09-01",
        "FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR",
        dates(
            "1997: 9/1 9/3 9/5 9/15 9/17 9/19 9/29 10/1 10/3 10/13 10/15 10/17 10/27 10/29 10/31 11/10 11/12 11/14 "
            "11/24 11/26 11/28 12/8 12/10 12/12 12/22"
        ),
    ),
    (
        "1997-09-02",
        "FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH",
        dates("1997: 9/2 9/4 9/16 9/18 9/30 10/2 10/14 10/16"),
    ),
    (
        "1997-09-05",
        "FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
        dates("1997: 9/5 10/3 11/7 12/5; 1998: 1/2 2/6 3/6 4/3 5/1 6/5"),
    ),
    ("1997-09-05", "FREQ=MONTHLY;UNTIL=19971224T000000Z;BYDAY=1FR", dates("1997: 9/5 10/3 11/7 12/5")),
    (
        "1997-09-07",
        "FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU",
        dates("1997: 9/7 9/28 11/2 11/30; 1998: 1/4 1/25 3/1 3/29 5/3 5/31"),
    ),
    ("1997-09-22", "FREQ=MONTHLY;COUNT=6;BYDAY=-2MO", dates("1997: 9/22 10/20 11/17 12/22; 1998: 1/19 2/16")),
    ("1997-09-28", "FREQ=MONTHLY;BYMONTHDAY=-3", dates("1997: 9/28 10/29 11/28 12/29; 1998: 1/29 2/26")),
    (
        "1997-09-02",
        "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15",
        dates("1997: 9/2 9/15 10/2 10/15 11/2 11/15 12/2 12/15; 1998: 1/2 1/15"),
    ),
    (
        "1997-09-30",
        "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1",
        dates("1997: 9/30 10/1 10/31 11/1 11/30 12/1 12/31; 1998: 1/1 1/31 2/1"),
    ),
    (
        "1997-09-10",
        "FREQ=MONTHLY;INTERVAL=18;COUNT=10;BYMONTHDAY=10,11,12,13,14,15",
        dates("1997: 9/10 9/11 9/12 9/13 9/14 9/15; 1999: 3/10 3/11 3/12 3/13"),
    ),
    (
        "1997-09-02",
        "FREQ=MONTHLY;INTERVAL=2;BYDAY=TU",
        dates("1997: 9/2 9/9 9/16 9/23 9/30 11/4 11/11 11/18 11/25; 1998: 1/6 1/13 1/20 1/27 3/3 3/10 3/17 3/24 3/31"),
    ),
    (
        "1997-06-10",
        "FREQ=YEARLY;COUNT=10;BYMONTH=6,7",
        [date(year, month, 10) for year in range(1997, 2002) for month in (6, 7)],
    ),
    (
        "1997-03-10",
        "FREQ=YEARLY;INTERVAL=2;COUNT=10;BYMONTH=1,2,3",
        dates("1997: 3/10; 1999: 1/10 2/10 3/10; 2001: 1/10 2/10 3/10; 2003: 1/10 2/10 3/10"),
    ),
    (
        "1997-01-01",
        "FREQ=YEARLY;INTERVAL=3;COUNT=10;BYYEARDAY=1,100,200",
        dates("1997: 1/1 4/10 7/19; 2000: 1/1 4/9 7/18; 2003: 1/1 4/10 7/19; 2006: 1/1"),
    ),
    ("1997-05-19", "FREQ=YEARLY;BYDAY=20MO", dates("1997: 5/19; 1998: 5/18; 1999: 5/17")),
    ("1997-05-12", "FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO", dates("1997: 5/12; 1998: 5/11; 1999: 5/17")),
    (
        "1997-03-13",
        "FREQ=YEARLY;BYMONTH=3;BYDAY=TH",
        dates("1997: 3/13 3/20 3/27; 1998: 3/5 3/12 3/19 3/26; 1999: 3/4 3/11 3/18 3/25"),
    ),
    (
        "1997-06-05",
        "FREQ=YEARLY;BYDAY=TH;BYMONTH=6,7,8",
        run("1997-06-05", "1997-08-28")[::7]
        + run("1998-06-04", "1998-08-27")[::7]
        + run("1999-06-03", "1999-08-26")[::7],
    ),
    # Its EXDATE is the first day, which the rule does not name: here a rule's days are those that it names.
    (
        "1997-09-02",
        "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13",
        dates("1998: 2/13 3/13 11/13; 1999: 8/13; 2000: 10/13"),
    ),
    (
        "1997-09-13",
        "FREQ=MONTHLY;BYDAY=SA;BYMONTHDAY=7,8,9,10,11,12,13",
        dates("1997: 9/13 10/11 11/8 12/13; 1998: 1/10 2/7 3/7 4/11 5/9 6/13"),
    ),
    (
        "1996-11-05",
        "FREQ=YEARLY;INTERVAL=4;BYMONTH=11;BYDAY=TU;BYMONTHDAY=2,3,4,5,6,7,8",
        dates("1996: 11/5; 2000: 11/7; 2004: 11/2"),
    ),
    ("1997-09-04", "FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3", dates("1997: 9/4 10/7 11/6")),
    (
        "1997-09-29",
        "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2",
        dates("1997: 9/29 10/30 11/27 12/30; 1998: 1/29 2/26 3/30"),
    ),
    ("1997-08-05", "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO", dates("1997: 8/5 8/10 8/19 8/24")),
    ("1997-08-05", "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU", dates("1997: 8/5 8/17 8/19 8/31")),
    ("2007-01-15", "FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5", dates("2007: 1/15 1/30 2/15 3/15 3/30")),
]


@pytest.mark.parametrize(("begins", "text", "expected"), RFC, ids=[text for _, text, _ in RFC])
def test_the_examples_of_the_standard_fall_as_it_says(begins: str, text: str, expected: list[date]):
    rule, first = read_rule(text), date.fromisoformat(begins)
    found = list(days(rule, first, first, date(2012, 1, 1), at=NINE, zone=NEW_YORK))
    if rule.count or rule.until:
        assert found == expected
    else:
        assert found[: len(expected)] == expected
        assert len(found) > len(expected)


@pytest.mark.parametrize("text", ["FREQ=HOURLY;INTERVAL=3", "FREQ=MINUTELY;COUNT=6", "FREQ=DAILY;BYHOUR=9,10"])
def test_what_is_smaller_than_a_day_is_refused(text: str):
    with pytest.raises(BadRule, match="time of day"):
        read_rule(text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "WEEKLY",
        "FREQ=FORTNIGHTLY",
        "FREQ=WEEKLY;FREQ=DAILY",
        "FREQ=WEEKLY;COUNT=3;UNTIL=20270101",
        "FREQ=WEEKLY;COUNT=0",
        "FREQ=WEEKLY;INTERVAL=0",
        "FREQ=WEEKLY;INTERVAL=-1",
        "FREQ=WEEKLY;INTERVAL=99999999999999999999",
        "FREQ=WEEKLY;UNTIL=20270231",
        "FREQ=WEEKLY;UNTIL=tomorrow",
        "FREQ=WEEKLY;BYDAY=2TU",
        "FREQ=WEEKLY;BYDAY=XX",
        "FREQ=WEEKLY;BYMONTHDAY=3",
        "FREQ=MONTHLY;BYWEEKNO=3",
        "FREQ=MONTHLY;BYMONTHDAY=32",
        "FREQ=MONTHLY;BYMONTHDAY=0",
        "FREQ=MONTHLY;BYSETPOS=1",
        "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30",
        "FREQ=YEARLY;BYMONTH=13",
        "FREQ=YEARLY;BYMONTH=4,6;BYMONTHDAY=31,-31",
        "FREQ=WEEKLY;BYMONTH=٣",
        "FREQ=WEEKLY;COLOUR=BLUE",
    ],
)
def test_a_rule_that_cannot_be_followed_is_refused_with_a_word(text: str):
    with pytest.raises(BadRule) as refused:
        read_rule(text)
    assert "%(" not in str(refused.value)


def test_a_rule_that_never_falls_is_refused_and_does_not_loop():
    # A fifth Monday that is also the first of its month.
    with pytest.raises(BadRule, match="never falls"):
        first_fall(read_rule("FREQ=MONTHLY;BYDAY=5MO;BYMONTHDAY=1"), date(2026, 1, 1))
    with pytest.raises(BadRule, match="never falls"):
        first_fall(read_rule("FREQ=DAILY;UNTIL=20250101"), date(2026, 1, 1))


def test_a_rule_that_never_ends_is_followed_no_further_than_asked():
    rule = read_rule("FREQ=WEEKLY")
    assert list(islice(days(rule, date(2026, 1, 5), date(2050, 1, 1), date(2050, 1, 20)), 9)) == [
        date(2050, 1, 3),
        date(2050, 1, 10),
        date(2050, 1, 17),
    ]
    with pytest.raises(ValueError, match="sixty years"):
        next(days(rule, date(2026, 1, 5), date(2026, 1, 5), date(2126, 1, 5)))


def test_the_31st_of_each_month_falls_only_in_months_that_have_one():
    found = list(days(read_rule("FREQ=MONTHLY"), date(2026, 1, 31), date(2026, 1, 1), date(2026, 12, 31)))
    assert [day.month for day in found] == [1, 3, 5, 7, 8, 10, 12]
    last = list(days(read_rule("FREQ=MONTHLY;BYMONTHDAY=-1"), date(2026, 1, 31), date(2026, 1, 1), date(2026, 4, 30)))
    assert last == [date(2026, 1, 31), date(2026, 2, 28), date(2026, 3, 31), date(2026, 4, 30)]


def test_an_end_at_a_moment_in_utc_is_taken_in_the_zone():
    # 14:00 UTC is nine in New York in winter: the lesson that begins then still falls, one a minute later does not.
    rule = read_rule("FREQ=DAILY;UNTIL=20270105T140000Z")
    assert list(days(rule, date(2027, 1, 4), date(2027, 1, 4), date(2027, 1, 9), at=NINE, zone=NEW_YORK)) == [
        date(2027, 1, 4),
        date(2027, 1, 5),
    ]
    later = list(days(rule, date(2027, 1, 4), date(2027, 1, 4), date(2027, 1, 9), at=time(9, 1), zone=NEW_YORK))
    assert later == [date(2027, 1, 4)]


def test_a_lesson_in_the_skipped_hour_falls_as_much_later_as_the_clock_jumps():
    # RFC 5545, section 3.3.5: the local time is taken with the offset before the gap. In the European Union the clock
    # jumps at 01:00 UTC on the last Sunday of March: half past two in Oslo is half past three by the new time.
    oslo = ZoneInfo("Europe/Oslo")
    assert moment_of(date(2027, 3, 28), time(2, 30), oslo) == datetime(2027, 3, 28, 1, 30, tzinfo=UTC)
    assert moment_of(date(2027, 3, 28), time(2, 30), oslo).astimezone(oslo).time() == time(3, 30)


def test_a_lesson_in_the_doubled_hour_falls_in_the_first_of_both():
    # RFC 5545, section 3.3.5: the first occurrence of the referenced time. In New York 01:30 comes twice on 1 November
    # 2026, at 05:30 and 06:30 UTC.
    assert moment_of(date(2026, 11, 1), time(1, 30), NEW_YORK) == datetime(2026, 11, 1, 5, 30, tzinfo=UTC)


def test_a_rule_ends_on_a_day_and_one_that_ends_before_stays_as_it_is():
    weekly = read_rule("FREQ=WEEKLY;INTERVAL=2")
    assert write_rule(ended(weekly, date(2026, 1, 5), date(2026, 3, 1))) == "FREQ=WEEKLY;INTERVAL=2;UNTIL=20260301"
    thrice = read_rule("FREQ=WEEKLY;COUNT=3")
    assert ended(thrice, date(2026, 1, 5), date(2026, 1, 19)) == thrice
    assert ended(thrice, date(2026, 1, 5), date(2026, 1, 18)).until == date(2026, 1, 18)


# Random rules

weekdays = some.sampled_from(["MO", "TU", "WE", "TH", "FR", "SA", "SU"])
ZONES = [
    "Europe/Helsinki",
    "America/New_York",
    "America/Sao_Paulo",  # gave up daylight saving in 2019
    "Australia/Lord_Howe",  # half an hour of daylight saving
    "Asia/Kolkata",
    "Asia/Kathmandu",
    "Pacific/Auckland",
    "Africa/Casablanca",
    "America/St_Johns",
]


@some.composite
def rules(draw) -> str:
    """Any rule that the standard allows and on whose meaning the second opinion agrees."""
    freq = draw(some.sampled_from(["DAILY", "WEEKLY", "MONTHLY", "YEARLY"]))
    parts = [f"FREQ={freq}"]
    if draw(some.booleans()):
        parts.append(f"INTERVAL={draw(some.integers(1, 7))}")
    if draw(some.booleans()):
        parts.append("BYMONTH=" + listed(draw, some.integers(1, 12)))
    if freq != "WEEKLY" and draw(some.booleans()):
        parts.append("BYMONTHDAY=" + listed(draw, some.integers(-31, 31).filter(bool)))
    if freq == "YEARLY" and draw(some.integers(0, 3)) == 0:
        parts.append("BYYEARDAY=" + listed(draw, some.integers(-366, 366).filter(bool)))
    weeks = freq == "YEARLY" and draw(some.integers(0, 3)) == 0
    if weeks:
        parts.append("BYWEEKNO=" + listed(draw, some.integers(1, 53)))
    if weeks or draw(some.booleans()):
        numbered = freq in ("MONTHLY", "YEARLY") and not weeks and draw(some.booleans())
        most = 5 if freq == "MONTHLY" or "BYMONTH" in str(parts) else 53
        one = some.tuples(some.integers(-most, most).filter(bool), weekdays).map(lambda pair: f"{pair[0]}{pair[1]}")
        parts.append("BYDAY=" + listed(draw, one if numbered else weekdays))
    if len(parts) > 2 and any(part.startswith("BY") for part in parts) and draw(some.booleans()):
        parts.append("BYSETPOS=" + listed(draw, some.integers(-5, 5).filter(bool)))
    if draw(some.booleans()):
        parts.append(f"WKST={draw(weekdays)}")
    end = draw(some.sampled_from(["", "", f"COUNT={draw(some.integers(1, 60))}", "UNTIL=20310617"]))
    return ";".join(filter(None, [*parts, end]))


def listed(draw, values) -> str:
    return ",".join(map(str, draw(some.lists(values, min_size=1, max_size=3, unique=True))))


def readable(text: str) -> Rule:
    try:
        return read_rule(text)
    except BadRule:
        assume(False)
        raise


@settings(max_examples=120, deadline=None)
@given(text=rules(), start=some.dates(date(2020, 1, 1), date(2024, 12, 31)))
def test_random_rules_fall_on_the_days_that_dateutil_says_over_ten_years(text: str, start: date):
    rule = readable(text)
    last = date(start.year + 10, 12, 31)
    begin = datetime.combine(start, NINE)
    peer = rrulestr(text.replace("UNTIL=20310617", "UNTIL=20310617T235959"), dtstart=begin, cache=False)
    if not rule.until:  # bounded, or the peer looks on to the year 9999 where a rule falls no more
        peer = peer.replace(count=None, until=datetime.combine(last, time.max))
    expected = [moment.date() for moment in peer if moment.date() <= last][: rule.count]
    assert list(days(rule, start, start, last)) == expected


@settings(max_examples=80, deadline=None)
@given(
    text=rules(),
    start=some.dates(date(2020, 1, 1), date(2024, 12, 31)),
    begin=some.integers(0, 3000),
    length=some.integers(0, 400),
)
def test_a_window_shows_what_the_whole_shows_there(text: str, start: date, begin: int, length: int):
    rule = readable(text)
    first = start + timedelta(days=begin)
    last = first + timedelta(days=length)
    whole = days(rule, start, start, date(2035, 12, 31))
    assert list(days(rule, start, first, last)) == [day for day in whole if first <= day <= last]


@settings(max_examples=100, deadline=None)
@given(text=rules())
def test_a_rule_written_and_read_again_is_the_same(text: str):
    rule = readable(text)
    assert read_rule(write_rule(rule)) == rule


@settings(max_examples=300, deadline=None)
@given(text=some.text("FREQ=WLYDAIMOTHU0123456789;,-+BYSTP\n ", max_size=60))
def test_any_text_is_a_rule_or_refused(text: str):
    try:
        rule = read_rule(text)
    except BadRule:
        return
    assert read_rule(write_rule(rule)) == rule
