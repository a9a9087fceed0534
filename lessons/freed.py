"""Freed times: which there are, and whom of the waiting list each fits.

A freed time is one at which a lesson was planned that is now cancelled, moved or, for a weekly lesson, over, and at
which nothing else stands by now.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from django.db.models import F, Q, QuerySet

from lessons.ahead import Ahead, gather_ahead
from lessons.calendar import Stretch, common, falls, hours_between, starts_in
from lessons.laying_out import next_day, times_of
from lessons.meetings import Wanted
from lessons.models import Lesson, Offer, Slot, Waiting, Where
from lessons.recurrence import moment_of, read_rule
from studio.models import Student, Studio

WEEKS = 8  # ahead of which freed times are looked for, and back to which a weekly lesson that ended counts
WEEK = timedelta(weeks=1)
ALL_DAY = [(weekday, time.min, time.max) for weekday in range(7)]


@dataclass(frozen=True)
class Fit:
    """A student whom a freed time fits, and when she would begin in it. `offer` is the one that is open."""

    waiting: Waiting
    starts_at: datetime
    offer: Offer | None = None


@dataclass(frozen=True)
class Freed:
    """A free stretch left by lessons, in local time. `who` are the names of those who had it; `weekly`: every week from
    that day on."""

    begin: datetime
    end: datetime
    who: Sequence[str]
    weekly: bool = False
    place: str = ""
    fits: Sequence[Fit] = ()

    @property
    def key(self) -> str:
        return f"{self.begin.timestamp():.0f}"

    @property
    def not_offered(self) -> list[Fit]:
        return [fit for fit in self.fits if fit.offer is None]


@dataclass
class Left:
    """A stretch of time that was a lesson's."""

    begin: datetime
    end: datetime
    who: list[Student] = field(default_factory=list)
    weekly: bool = False
    place: str = ""


def freed_times(studio: Studio, waiting: Sequence[Waiting], *, at: datetime) -> list[Freed]:
    """The freed times of the next weeks, in order, each with those who wait and whom it fits, the longest waiting
    first. Nine queries, whatever there is."""
    zone = ZoneInfo(studio.timezone)
    today = at.astimezone(zone).date()
    last = today + WEEKS * WEEK
    rows = lessons_until(studio, moment_of(last + WEEK, time(), zone), today, zone)
    held = [row for row in rows if not row.cancelled_at]
    ahead = gather_ahead(studio, [one.student for one in waiting], today, last, at=at, lessons=held)
    offers = {(one.student_id, one.starts_at): one for one in open_offers(studio, at=at)}
    found = []
    for left in [*joined_left(left_once(rows, ahead)), *left_weekly(studio, ahead, today)]:
        for begin, end in free_within(left, ahead):
            fits = tuple(fits_in((begin, end), left, waiting, ahead, offers))
            local = begin.astimezone(zone), end.astimezone(zone)
            who = tuple(dict.fromkeys(student.name for student in left.who))
            found.append(Freed(*local, who, left.weekly, left.place, fits))
    return sorted(found, key=lambda one: (one.begin, one.weekly))


def lessons_until(studio: Studio, horizon: datetime, today: date, zone: ZoneInfo) -> list[Lesson]:
    """Lessons that lie ahead or were meant to, the cancelled ones too, in order of time."""
    begin = moment_of(today, time(), zone)
    ahead = Q(starts_at__gte=begin, starts_at__lt=horizon)
    meant = Q(slot__isnull=False, meant_for__gte=begin, meant_for__lt=horizon)
    rows = Lesson.objects.filter(ahead | meant, studio=studio)
    return list(rows.select_related("student", "slot").order_by("starts_at", "pk"))


def left_once(rows: Iterable[Lesson], ahead: Ahead) -> Iterator[Left]:
    """What cancelled lessons and moved ones of weekly lessons leave."""
    last = moment_of(ahead.last + timedelta(days=1), time(), ahead.zone)
    for row in rows:
        place = row.place if row.where == Where.STUDIO else ""
        if row.cancelled_at and ahead.at < row.starts_at < last:
            yield Left(row.starts_at, row.ends_at, [row.student], place=place)
        if row.slot and row.meant_for and row.meant_for != row.starts_at and ahead.at < row.meant_for < last:
            end = row.meant_for + timedelta(minutes=row.slot.minutes)
            yield Left(row.meant_for, end, [row.student], place=place)


def joined_left(every: Iterable[Left]) -> list[Left]:
    """Stretches that touch are one: two short lessons leave room for a long one."""
    found: list[Left] = []
    for left in sorted(every, key=lambda one: (one.begin, one.end)):
        if found and left.begin <= found[-1].end:
            found[-1].end = max(found[-1].end, left.end)
            found[-1].who += left.who
        else:
            found.append(left)
    return found


def left_weekly(studio: Studio, ahead: Ahead, today: date) -> Iterator[Left]:
    """What weekly lessons leave that ended in the last weeks, or end in the next: their time in the first week in which
    it is free."""
    for slot, who in ended_slots(studio, today, ahead):
        rule = read_rule(slot.rule)
        if rule.freq != "WEEKLY" or rule.interval != 1:
            continue
        day = first_without(slot, today, ahead)
        while day and day <= ahead.last:
            begin = moment_of(day, slot.at, ahead.zone)
            left = Left(begin, begin + timedelta(minutes=slot.minutes), who, weekly=True)
            left.place = slot.place if slot.where == Where.STUDIO else ""
            if begin > ahead.at and free_within(left, ahead):
                yield left
                break
            day += WEEK


def ended_slots(studio: Studio, today: date, ahead: Ahead) -> Iterator[tuple[Slot, list[Student]]]:
    """Slots that may have ended lately or end soon, with those who come to them."""
    back = moment_of(today - WEEKS * WEEK, time(), ahead.zone)
    ends = Q(slot__removed_at=None) & (Q(slot__rule__contains="UNTIL") | Q(slot__rule__contains="COUNT"))
    lasted = Q(slot__removed_at__gt=F("slot__created_at") + timedelta(days=1))  # not one made by mistake
    comers = Slot.students.through.objects.filter(lasted & Q(slot__removed_at__gte=back) | ends, slot__studio=studio)
    rows = comers.exclude(slot__rule="").select_related("slot", "student").order_by("slot_id", "student__name")
    for _key, together in groupby(rows, key=lambda row: row.slot_id):
        pairs = list(together)
        yield pairs[0].slot, [pair.student for pair in pairs]


def first_without(slot: Slot, today: date, ahead: Ahead) -> date | None:
    """The first day on which a slot would have gone on; None for one that goes on, or ended long ago."""
    times = times_of(slot)
    if slot.removed_at:
        gone = slot.removed_at.astimezone(ahead.zone).date()
        return next(iter(falls(times, gone, gone + WEEK, ahead.zone)), None)
    if next_day(slot, ahead.last + timedelta(days=1), ahead.zone):
        return None
    days = list(falls(times, today - WEEKS * WEEK, ahead.last, ahead.zone))
    return days[-1] + WEEK if days else None


def free_within(left: Left, ahead: Ahead) -> list[Stretch]:
    """What of a stretch is free for anyone: nothing stands in it, it lies ahead, and the studio is open."""
    wanted = Wanted([], left.begin, 5, place=left.place)
    free = ahead.free(wanted, hours=[ALL_DAY])
    return common([(left.begin, left.end)], free)


def fits_in(
    stretch: Stretch,
    left: Left,
    waiting: Sequence[Waiting],
    ahead: Ahead,
    offers: dict[tuple[int, datetime], Offer],
) -> Iterator[Fit]:
    """Whom a free stretch fits: it is long enough within her free hours, she is not at a lesson or away, and it was not
    she who left it."""
    left_it = {student.pk for student in left.who}
    day = stretch[0].astimezone(ahead.zone).date()
    for one in waiting:
        said = ahead.hours.get(one.student_id)
        hours = hours_between(said, day, day + timedelta(days=1), ahead.zone) if said else [stretch]
        if one.student_id in left_it or (one.until and one.until < day) or ahead.is_closed(day, [one.student]):
            continue
        for piece in common([stretch], hours):
            start = next(iter(starts_in(piece, one.minutes)), None)
            if start and ahead.is_free(Wanted([one.student], start, one.minutes, place=left.place)):
                yield Fit(one, start, offers.get((one.student_id, start)))
                break


def open_offers(studio: Studio, *, at: datetime) -> QuerySet[Offer]:
    """Those that can still be accepted."""
    rows = Offer.objects.filter(studio=studio, state=Offer.State.OPEN, expires_at__gt=at, starts_at__gt=at)
    return rows.select_related("student").order_by("starts_at", "pk")
