"""From lessons to charges: what attendance and the studio's policy make of a lesson, told to the ledger's rules."""

import re
from datetime import UTC, date, datetime, time, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.translation import ngettext

from lessons.models import Attendance, Consequence, CreditEntry, Holiday, Lesson, Policy, Slot
from studio.locales import money_words
from studio.models import Billing, Enrolment, Plan, Studio, Term, User
from studio.money import share_of_days
from studio.tuition import charging
from studio.tuition.charging import LOOK_BACK, Draft, LessonFact, Period, Share

CHARGED = (Consequence.CHARGE, Consequence.CREDIT)
WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")  # of RFC 5545, Monday first as Python counts


def lesson_facts(studio: Studio, at: date) -> list[LessonFact]:
    """Every lesson until the end of a day whose attendance is said, with what the policy makes of it. A make-up lesson
    was charged with the lesson that it makes up for."""
    zone = ZoneInfo(studio.timezone)
    until = datetime.combine(at + timedelta(days=1), time(), zone).astimezone(UTC)
    policy = Policy.objects.filter(studio=studio).first() or Policy(studio=studio)
    make_ups = booked_with_credits(studio)
    rows = Lesson.objects.filter(
        studio=studio, starts_at__lt=until, starts_at__gte=until - LOOK_BACK - timedelta(days=2)
    ).exclude(attendance=Attendance.UNSAID)
    found = []
    fields = ("pk", "student_id", "starts_at", "attendance", "makes_up_for_id")
    for pk, student, starts_at, attendance, makes_up_for in rows.values_list(*fields):
        counts = policy.consequence(attendance) in CHARGED and makes_up_for is None and pk not in make_ups
        remark = "" if attendance == Attendance.PRESENT else str(Attendance(attendance).label)
        found.append(LessonFact(f"lesson-{pk}", student, starts_at.astimezone(zone).date(), counts, remark))
    return found


def booked_with_credits(studio: Studio) -> set[int]:
    """The lessons that a make-up credit stands used for: the last line of a credit says what became of it."""
    last: dict[int, int | None] = {}
    lines = CreditEntry.objects.filter(studio=studio).exclude(of=None).order_by("pk")
    for root, kind, lesson in lines.values_list("of_id", "kind", "lesson_id"):
        last[root] = lesson if kind == CreditEntry.Kind.USED else None
    return {lesson for lesson in last.values() if lesson is not None}


def by_lesson_days(studio: Studio) -> Share:
    """The share of a month or term by lesson days: of the days on the student's weekdays, holidays left out, how many
    lie in the part. By days where she has no slot, or the period no such day."""
    holidays = list(Holiday.objects.filter(studio=studio).values_list("first_day", "last_day"))
    weekdays: dict[int, set[int]] = {}
    terms: list[Period] = list(Term.objects.filter(studio=studio).values_list("first_day", "last_day"))
    in_terms: dict[int, bool] = {}
    for slot in Slot.objects.standing().filter(studio=studio).prefetch_related("students"):
        for student in slot.students.all():
            weekdays.setdefault(student.pk, set()).update(weekdays_of(slot))
            in_terms[student.pk] = in_terms.get(student.pk, True) and slot.in_terms

    def share(enrolment: Enrolment, period: Period, part: Period) -> Fraction:
        own = weekdays.get(enrolment.student_id, set())

        def falls(day: date) -> bool:
            taught = not in_terms.get(enrolment.student_id) or any(first <= day <= last for first, last in terms)
            return day.weekday() in own and taught and not any(first <= day <= last for first, last in holidays)

        days = [period[0] + timedelta(days=count) for count in range((period[1] - period[0]).days + 1)]
        lesson_days = [day for day in days if falls(day)]
        if not lesson_days:
            return share_of_days(period, part)
        return Fraction(sum(part[0] <= day <= part[1] for day in lesson_days), len(lesson_days))

    return share


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


def without_attendance(studio: Studio, at: datetime) -> int:
    """How many lessons of those who pay by the lesson are over and have no attendance: they wait to be charged."""
    return (
        Lesson.objects.filter(
            studio=studio,
            attendance=Attendance.UNSAID,
            starts_at__lt=at,
            starts_at__gte=at - LOOK_BACK,
            student__enrolments__in=Enrolment.objects.filter(
                studio=studio, plan__per__in=(Plan.Per.LESSON, Plan.Per.PACKAGE)
            ).on(at.date()),
        )
        .held()
        .distinct()
        .count()
    )


def due(studio: Studio, at: datetime) -> str:
    """The daily job. Does nothing in a studio that wants to look first."""
    if Billing.objects.filter(studio=studio, by_itself=False).exists():
        return ""
    made = charge_due(studio=studio, at=at.astimezone(ZoneInfo(studio.timezone)).date())
    if not made.charges:
        return ""
    count = len(made.charges)
    words = {"count": count, "sum": money_words(made.minor, studio.currency, studio.locale)}
    return ngettext("%(count)d charge, %(sum)s", "%(count)d charges, %(sum)s in all", count) % words
