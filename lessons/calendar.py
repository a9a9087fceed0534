"""When lessons fall, what stands in each other's way, and which times are free.

Pure: no rows, no clock. Days and times of day are those of the wall clock in a zone; meetings are moments in UTC. A
lesson stays at its wall-clock time across daylight saving.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from operator import itemgetter
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo

from lessons.recurrence import days, moment_of, moments_of
from lessons.rules import Rule

Span = tuple[date, date]
Stretch = tuple[datetime, datetime]
Kind = Literal["teacher", "room", "family", "travel", "busy"]
APART = timedelta(minutes=15)  # so far apart are two offers of a free time
GRID = timedelta(minutes=5)


# When a slot's lessons fall


@dataclass(frozen=True)
class Times:
    """When a slot falls: its first day, the time of day on the wall, the minutes and the rule (None: once)."""

    first_day: date
    at: time
    minutes: int
    rule: Rule | None = None
    in_terms: bool = False


def merged(spans: Iterable[Span]) -> list[Span]:
    """Spans of days, both ends included, in order and without overlap."""
    found: list[Span] = []
    for first, last in sorted(spans):
        if found and first <= found[-1][1] + timedelta(days=1):
            found[-1] = (found[-1][0], max(found[-1][1], last))
        elif first <= last:
            found.append((first, last))
    return found


class Days:
    """Which days lie in any of some spans; asking costs the logarithm of their number."""

    def __init__(self, spans: Iterable[Span] = ()) -> None:
        self.spans = merged(spans)
        self.firsts = [first for first, _ in self.spans]

    def __contains__(self, day: date) -> bool:
        place = bisect_right(self.firsts, day)
        return place > 0 and day <= self.spans[place - 1][1]


def expand(
    times: Times,
    first: date,
    last: date,
    *,
    zone: ZoneInfo,
    holidays: Days | None = None,
    absences: Days | None = None,
    terms: Days | None = None,
    left_out: frozenset[date] = frozenset(),
) -> Iterator[Stretch]:
    """The meetings of a slot that fall on the days from `first` to `last`, both included: begin and end, in order.

    Days in holidays, absences or `left_out` (EXDATE) are not among them, nor, for a slot in terms only, those outside
    of the terms; a COUNT counts them all the same, as in iCalendar. Raises `ValueError` for a window of more than sixty
    years.
    """
    length = timedelta(minutes=times.minutes)
    found = falls(times, first, last, zone)
    if left_out:
        found = (day for day in found if day not in left_out)
    if holidays:
        found = (day for day in found if day not in holidays)
    if absences:
        found = (day for day in found if day not in absences)
    if times.in_terms:
        found = (day for day in found if terms is not None and day in terms)
    for begin in moments_of(found, times.at, zone):
        yield begin, begin + length


def falls(times: Times, first: date, last: date, zone: ZoneInfo) -> Iterator[date]:
    if times.rule is not None:
        return days(times.rule, times.first_day, first, last, at=times.at, zone=zone)
    return iter([times.first_day] if first <= times.first_day <= last else [])


# What stands in each other's way


class Meeting(NamedTuple):
    """One meeting. `key` names it to the caller. `where` is where the teacher has to be ("" for anywhere: online),
    `room` what only one meeting can use at a time, `families` who comes, `is_busy` a time at which she is taken."""

    begin: datetime
    end: datetime
    key: int | str
    where: str = ""
    room: str = ""
    families: frozenset[int] = frozenset()
    is_busy: bool = False


class Conflict(NamedTuple):
    """Two meetings that stand in each other's way; `first` begins no later than `second`.

    "teacher" and "busy": she would be in two at once; "room": both need the same; "family": the same people, or
    brothers and sisters, at two places at once; "travel": too little time to get from one place to the other.
    """

    kind: Kind
    first: Meeting
    second: Meeting


def conflicts(meetings: Iterable[Meeting], *, travel: timedelta = timedelta(0)) -> Iterator[Conflict]:
    """What stands in each other's way, in the order of the later meeting.

    A sweep over time: n log n for n meetings, and as much again as there are pairs near each other.
    """
    near: list[Meeting] = []
    for here in sorted(meetings, key=itemgetter(0)):
        low = here.begin - travel
        near = [before for before in near if before.end > low]
        for before in near:
            for kind in kinds(before, here, travel):
                yield Conflict(kind, before, here)
        near.append(here)


def kinds(first: Meeting, second: Meeting, travel: timedelta) -> Iterator[Kind]:
    """How two meetings, the first of which begins no later, are in each other's way."""
    if first.is_busy and second.is_busy:
        return
    if first.end > second.begin:
        yield "busy" if first.is_busy or second.is_busy else "teacher"
        if first.room and first.room == second.room:
            yield "room"
        if first.families & second.families:
            yield "family"
    elif first.where and second.where and first.where != second.where and first.end + travel > second.begin:
        yield "travel"


def conflicts_of(wanted: Meeting, others: Iterable[Meeting], *, travel: timedelta = timedelta(0)) -> list[Conflict]:
    """What would stand in the way of one meeting."""
    found: list[Conflict] = []
    for other in sorted(others, key=lambda one: (one.begin, one.end, str(one.key))):
        if other.key != wanted.key:
            pair = (other, wanted) if (other.begin, other.end) <= (wanted.begin, wanted.end) else (wanted, other)
            found += [Conflict(kind, *pair) for kind in kinds(*pair, travel)]
    return found


# Which times are free


def hours_between(hours: Iterable[tuple[int, time, time]], first: date, last: date, zone: ZoneInfo) -> list[Stretch]:
    """Weekly hours (weekday from 0 for Monday, from, to) laid out over the days from `first` to `last`, in order and
    without overlap."""
    weekly = list(hours)
    found: list[Stretch] = []
    for number in range((last - first).days + 1):
        day = first + timedelta(days=number)
        found += [
            (moment_of(day, begin, zone), moment_of(day, end, zone))
            for weekday, begin, end in weekly
            if weekday == day.weekday()
        ]
    return joined(found)


def joined(stretches: Iterable[Stretch]) -> list[Stretch]:
    """Stretches of time in order; those that touch or overlap are one."""
    found: list[Stretch] = []
    for begin, end in sorted(stretches):
        if found and begin <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        elif begin < end:
            found.append((begin, end))
    return found


def common(one: Sequence[Stretch], other: Sequence[Stretch]) -> list[Stretch]:
    """What lies in both of two joined lists of stretches."""
    found: list[Stretch] = []
    here = there = 0
    while here < len(one) and there < len(other):
        begin, end = max(one[here][0], other[there][0]), min(one[here][1], other[there][1])
        if begin < end:
            found.append((begin, end))
        if one[here][1] <= other[there][1]:
            here += 1
        else:
            there += 1
    return found


def without(free: Sequence[Stretch], taken: Iterable[Stretch]) -> list[Stretch]:
    """What is left of joined stretches when others are taken out."""
    found: list[Stretch] = []
    blocks = joined(taken)
    place = 0
    for begin, end in free:
        while place < len(blocks) and blocks[place][1] <= begin:
            place += 1
        after = place
        while after < len(blocks) and blocks[after][0] < end:
            if begin < blocks[after][0]:
                found.append((begin, blocks[after][0]))
            begin = max(begin, blocks[after][1])
            after += 1
        if begin < end:
            found.append((begin, end))
    return found


def free_times(hours: Sequence[Sequence[Stretch]], taken: Iterable[Stretch], *, minutes: int) -> list[Stretch]:
    """Stretches of at least so many minutes that lie in everyone's hours and that nothing takes."""
    if not hours:
        return []
    free = joined(hours[0])
    for more in hours[1:]:
        free = common(free, joined(more))
    length = timedelta(minutes=minutes)
    return [(begin, end) for begin, end in without(free, taken) if end - begin >= length]


def starts_in(stretch: Stretch, minutes: int, *, apart: timedelta = APART) -> list[datetime]:
    """Beginnings on the grid of five minutes at which so many minutes fit into a stretch, so far apart."""
    begin, end = stretch
    found = []
    here = on_grid(begin)
    while here + timedelta(minutes=minutes) <= end:
        found.append(here)
        here += apart
    return found


def on_grid(moment: datetime) -> datetime:
    """The moment itself or the next full five minutes. Zones of today differ from UTC by whole quarters of an hour."""
    over = (moment - datetime.min.replace(tzinfo=UTC)) % GRID
    return moment + (GRID - over) if over else moment


def nearest_free(wanted: datetime, minutes: int, free: Sequence[Stretch], *, count: int = 3) -> list[datetime]:
    """The free beginnings nearest to the wanted one, the nearest first, at least a quarter of an hour apart."""
    candidates: set[datetime] = set()
    for stretch in free:
        starts = starts_in(stretch, minutes, apart=GRID)
        if starts:
            place = bisect_right(starts, wanted)
            # The nearest here, and as many steps of a quarter on both sides as could be asked for.
            for anchor in starts[max(0, place - 1) : place + 1]:
                at = starts.index(anchor)
                candidates.update(starts[at::3][:count] + starts[at::-3][:count])
    found: list[datetime] = []
    for one in sorted(candidates, key=lambda start: (abs(start - wanted), start)):
        if all(abs(one - other) >= APART for other in found):
            found.append(one)
        if len(found) == count:
            break
    return found
