"""From lessons to charges: what attendance and the studio's policy make of a lesson, told to the ledger's rules."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from fractions import Fraction
from functools import cached_property
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Exists, F, OuterRef, QuerySet, Value
from django.utils.translation import ngettext

from lessons.models import Attendance, Consequence, CreditEntry, Holiday, Lesson, Policy, Slot
from lessons.rules import read_rule
from studio.locales import money_words
from studio.models import Enrolment, Studio, Term, User
from studio.money import share_of_days
from studio.tuition import charging
from studio.tuition.dues import LOOK_BACK, Draft, LessonFact, Period, Share

CHARGED = (Consequence.CHARGE, Consequence.CREDIT)
WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")  # of RFC 5545, Monday first as Python counts


def lesson_facts(studio: Studio, at: date) -> list[LessonFact]:
    """Every lesson until the end of a day, with what the policy makes of its attendance. A make-up lesson was charged
    with the lesson that it makes up for."""
    zone = ZoneInfo(studio.timezone)
    until = datetime.combine(at + timedelta(days=1), time(), zone).astimezone(UTC)
    policy = getattr(studio, "policy", None) or Policy(studio=studio)
    since = until - LOOK_BACK - timedelta(days=2)
    rows = Lesson.objects.filter(studio=studio, starts_at__lt=until, starts_at__gte=since)
    rows = rows.exclude(attendance=Attendance.UNSAID, cancelled_at__isnull=False)
    found = []
    fields = ("pk", "student_id", "starts_at", "attendance", "makes_up_for_id", "booked_with_credit")
    for pk, student, starts_at, attendance, makes_up_for, booked in rows.annotate(
        booked_with_credit=Exists(credit_used_for(OuterRef("pk")))
    ).values_list(*fields):
        said = attendance != Attendance.UNSAID
        counts = said and policy.consequence(attendance) in CHARGED and makes_up_for is None and not booked
        remark = "" if attendance in (Attendance.PRESENT, Attendance.UNSAID) else str(Attendance(attendance).label)
        found.append(LessonFact(f"lesson-{pk}", student, starts_at.astimezone(zone).date(), counts, remark, said))
    return found


def credit_used_for(lesson: OuterRef | int) -> QuerySet[CreditEntry]:
    """The credit that stands used for a lesson: the last line of a credit says what became of it."""
    later = CreditEntry.objects.filter(of=OuterRef("of"), pk__gt=OuterRef("pk"))
    return CreditEntry.objects.filter(kind=CreditEntry.Kind.USED, lesson=lesson).filter(~Exists(later))


def with_settings(studio: Studio) -> Studio:
    """The studio with what its charges rest on, in one query."""
    return Studio.objects.select_related("policy", "billing").get(pk=studio.pk)


def writes_by_itself(studio: Studio) -> bool:
    """Whether the daily job writes charges; else they wait until somebody has looked."""
    billing = getattr(studio, "billing", None)
    return billing is None or billing.by_itself


@dataclass
class Weeks:
    """On which weekdays each student has lessons, and on which days nobody has; read when it is first asked for."""

    studio: Studio

    @cached_property
    def days(self) -> dict[str, list[Period]]:
        """Holidays and terms, in one query."""
        found: dict[str, list[Period]] = {"holiday": [], "term": []}
        each = [
            model.objects.filter(studio=self.studio).order_by().values_list(Value(kind), "first_day", "last_day")
            for kind, model in (("holiday", Holiday), ("term", Term))
        ]
        for kind, first, last in each[0].union(each[1], all=True):
            found[kind].append((first, last))
        return found

    @cached_property
    def slots(self) -> dict[int, list[Slot]]:
        found: dict[int, list[Slot]] = {}
        for slot in Slot.objects.standing().filter(studio=self.studio).annotate(student=F("students")):
            found.setdefault(slot.student, []).append(slot)
        return found

    def slots_in(self, student_id: int, part: Period) -> list[Slot]:
        """The student's slots that fall within these days or go on through them; all where there is none. So a slot
        that came later or had ended by then does not change what a past month came to."""
        own = self.slots.get(student_id, [])
        return [slot for slot in own if slot.first_day <= part[1] and not ended_before(slot, part[0])] or own

    def falls(self, slots: Iterable[Slot], day: date) -> bool:
        """Whether one of the slots has its weekday here, outside of holidays and inside of its terms."""
        own = [slot for slot in slots if day.weekday() in weekdays_of(slot)]
        taught = any(not slot.in_terms or within(day, self.days["term"]) for slot in own)
        return taught and not within(day, self.days["holiday"])


def within(day: date, periods: Iterable[Period]) -> bool:
    return any(first <= day <= last for first, last in periods)


def by_lesson_days(studio: Studio) -> Share:
    """The share of a month or term by lesson days: of the days on the student's weekdays, holidays left out, how many
    lie in the part. By days where she has no slot, or the period no such day."""
    weeks = Weeks(studio)

    def share(enrolment: Enrolment, period: Period, part: Period) -> Fraction:
        days = [period[0] + timedelta(days=count) for count in range((period[1] - period[0]).days + 1)]
        slots = weeks.slots_in(enrolment.student_id, part)
        lesson_days = [day for day in days if weeks.falls(slots, day)]
        if not lesson_days:
            return share_of_days(period, part)
        return Fraction(sum(part[0] <= day <= part[1] for day in lesson_days), len(lesson_days))

    return share


def ended_before(slot: Slot, day: date) -> bool:
    """Whether a slot has a last day, and that lies before this one."""
    last = read_rule(slot.rule).until if slot.rule else slot.first_day
    return last is not None and last < day


def weekdays_of(slot: Slot) -> set[int]:
    """The weekdays that the slot's rule names, or that of its first day."""
    named = re.search(r"BYDAY=([A-Z0-9,+-]+)", slot.rule)
    days = {WEEKDAYS.index(part[-2:]) for part in named[1].split(",") if part[-2:] in WEEKDAYS} if named else set()
    return days or {slot.first_day.weekday()}


def preview(*, studio: Studio, at: date) -> Draft:
    """What would be charged on a day; nothing is written."""
    return charging.draft(studio=studio, at=at, lessons=lesson_facts(studio, at), by_lessons=by_lesson_days(studio))


@transaction.atomic
def charge_due(*, studio: Studio, at: date, by: User | None = None) -> Draft:
    """Writes every charge that is due on a day and not written, and every adjustment; nothing twice."""
    studio = charging.lock(studio)
    facts, share = lesson_facts(studio, at), by_lesson_days(studio)
    return charging.write(studio=studio, at=at, lessons=facts, by_lessons=share, by=by)


def due(studio: Studio, at: datetime) -> str:
    """The daily job. Does nothing in a studio that wants to look first."""
    if not writes_by_itself(with_settings(studio)):
        return ""
    made = charge_due(studio=studio, at=at.astimezone(ZoneInfo(studio.timezone)).date())
    if not made.charges:
        return ""
    count = len(made.charges)
    words = {"count": count, "sum": money_words(made.minor, studio.currency, studio.locale)}
    return ngettext("%(count)d charge, %(sum)s", "%(count)d charges, %(sum)s in all", count) % words
