"""What changes the calendar of lessons that repeat: slots, and the days on which they do not fall, as verbs.

Each lays the lessons out again in the same transaction. Where it can be undone it gives a token for that, good for a
day.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.core import signing
from django.db import models, transaction

from lessons.laying_out import (
    Frame,
    Laid,
    comers,
    frame_of,
    horizon,
    laid_rows,
    lay_out,
    local_day,
    meetings_of,
    slots_of,
)
from lessons.models import Absence, Holiday, Lesson, Slot
from lessons.notices import tell_of_change
from lessons.recurrence import ended, first_fall, moment_of
from lessons.rules import read_rule, write_rule
from studio.models import Student, Studio, Term

SLOT_SALT = "slot before"
DAYS_SALT = "days taken out"
KEPT_HOURS = 24  # how long an undo holds
FIELDS = ("name", "first_day", "at", "minutes", "rule", "in_terms", "where", "place")
RANGES: dict[str, type[Holiday | Absence | Term]] = {"holiday": Holiday, "absence": Absence, "term": Term}


class ChangedSince(ValueError):
    """What is to be changed or undone was changed otherwise since."""


@dataclass(frozen=True)
class SlotPlan:
    """What a slot is to be. `rule` is an RFC 5545 rule or "" for once."""

    students: Sequence[Student]
    first_day: date
    at: time
    minutes: int
    rule: str
    in_terms: bool = False
    where: str = "studio"
    place: str = ""
    name: str = ""

    @property
    def fields(self) -> dict[str, Any]:
        """The fields of a slot; the first day is that of the first lesson by the rule. Raises `BadRule`."""
        found = {name: getattr(self, name) for name in FIELDS}
        if self.rule:
            found["first_day"] = first_fall(read_rule(self.rule), self.first_day)
        return found


# Slots


@transaction.atomic
def make_slot(*, studio: Studio, plan: SlotPlan, at: datetime, follows: Slot | None = None) -> tuple[Slot, Laid]:
    """A new slot, laid out from today on. Raises `BadRule`."""
    slot = new_slot(studio, plan, follows)
    return slot, lay_out(studio, at=at, slots=[slot])


def new_slot(studio: Studio, plan: SlotPlan, follows: Slot | None = None) -> Slot:
    slot = Slot.objects.create(studio=studio, follows=follows, **plan.fields)
    slot.students.set(plan.students)
    return slot


@transaction.atomic
def change_slot(*, slot: Slot, plan: SlotPlan, at: datetime) -> tuple[Slot, Laid, str]:
    """Changes a slot from the week of the plan's first day on; what was before stays as it was.

    The lessons that are laid out already move along, each to its week's new time, with all that is in them. A slot that
    has a past ends, and another follows it. Gives the slot that now holds, and a token for `undo_slot`. Raises
    `BadRule`, and `ChangedSince` where another window has changed the slot since it was read.
    """
    studio = Studio.objects.select_for_update(no_key=True).get(pk=slot.studio_id)
    known = slot.sequence
    slot.refresh_from_db(fields=[*FIELDS, "sequence", "removed_at"])
    if slot.sequence != known:
        raise ChangedSince
    begin, cut = cut_for(slot, plan.fields["first_day"], at=at, studio=studio)
    token, was = slot_token(slot), usual(slot)
    if has_past(slot, begin):
        now = new_slot(studio, plan, follows=slot)
        end_on(slot, cut - timedelta(days=1), at=at)
        token = slot_token(slot, token, followed_by=now)
    else:
        now = slot
        rewrite(slot, plan)
    carry_over(slot, now, studio, was=was, since=begin, at=at)
    return now, lay_out(studio, at=at, slots=[slot, now]), token


def usual(slot: Slot) -> dict[str, Any]:
    """What the lessons of a slot have unless it was set otherwise by hand."""
    return {"minutes": slot.minutes, "where": slot.where, "place": slot.place}


def cut_for(slot: Slot, first_day: date, *, at: datetime, studio: Studio) -> tuple[datetime, date]:
    """From when a change holds: the beginning of its first day's week, or now if that is later. Also as the first day
    on which the old slot falls no more."""
    zone, today = ZoneInfo(studio.timezone), local_day(studio, at)
    monday = first_day - timedelta(days=first_day.weekday())
    if monday > today:
        return moment_of(monday, time(), zone), monday
    was_today = moment_of(today, slot.at, zone) <= at
    return at, today + timedelta(days=1) if was_today else today


def has_past(slot: Slot, begin: datetime) -> bool:
    return slot.lessons.filter(meant_for__lt=begin).exists() or slot.first_day < begin.date() - timedelta(days=1)


def rewrite(slot: Slot, plan: SlotPlan) -> None:
    for name, value in plan.fields.items():
        setattr(slot, name, value)
    slot.sequence += 1
    slot.save(update_fields=[*FIELDS, "sequence", "changed_at"])
    slot.students.set(plan.students)


def end_on(slot: Slot, last: date, *, at: datetime) -> None:
    """Lets a slot end with a day; one that would never fall any more is taken out."""
    if last < slot.first_day:
        slot.removed_at = at
    elif slot.rule:
        slot.rule = write_rule(ended(read_rule(slot.rule), slot.first_day, last))
    slot.sequence += 1
    slot.save(update_fields=["rule", "sequence", "removed_at", "changed_at"])


def carry_over(old: Slot, new: Slot, studio: Studio, *, was: dict[str, Any], since: datetime, at: datetime) -> None:
    """Moves the lessons of a slot to another's times, week by week, and has it told.

    A lesson that was moved by hand keeps its own time, and whatever else of it is not as it `was` in the old slot.
    """
    rows = [row for row in laid_rows(studio, since) if row.slot_id == old.pk and row.starts_at > at]
    today = local_day(studio, at)
    frame = frame_of(studio, today, horizon(today))
    free = weeks_of(slots_of(studio).filter(pk=new.pk), frame, since)
    before = {row.pk: (row.starts_at, row.minutes, row.where, row.place) for row in rows}
    carried = []
    # Those whose time stays come first: so no lesson takes the time of one that has nowhere else to go.
    for stays in (True, False):
        for row in rows:
            options = free.get((row.student_id, week_key(row.meant_for, frame.zone)))
            begin = row.meant_for if stays else next(iter(options or ()), None)
            if options and begin in options and row not in carried:
                options.remove(begin)
                settle(row, new, begin, was)
                carried.append(row)
    # Two steps, because a time may be another lesson's until that one has moved too.
    Lesson.objects.filter(pk__in=[row.pk for row in carried]).update(meant_for=None)
    changed = [row for row in carried if before[row.pk] != (row.starts_at, row.minutes, row.where, row.place)]
    for row in changed:
        row.sequence += 1
    Lesson.objects.bulk_update(carried, ["slot", "meant_for", "starts_at", "minutes", "where", "place", "sequence"])
    for row in firsts(changed):
        tell_of_change(row, "slot", at=at)


def firsts(rows: Iterable[Lesson]) -> list[Lesson]:
    """The first lesson of each student, by which she is told of all."""
    found: dict[int, Lesson] = {}
    for row in sorted(rows, key=lambda row: (row.starts_at, row.pk)):
        found.setdefault(row.student_id, row)
    return list(found.values())


def settle(row: Lesson, slot: Slot, begin: datetime, was: dict[str, Any]) -> None:
    """Gives a lesson its place in a slot."""
    if row.starts_at == row.meant_for:
        row.starts_at = begin
    for name, value in was.items():
        if getattr(row, name) == value:
            setattr(row, name, getattr(slot, name))
    row.slot, row.meant_for = slot, begin


def weeks_of(slots: Iterable[Slot], frame: Frame, since: datetime) -> dict[tuple[int, tuple[int, int]], list[datetime]]:
    """The meetings from a moment to the horizon, by student and week of the year."""
    found: dict[tuple[int, tuple[int, int]], list[datetime]] = defaultdict(list)
    first = since.astimezone(frame.zone).date()
    for slot in slots:
        for begin, _ in meetings_of(slot, frame, first, horizon(first)):
            if begin >= since:
                for student in comers(slot, begin, frame):
                    found[student.pk, week_key(begin, frame.zone)].append(begin)
    return found


def week_key(moment: datetime, zone: ZoneInfo) -> tuple[int, int]:
    year, week, _ = moment.astimezone(zone).date().isocalendar()
    return year, week


@transaction.atomic
def end_slot(*, slot: Slot, last: date, at: datetime) -> tuple[Laid, str]:
    """Lets a slot end with a day. Gives what laying out did and a token for `undo_slot`."""
    token = slot_token(slot)
    end_on(slot, last, at=at)
    return lay_out(slot.studio, at=at, slots=[slot]), token


@transaction.atomic
def remove_slot(*, slot: Slot, at: datetime) -> Laid:
    """Takes a slot out; lessons that hold something stay."""
    slot.removed_at = at
    slot.save(update_fields=["removed_at", "changed_at"])
    return lay_out(slot.studio, at=at, slots=[slot])


@transaction.atomic
def restore_slot(*, slot: Slot, at: datetime) -> Laid:
    slot.removed_at = None
    slot.save(update_fields=["removed_at", "changed_at"])
    return lay_out(slot.studio, at=at, slots=[slot])


def slot_token(slot: Slot, before: str = "", followed_by: Slot | None = None) -> str:
    """What a slot was, for `undo_slot`. With `before`, an earlier token: that with what followed."""
    if before:
        return signing.dumps(
            signing.loads(before, salt=SLOT_SALT) | {"next": followed_by and followed_by.pk}, salt=SLOT_SALT
        )
    kept: dict[str, Any] = {name: getattr(slot, name) for name in FIELDS}
    kept |= {"first_day": slot.first_day.isoformat(), "at": slot.at.isoformat(), "next": None}
    kept |= {"pk": slot.pk, "students": list(slot.students.values_list("pk", flat=True)), "sequence": slot.sequence}
    return signing.dumps(kept, salt=SLOT_SALT)


@transaction.atomic
def undo_slot(*, studio: Studio, token: str, at: datetime) -> Slot:
    """Lets a slot be what it was. Raises `signing.BadSignature`, `Slot.DoesNotExist`, and `ChangedSince` where it
    was changed again."""
    kept = signing.loads(token, salt=SLOT_SALT, max_age=KEPT_HOURS * 3600)
    Studio.objects.select_for_update(no_key=True).get(pk=studio.pk)
    slot = Slot.objects.get(pk=kept["pk"], studio=studio)
    after = Slot.objects.get(pk=kept["next"], studio=studio) if kept["next"] else slot
    if slot.sequence != kept["sequence"] + 1 or after.removed_at or after.followed_by.filter(removed_at=None).exists():
        raise ChangedSince
    was = usual(after)
    for name in FIELDS:
        setattr(slot, name, kept[name])
    slot.first_day, slot.at = date.fromisoformat(kept["first_day"]), time.fromisoformat(kept["at"])
    slot.sequence, slot.removed_at = slot.sequence + 1, None
    slot.save(update_fields=[*FIELDS, "sequence", "removed_at", "changed_at"])
    slot.students.set(Student.objects.filter(studio=studio, pk__in=kept["students"]))
    if after != slot:
        after.removed_at = at
        after.save(update_fields=["removed_at", "changed_at"])
    carry_over(after, slot, studio, was=was, since=at, at=at)
    lay_out(studio, at=at, slots=[slot, after])
    return slot


# Days without lessons, and terms


@transaction.atomic
def keep_days(*, row: Holiday | Absence | Term, at: datetime) -> Laid:
    """Keeps a holiday, an absence or a term, new or changed."""
    row.save()
    return lay_out(row.studio, at=at)


@transaction.atomic
def remove_days(*, row: Holiday | Absence | Term, at: datetime) -> tuple[Laid, str]:
    """Takes a holiday, an absence or a term out. Gives a token for `restore_days`."""
    kind = next(name for name, model in RANGES.items() if isinstance(row, model))
    kept: dict[str, Any] = {"kind": kind, "first_day": row.first_day.isoformat(), "last_day": row.last_day.isoformat()}
    kept |= {"student": row.student_id, "reason": row.reason} if isinstance(row, Absence) else {"name": row.name}
    studio = row.studio
    row.delete()
    return lay_out(studio, at=at), signing.dumps(kept, salt=DAYS_SALT)


@transaction.atomic
def restore_days(*, studio: Studio, token: str, at: datetime) -> models.Model:
    """Brings a holiday, an absence or a term back, once. Raises `signing.BadSignature` and `Student.DoesNotExist`."""
    kept = signing.loads(token, salt=DAYS_SALT, max_age=KEPT_HOURS * 3600)
    given = {"first_day": date.fromisoformat(kept["first_day"]), "last_day": date.fromisoformat(kept["last_day"])}
    if kept["kind"] == "absence":
        given |= {"student": Student.objects.get(pk=kept["student"], studio=studio), "reason": kept["reason"]}
    else:
        given |= {"name": kept["name"]}
    row = RANGES[kept["kind"]].objects.filter(studio=studio, **given).first()
    row = row or RANGES[kept["kind"]].objects.create(studio=studio, **given)
    lay_out(studio, at=at)
    return row
