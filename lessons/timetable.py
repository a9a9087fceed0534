"""What the week and the day show, gathered into dataclasses: days with blocks, each block with its place on the grid.

Beyond the horizon up to which lessons are laid out, what the slots expect is shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _

from lessons.laying_out import comers, frame_of, horizon, local_day, meetings_of, slots_of
from lessons.meetings import Here, Together, busy_together, clashes, families_of, meetings_in, names_of, together_of
from lessons.models import Absence, BusyTime, FreeHours, Holiday, Lesson, Timetable, Where
from lessons.recurrence import moment_of
from studio.models import Studio

FIRST_HOUR, LAST_HOUR = 8, 20  # shown where the teacher has not said when she teaches
LEAST_HOURS = 6
GRID = 5  # minutes of one row
SHORT = 30  # minutes up to which a block has one line
MOST_LANES = 4
SHOWN = (
    *("student__name", "slot__name", "starts_at", "minutes", "where", "place", "meant_for", "cancelled_at"),
    *("studio_id", "student_id", "slot_id"),
)


@dataclass(frozen=True)
class Block:
    """One thing on the grid. `kind` is "lesson", "busy" or "expected"; `state` "", "over", "now" or "cancelled". Its
    times are local and lie on its day."""

    kind: str
    begin: datetime
    end: datetime
    name: str
    detail: str = ""
    state: str = ""
    lesson: Lesson | None = None
    clashes: Sequence[str] = ()
    address: str = ""  # of a lesson's page, with 0 for its key: resolving one for each block would take longest
    lane: int = 0
    lanes: int = 1

    @property
    def minutes(self) -> int:
        return int((self.end - self.begin).total_seconds()) // 60

    @property
    def begins(self) -> str:
        return f"{self.begin:%H:%M}"

    @property
    def ends(self) -> str:
        return f"{self.end:%H:%M}"

    @property
    def can_move(self) -> bool:
        return self.lesson is not None and self.state != "cancelled"

    @property
    def classes(self) -> str:
        """What it is, and where it stands on the grid."""
        rows = max(3, round(self.minutes / GRID))
        place = f"h{self.begin.hour} m{self.begin.minute // GRID} dh{rows // 12} dm{rows % 12}"
        lane = f"lane{self.lane} lanes{self.lanes}"
        state = f" is-{self.state}" if self.state else ""
        marks = (" clashes" if self.clashes else "") + (" is-short" if self.minutes < SHORT else "")
        return f"is-{self.kind} {place} {lane}{state}{marks}"

    @property
    def word(self) -> str:
        """The state in a word, where it is to be said."""
        return {"cancelled": _("cancelled"), "now": _("now")}.get(self.state, "")

    @property
    def url(self) -> str:
        return self.address.replace("/0/", f"/{self.lesson.pk}/") if self.lesson else ""


@dataclass(frozen=True)
class Day:
    """`lines` are what holds for the whole day: holidays, who does not come."""

    day: date
    is_today: bool
    holiday: str = ""
    absent: Sequence[str] = ()
    blocks: Sequence[Block] = ()

    @property
    def is_bare(self) -> bool:
        return not any(block.kind != "busy" for block in self.blocks)


@dataclass(frozen=True)
class Page:
    """Some days in a row. `first_hour` and `last_hour` bound the grid; `lessons` counts those that are not cancelled,
    `minutes` their length together."""

    days: Sequence[Day]
    first_hour: int
    last_hour: int
    lessons: int
    minutes: int
    is_beyond: bool = False
    hours: Sequence[int] = field(default=())

    @property
    def is_bare(self) -> bool:
        return all(day.is_bare for day in self.days)

    @property
    def is_closed(self) -> bool:
        return all(day.holiday for day in self.days)


def gather_days(studio: Studio, lessons: QuerySet[Lesson], first: date, many: int, *, at: datetime) -> Page:
    """The days from `first` on, in as many queries whatever stands in them. `lessons` are those that may be seen, with
    their students."""
    zone = ZoneInfo(studio.timezone)
    begin, end = moment_of(first, time(), zone), moment_of(first + timedelta(days=many), time(), zone)
    last = first + timedelta(days=many - 1)
    here = lessons.filter(starts_at__gte=begin, starts_at__lt=end).select_related("student", "slot")
    rows = list(here.only(*SHOWN).order_by("starts_at", "pk"))
    busy = list(BusyTime.objects.filter(studio=studio, starts_at__lt=end, ends_at__gt=begin))
    blocks = [*lesson_blocks(studio, rows, busy, at=at), *expected_blocks(studio, first, last, at=at)]
    blocks += [part for one in busy for part in busy_blocks(one, zone)]
    lines = whole_days(studio, first, last)
    today = local_day(studio, at)
    days = [day_of(day, blocks, lines, is_today=day == today) for day in lines]
    held = [block for block in blocks if block.kind == "lesson" and block.state != "cancelled"]
    low, high = bounds(studio, blocks)
    return Page(
        days=days,
        first_hour=low,
        last_hour=high,
        lessons=len(held),
        minutes=sum(block.minutes for block in held),
        is_beyond=last > horizon(today),
        hours=range(low, high),
    )


def lesson_blocks(studio: Studio, rows: Sequence[Lesson], busy: Sequence[BusyTime], *, at: datetime) -> list[Block]:
    zone, families = ZoneInfo(studio.timezone), families_of(studio)
    kept = Timetable.objects.filter(studio=studio).first() or Timetable(studio=studio)
    together = [together_of(group, families) for group in meetings_in(rows)]
    held = [one for one in together if not one.lessons[0].cancelled_at]
    here = Here(
        studio, [*held, *(busy_together(one) for one in busy)], timedelta(minutes=kept.travel_minutes), families
    )
    found = clashes(here)
    address = reverse("lesson", args=[0])
    return [
        Block(
            kind="lesson",
            address=address,
            begin=one.meeting.begin.astimezone(zone),
            end=within_day(one.meeting.begin.astimezone(zone), one.meeting.end.astimezone(zone)),
            name=one.name,
            detail=detail_of(one),
            state=state_of(one, at),
            lesson=one.lessons[0],
            clashes=list(dict.fromkeys(found.get(one.meeting.key, ()))) if not one.lessons[0].cancelled_at else (),
        )
        for one in together
    ]


def state_of(one: Together, at: datetime) -> str:
    if one.lessons[0].cancelled_at:
        return "cancelled"
    if one.meeting.end <= at:
        return "over"
    return "now" if one.meeting.begin <= at else ""


def detail_of(one: Together) -> str:
    """Who comes, where the name does not say it, and where it is."""
    first = one.lessons[0]
    who = names_of(row.student for row in one.lessons)
    return " · ".join(filter(None, ("" if who == one.name else who, where_in_words(first.where, first.place))))


def where_in_words(where: str, place: str) -> str:
    """Nothing for the studio itself: it is the usual place."""
    return place or ("" if where == Where.STUDIO else str(Where(where).label))


def within_day(begin: datetime, end: datetime) -> datetime:
    """The end, or the last minute of the beginning's day."""
    return end if end.date() == begin.date() else begin.replace(hour=23, minute=59)


def busy_blocks(busy: BusyTime, zone: ZoneInfo) -> list[Block]:
    """A busy time in parts, one a day."""
    begin, end = busy.starts_at.astimezone(zone), busy.ends_at.astimezone(zone)
    parts = []
    while begin < end:
        parts.append(Block("busy", begin, within_day(begin, end), busy.label or _("busy")))
        begin = datetime.combine(begin.date() + timedelta(days=1), time(), zone)
    return parts


def expected_blocks(studio: Studio, first: date, last: date, *, at: datetime) -> list[Block]:
    """What the slots expect beyond what is laid out; nothing, and no query, up to there."""
    beyond = horizon(local_day(studio, at)) + timedelta(days=1)
    if last < beyond:
        return []
    begin = max(first, beyond)
    frame = frame_of(studio, begin, last)
    found = []
    for slot in slots_of(studio):
        for start, end in meetings_of(slot, frame, begin, last):
            names = comers(slot, start, frame)
            if names:
                local = start.astimezone(frame.zone)
                shown = within_day(local, end.astimezone(frame.zone))
                found.append(Block("expected", local, shown, slot.name or names_of(names), _("expected")))
    return found


# Days


Lines = Mapping[date, tuple[str, list[str]]]


def whole_days(studio: Studio, first: date, last: date) -> Lines:
    """For each day its holiday, and who does not come."""
    found: dict[date, tuple[str, list[str]]] = {}
    holidays = list(Holiday.objects.filter(studio=studio).touching(first, last))
    absences = list(Absence.objects.filter(studio=studio).touching(first, last).select_related("student"))
    for number in range((last - first).days + 1):
        day = first + timedelta(days=number)
        names = [one.name for one in holidays if one.first_day <= day <= one.last_day]
        away = [one.student.name for one in absences if one.first_day <= day <= one.last_day]
        found[day] = (", ".join(names), sorted(set(away)))
    return found


def day_of(day: date, blocks: Iterable[Block], lines: Lines, *, is_today: bool) -> Day:
    holiday, absent = lines[day]
    own = sorted((block for block in blocks if block.begin.date() == day), key=lambda block: (block.begin, block.end))
    return Day(day, is_today, holiday, absent, in_lanes(own))


def in_lanes(blocks: Sequence[Block]) -> list[Block]:
    """Blocks that overlap stand side by side: each gets a lane, and the number of lanes of its cluster."""
    placed: list[Block] = []
    cluster: list[Block] = []
    ends: list[datetime] = []

    def close() -> None:
        lanes = min(len(ends), MOST_LANES) or 1
        placed.extend(replace(block, lane=min(block.lane, lanes - 1), lanes=lanes) for block in cluster)
        cluster.clear()
        ends.clear()

    for block in blocks:
        if ends and all(end <= block.begin for end in ends):
            close()
        lane = next((number for number, end in enumerate(ends) if end <= block.begin), len(ends))
        ends[lane : lane + 1] = [block.end]
        cluster.append(replace(block, lane=lane))
    close()
    return placed


def bounds(studio: Studio, blocks: Iterable[Block]) -> tuple[int, int]:
    """The hours between which the grid is drawn: those in which the teacher teaches, and what lessons need beyond."""
    said = list(FreeHours.objects.filter(studio=studio, student=None).values_list("begins", "ends"))
    shown = [block for block in blocks if block.kind != "busy"]
    low = min([begin.hour for begin, _ in said] or [FIRST_HOUR])
    high = max([end.hour + (end.minute > 0) for _, end in said] or [LAST_HOUR])
    low = min([low, *(block.begin.hour for block in shown)])
    high = max([high, low + LEAST_HOURS, *(block.end.hour + (block.end.minute > 0) for block in shown)])
    return (low, high) if high <= 24 else (24 - LEAST_HOURS, 24)
