"""Lessons as an iCalendar (RFC 5545), for the calendars of the teacher, a student and a guardian.

A slot is one event that repeats: what its rule names and the studio does not hold is an EXDATE, a lesson that was moved
or cancelled an event of its own with the RECURRENCE-ID of the one it stands for. Lessons planned by themselves, and
those whose slot is over, are single events. Nothing of what is written in a lesson is told.
"""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _
from icalendar import Calendar, Event, vDuration, vRecur, vText

from lessons.calendar import expand, falls
from lessons.laying_out import Frame, frame_of, horizon, left_out_key, local_day, slots_of, times_of
from lessons.models import Lesson, Slot, Where
from lessons.recurrence import moment_of, read_rule, write_rule
from lessons.zone_rules import timezone_of
from studio.models import Student, Studio, User

NAMESPACE = uuid.UUID("3f0f9c1e-5d5a-4d0c-9b54-6a4f7a0b7d52")  # of the names that our events have for good
BACK = timedelta(days=400)  # so far back single lessons are told
AHEAD = timedelta(days=760)  # so far ahead days without lessons are taken out
REFRESH = timedelta(hours=1)
YEARS = 10  # so far ahead the rules of the time zone are told


@dataclass(frozen=True)
class Reader:
    """Whose calendar it is: `students` are those whose lessons are told, and `names` says whether by name."""

    studio: Studio
    students: frozenset[int]
    names: bool
    title: str


def reader_for(user: User, students: Sequence[Student]) -> Reader:
    """A teacher and a guardian of several read whose lesson it is; a student knows."""
    by_name = user.is_teacher or len(students) > 1
    title = _("Lessons, %(studio)s") % {"studio": user.studio.name}
    return Reader(user.studio, frozenset(one.pk for one in students), by_name, title)


def calendar_of(reader: Reader, *, at: datetime) -> bytes:
    """The whole calendar as it stands at a moment; the same rows give the same bytes. Four queries."""
    studio = reader.studio
    zone, today = ZoneInfo(studio.timezone), local_day(studio, at)
    slots = [slot for slot in slots_of(studio) if reader.students & {one.pk for one in slot.comers}]
    rows = list(
        Lesson.objects.filter(studio=studio, student__in=reader.students, starts_at__gte=at - BACK)
        .select_related("student", "slot")
        .order_by("starts_at", "pk")
    )
    first = min([today - BACK, *(slot.first_day for slot in slots)])
    frame = frame_of(studio, first, today + AHEAD)
    calendar = bare(reader.title)
    events = [*slot_events(slots, rows, frame, reader, today), *single_events(slots, rows, frame, reader)]
    if zone.key != "UTC":
        calendar.add_component(timezone_of(zone, *years_told(first, today)))
    for event in sorted(events, key=lambda one: (one["uid"], str(one.get("recurrence-id", "")))):
        calendar.add_component(event)
    return calendar.to_ical()


def bare(title: str) -> Calendar:
    calendar = Calendar()
    calendar.add("prodid", "-//Passagework//Lessons//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", title)
    calendar.add("x-wr-calname", title)
    calendar.add("refresh-interval", vDuration(REFRESH), parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", vText("PT1H"))
    return calendar


def years_told(first: date, today: date) -> tuple[date, date]:
    """The years for which the rules of the zone are told: from that of the first lesson to some that are to come, as
    events that repeat go on."""
    return date(first.year, 1, 1), date(today.year + YEARS, 1, 1)


def lesson_file(lesson: Lesson, studio: Studio) -> bytes:
    """One lesson as a calendar file, under the name that it has in the feed."""
    zone = ZoneInfo(studio.timezone)
    day = local_day(studio, lesson.starts_at)
    calendar = bare(_("Lessons, %(studio)s") % {"studio": studio.name})
    calendar.add("method", "PUBLISH")
    if zone.key != "UTC":
        calendar.add_component(timezone_of(zone, *years_told(day, day)))
    slot = lesson.slot if lesson.slot_id and lesson.meant_for and not lesson.slot.removed_at else None
    if slot:
        event = lesson_event(slot_uid(slot), slot.sequence + lesson.sequence, lesson, zone)
        event.add("recurrence-id", wall(lesson.meant_for.astimezone(zone).date(), slot, zone))
    else:
        event = lesson_event(name_for("lesson", lesson.pk), lesson.sequence, lesson, zone)
    add_words(event, _("Lesson: %(names)s") % {"names": lesson.student.name}, lesson.where, lesson.place)
    calendar.add_component(event)
    return calendar.to_ical()


# Slots


def slot_events(
    slots: Iterable[Slot], rows: Iterable[Lesson], frame: Frame, reader: Reader, today: date
) -> Iterator[Event]:
    """The repeating event of each slot, and one for each of its lessons that is otherwise."""
    by_slot: dict[int, dict[datetime, list[Lesson]]] = defaultdict(lambda: defaultdict(list))
    for row in rows:
        if row.slot_id and row.meant_for:
            by_slot[row.slot_id][row.meant_for].append(row)
    for slot in slots:
        known = by_slot[slot.pk]
        yield master(slot, known, frame, reader, today)
        for meant, meeting in sorted(known.items()):
            shown = standing_for(meeting)
            if differs(shown, slot):
                yield instead(slot, meant, meeting, shown, frame, reader)


def master(slot: Slot, known: dict[datetime, list[Lesson]], frame: Frame, reader: Reader, today: date) -> Event:
    event = new_event(slot_uid(slot), slot.sequence, slot.changed_at)
    begin = moment_of(slot.first_day, slot.at, frame.zone)
    add_time(event, begin.astimezone(frame.zone), slot.minutes, slot.at, slot.first_day)
    comers = [one for one in slot.comers if one.pk in reader.students]
    add_words(event, slot.name or names_of(comers, reader), slot.where, slot.place)
    rule = bounded_rule(slot, frame, today)
    if rule:
        event.add("rrule", vRecur.from_ical(rule))
        for day in lifted_days(slot, known, frame, comers, today):
            event.add("exdate", wall(day, slot, frame.zone))
    return event


def bounded_rule(slot: Slot, frame: Frame, today: date) -> str:
    """The slot's rule. One that falls in terms only ends with the last term that is known: what comes after it is not
    planned yet. UNTIL is a moment, as DTSTART is."""
    if not slot.rule:
        return ""
    rule = read_rule(slot.rule)
    parts = [part for part in write_rule(rule).split(";") if not part.startswith("UNTIL=")]
    last = rule.until
    if slot.in_terms and not rule.count:
        ends = [end for _first, end in frame.terms.spans]
        last = min([day for day in (last, max(ends, default=slot.first_day)) if day])
    if last:
        parts.append(f"UNTIL={moment_of(last, slot.at, frame.zone):%Y%m%dT%H%M%SZ}")
    return ";".join(parts)


def lifted_days(
    slot: Slot, known: dict[datetime, list[Lesson]], frame: Frame, comers: Sequence[Student], today: date
) -> list[date]:
    """The days that the rule names and on which nobody of these comes: up to the horizon those without a lesson, after
    it those that will have none by what is known."""
    last = horizon(today)
    there = {meant.astimezone(frame.zone).date() for meant in known}
    end = today + AHEAD
    expected = {
        begin.astimezone(frame.zone).date()
        for begin, _end in expand(
            times_of(slot), last, end, zone=frame.zone, holidays=frame.holidays, terms=frame.terms
        )
    }
    found = []
    for day in falls(times_of(slot), slot.first_day, end, frame.zone):
        if slot.in_terms and frame.terms.spans and day > frame.terms.spans[-1][1]:
            break
        comes = day in there if day <= last else day in expected and any_comes(day, slot, frame, comers)
        if not comes:
            found.append(day)
    return found


def any_comes(day: date, slot: Slot, frame: Frame, comers: Sequence[Student]) -> bool:
    return any(
        day not in frame.absences.get(one.pk, ()) and left_out_key(day, one.pk) not in slot.left_out for one in comers
    )


def standing_for(meeting: Sequence[Lesson]) -> Lesson:
    """The row that tells how a meeting stands: one that was not cancelled, if there is one."""
    return next((row for row in meeting if not row.cancelled_at), meeting[0])


def differs(row: Lesson, slot: Slot) -> bool:
    return bool(row.cancelled_at) or (row.starts_at, row.minutes, row.where, row.place) != (
        row.meant_for,
        slot.minutes,
        slot.where,
        slot.place,
    )


def instead(slot: Slot, meant: datetime, meeting: Sequence[Lesson], row: Lesson, frame: Frame, reader: Reader) -> Event:
    event = lesson_event(slot_uid(slot), slot.sequence + row.sequence, row, frame.zone)
    comers = [one.student for one in meeting if bool(one.cancelled_at) == bool(row.cancelled_at)]
    add_words(event, slot.name or names_of(comers, reader), row.where, row.place)
    event.add("recurrence-id", wall(meant.astimezone(frame.zone).date(), slot, frame.zone))
    return event


# Single lessons


def single_events(slots: Iterable[Slot], rows: Iterable[Lesson], frame: Frame, reader: Reader) -> Iterator[Event]:
    """Lessons that no repeating event tells of; those of one meeting together."""
    told = {slot.pk for slot in slots}
    meetings: dict[tuple[object, ...], list[Lesson]] = defaultdict(list)
    for row in rows:
        if row.slot_id in told and row.meant_for:
            continue
        key = (row.slot_id, row.meant_for, row.starts_at) if row.slot_id and row.meant_for else (row.pk,)
        meetings[key].append(row)
    for meeting in meetings.values():
        row = standing_for(meeting)
        event = lesson_event(name_for("lesson", row.pk), row.sequence, row, frame.zone)
        add_words(event, names_of([one.student for one in meeting], reader), row.where, row.place)
        yield event


def lesson_event(uid: str, sequence: int, row: Lesson, zone: ZoneInfo) -> Event:
    event = new_event(uid, sequence, row.cancelled_at or row.created_at)
    begin = row.starts_at.astimezone(zone)
    add_time(event, begin, row.minutes)
    if row.cancelled_at:
        event.add("status", "CANCELLED")
    return event


# What events have in common


def new_event(uid: str, sequence: int, stamp: datetime) -> Event:
    event = Event()
    event.add("uid", uid)
    event.add("dtstamp", stamp.astimezone(UTC))
    event.add("sequence", sequence)
    return event


def name_for(kind: str, key: int) -> str:
    """A name that is this row's for good and tells nothing of it."""
    return str(uuid.uuid5(NAMESPACE, f"{kind} {key}"))


def slot_uid(slot: Slot) -> str:
    return name_for("slot", slot.pk)


def wall(day: date, slot: Slot, zone: ZoneInfo) -> datetime:
    """A meeting's begin as the clock on the wall has it, which is how the rule says it."""
    return datetime.combine(day, slot.at, zone)


def add_time(event: Event, begin: datetime, minutes: int, at: object = None, day: date | None = None) -> None:
    """DTSTART and DURATION: a duration holds wherever the clocks are changed. In a slot DTSTART is the clock on the
    wall, also on a day that does not have this hour."""
    event.add("dtstart", datetime.combine(day, at, begin.tzinfo) if day and at else begin)  # type: ignore[arg-type]
    event.add("duration", timedelta(minutes=minutes))


def add_words(event: Event, name: str, where: str, place: str) -> None:
    event.add("summary", name)
    label = Where(where).label
    event.add("location", f"{place} ({label})" if place else str(label))


def names_of(students: Iterable[Student], reader: Reader) -> str:
    if not reader.names:
        return _("Lesson")
    return _("Lesson: %(names)s") % {"names": ", ".join(sorted(one.name for one in students))}
