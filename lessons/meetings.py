"""Lessons and busy times as the pure calendar sees them, and what stands in a lesson's way in words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from lessons.calendar import (
    Conflict,
    Days,
    Meeting,
    Stretch,
    conflicts,
    conflicts_of,
    free_times,
    hours_between,
    nearest_free,
)
from lessons.models import Absence, BusyTime, FreeHours, Holiday, Lesson, Slot, Timetable, Where
from lessons.recurrence import moment_of
from studio.models import Guardian, Student, Studio

OFFERS = 3
AROUND = timedelta(days=7)  # so far on both sides nearest free times are looked for
ASSUMED = tuple((weekday, time(8), time(20)) for weekday in range(6))  # where the teacher has not said her hours
Families = Mapping[int, frozenset[int]]
Hours = list[tuple[int, time, time]]


@dataclass(frozen=True)
class Together:
    """One meeting of the calendar: the rows of those who come (none for a busy time), and its name."""

    meeting: Meeting
    name: str
    lessons: tuple[Lesson, ...] = ()
    busy: BusyTime | None = None


@dataclass(frozen=True)
class Here:
    """What a studio has between two moments, and what it reckons with."""

    studio: Studio
    together: Sequence[Together]
    travel: timedelta
    families: Families

    def named(self) -> dict[int | str, Together]:
        return {one.meeting.key: one for one in self.together}


# Rows as meetings


def here_between(studio: Studio, begin: datetime, end: datetime, *, lessons: Iterable[Lesson] | None = None) -> Here:
    """Everything that is not cancelled and touches the time from `begin` to `end`: four queries; three where the caller
    has the `lessons`, in order of time."""
    families = families_of(studio)
    rows = lessons
    if rows is None:
        rows = (
            Lesson.objects.held()
            .filter(studio=studio, starts_at__lt=end, starts_at__gt=begin - timedelta(minutes=480))
            .select_related("student", "slot")
            .order_by("starts_at", "pk")
        )
    busy = BusyTime.objects.filter(studio=studio, starts_at__lt=end, ends_at__gt=begin)
    kept = Timetable.objects.filter(studio=studio).first() or Timetable(studio=studio)
    together = [together_of(group, families) for group in meetings_in(row for row in rows if row.ends_at > begin)]
    together += [busy_together(one) for one in busy]
    return Here(studio, together, timedelta(minutes=kept.travel_minutes), families)


def families_of(studio: Studio) -> Families:
    """For each student who has guardians, the keys of these: brothers and sisters share them."""
    found: dict[int, set[int]] = defaultdict(set)
    pairs = Guardian.students.through.objects.filter(guardian__studio=studio)
    for student, guardian in pairs.values_list("student_id", "guardian_id"):
        found[student].add(guardian)
    return {student: frozenset(keys) for student, keys in found.items()}


def meetings_in(rows: Iterable[Lesson]) -> Iterator[list[Lesson]]:
    """Rows by meeting: those of a pair or group that are still together make one. Cancelled ones are by themselves."""
    groups: dict[tuple[object, ...], list[Lesson]] = defaultdict(list)
    for row in rows:
        alone = row.slot_id is None or row.meant_for is None
        key = (row.pk,) if alone else (row.slot_id, row.meant_for, row.starts_at, row.cancelled_at is None)
        groups[key].append(row)
    yield from groups.values()


def together_of(rows: Sequence[Lesson], families: Families) -> Together:
    first = rows[0]
    keys = [key for row in rows for key in (-row.student_id, *families.get(row.student_id, ()))]
    meeting = Meeting(
        begin=first.starts_at,
        end=first.ends_at,
        key=first.pk,
        where=where_key(first.where, first.place, [row.student_id for row in rows], families),
        room=room_key(first.where, first.place),
        families=frozenset(keys),
    )
    name = first.slot.name if first.slot_id and first.slot else ""
    return Together(meeting, name or names_of(row.student for row in rows), tuple(rows))


def names_of(students: Iterable[Student]) -> str:
    names = [student.name for student in students]
    return names[0] if len(names) == 1 else ", ".join(name.split()[0] if name.split() else name for name in names)


def where_key(where: str, place: str, students: Sequence[int], families: Families) -> str:
    """Where the teacher has to be, as a word that is the same for the same place; "" for anywhere."""
    if where == Where.ONLINE:
        return ""
    if where == Where.STUDIO:
        return "studio"
    home = min((key for student in students for key in families.get(student, (-student,))), default=0)
    return f"home {home} {place.strip().casefold()}"


def room_key(where: str, place: str) -> str:
    return place.strip().casefold() if where == Where.STUDIO else ""


def busy_together(busy: BusyTime) -> Together:
    meeting = Meeting(begin=busy.starts_at, end=busy.ends_at, key=f"busy {busy.pk}", is_busy=True)
    return Together(meeting, busy.label or _("busy"), busy=busy)


# What stands in the way, in words


def clashes(here: Here) -> dict[int | str, list[str]]:
    """For each meeting what stands in its way, as sentences."""
    named, found = here.named(), defaultdict(list)
    for conflict in conflicts((one.meeting for one in here.together), travel=here.travel):
        for own, other in ((conflict.first, conflict.second), (conflict.second, conflict.first)):
            found[own.key].append(in_words(conflict, named[other.key]))
    return found


def in_words(conflict: Conflict, other: Together) -> str:
    """ "overlaps with Elias, 15:15–16:00" """
    gap = conflict.second.begin - conflict.first.end
    words = {
        "teacher": _("overlaps with %(name)s, %(time)s"),
        "busy": _("you are taken then: %(name)s, %(time)s"),
        "room": _("the same room as %(name)s, %(time)s"),
        "family": _("one family at two lessons at once: %(name)s, %(time)s"),
        "travel": _("only %(minutes)s minutes on the way between this and %(name)s, %(time)s"),
    }
    return words[conflict.kind] % {
        "name": other.name,
        "time": time_in_words(other.meeting.begin, other.meeting.end),
        "minutes": int(gap.total_seconds() // 60),
    }


def time_in_words(begin: datetime, end: datetime) -> str:
    """ "15:15–16:00" in the current zone, with the day where it is another than the beginning's."""
    begin, end = timezone.localtime(begin), timezone.localtime(end)
    last = f"{end:%H:%M}" if end.date() == begin.date() else date_format(end, "j F H:i")
    return f"{begin:%H:%M}–{last}"


# Trying a time


@dataclass(frozen=True)
class Tried:
    """What stands against a time, in sentences, and the nearest beginnings against which nothing stands."""

    against: Sequence[str]
    nearest: Sequence[datetime]


@dataclass(frozen=True)
class Wanted:
    """A time that is tried. `key` is that of the meeting that would move there, None for a new one."""

    students: Sequence[Student]
    starts_at: datetime
    minutes: int
    where: str = Where.STUDIO
    place: str = ""
    key: int | None = None

    def meeting(self, families: Families) -> Meeting:
        students = [student.pk for student in self.students]
        return Meeting(
            begin=self.starts_at,
            end=self.starts_at + timedelta(minutes=self.minutes),
            key=self.key if self.key is not None else "wanted",
            where=where_key(self.where, self.place, students, families),
            room=room_key(self.where, self.place),
            families=frozenset(key for pk in students for key in (-pk, *families.get(pk, ()))),
        )


def try_time(studio: Studio, wanted: Wanted, *, at: datetime) -> Tried:
    """What stands against a time, and the three nearest free ones within a week, none of them in the past."""
    here = here_between(studio, wanted.starts_at - AROUND, wanted.starts_at + AROUND)
    others = [one.meeting for one in here.together]
    meeting = wanted.meeting(here.families)
    named = here.named()
    against = []
    for conflict in conflicts_of(meeting, others, travel=here.travel):
        other = conflict.first if conflict.second.key == meeting.key else conflict.second
        against.append(in_words(conflict, named[other.key]))
    zone = ZoneInfo(studio.timezone)
    day = wanted.starts_at.astimezone(zone).date()
    first, last = day - AROUND, day + AROUND
    hours = hours_of(studio, wanted.students)
    closed = closed_days(studio, wanted.students, first, last)
    against += [words for begin, words in closed if begin == day]
    against += outside_hours(meeting, hours, wanted.students, zone)
    free = free_for(wanted, meeting, here, hours, [begin for begin, _ in closed], first, last, at=at)
    # Neither the time that is tried nor the one where it stands is an offer.
    no_offer = {wanted.starts_at, *(one.meeting.begin for one in here.together if one.meeting.key == wanted.key)}
    nearest = nearest_free(max(wanted.starts_at, at), wanted.minutes, free, count=OFFERS + len(no_offer))
    return Tried(against, [start for start in nearest if start not in no_offer][:OFFERS])


def hours_of(studio: Studio, students: Sequence[Student]) -> dict[int | None, Hours]:
    """The free hours of the teacher (None) and of those students who have said theirs."""
    found: dict[int | None, Hours] = defaultdict(list)
    for row in FreeHours.objects.filter(studio=studio):
        if row.student_id is None or row.student_id in {student.pk for student in students}:
            found[row.student_id].append((row.weekday, row.begins, row.ends))
    return {None: list(ASSUMED)} | found


def closed_days(studio: Studio, students: Sequence[Student], first: date, last: date) -> list[tuple[date, str]]:
    """Holidays, and days on which one of the students does not come, each with a sentence."""
    holidays = Days(Holiday.objects.filter(studio=studio).touching(first, last).values_list("first_day", "last_day"))
    away: dict[int, list[tuple[date, date]]] = defaultdict(list)
    absences = Absence.objects.filter(studio=studio, student__in=students).touching(first, last)
    for student_id, begin, end in absences.values_list("student_id", "first_day", "last_day"):
        away[student_id].append((begin, end))
    absent = [(Days(away[student.pk]), student) for student in students if student.pk in away]
    found = []
    for number in range((last - first).days + 1):
        day = first + timedelta(days=number)
        if day in holidays:
            found.append((day, _("the studio is closed that day")))
        found += [
            (day, _("%(name)s does not come that day") % {"name": student.name})
            for days, student in absent
            if day in days
        ]
    return found


def outside_hours(
    meeting: Meeting, hours: Mapping[int | None, Hours], students: Sequence[Student], zone: ZoneInfo
) -> list[str]:
    """A sentence for each whose free hours do not hold the whole meeting; none for those who have said none."""
    day = meeting.begin.astimezone(zone).date()
    names = {student.pk: student.name for student in students}
    found = []
    for whose, said in hours.items():
        spans = hours_between(said, day - timedelta(days=1), day + timedelta(days=1), zone)
        if said == list(ASSUMED) or any(begin <= meeting.begin and meeting.end <= end for begin, end in spans):
            continue
        mine = _("outside your free hours")
        found.append(mine if whose is None else _("outside the free hours of %(name)s") % {"name": names[whose]})
    return found


def free_for(
    wanted: Wanted,
    meeting: Meeting,
    here: Here,
    hours: Mapping[int | None, Hours],
    closed: Iterable[date],
    first: date,
    last: date,
    *,
    at: datetime,
) -> list[Stretch]:
    """Where the meeting would fit: in everyone's hours, with nothing in the way, not in the past, on no closed day."""
    zone = ZoneInfo(here.studio.timezone)
    taken = [padded(one.meeting, meeting, here.travel) for one in here.together if one.meeting.key != meeting.key]
    taken += [(moment_of(day, time(), zone), moment_of(day + timedelta(days=1), time(), zone)) for day in closed]
    taken.append((datetime.min.replace(tzinfo=UTC), at))
    spans = [hours_between(said, first, last, zone) for said in hours.values()]
    return free_times(spans, taken, minutes=wanted.minutes)


def padded(other: Meeting, meeting: Meeting, travel: timedelta) -> Stretch:
    """The time that another meeting takes from this one: with the way there and back where it is elsewhere."""
    way = travel if other.where and meeting.where and other.where != meeting.where else timedelta(0)
    return other.begin - way, other.end + way


def clashes_of_slot(slot: Slot, *, at: datetime, until: datetime) -> list[tuple[datetime, str]]:
    """When lessons of a slot stand in something's way, and how: in order of time."""
    here = here_between(slot.studio, at, until)
    own = {one.meeting.key for one in here.together if one.lessons and one.lessons[0].slot_id == slot.pk}
    found = clashes(here)
    return sorted(
        (one.meeting.begin, words)
        for one in here.together
        if one.meeting.key in own
        for words in dict.fromkeys(found.get(one.meeting.key, ()))
    )
