"""Who was there: what changes attendance and what follows from it for make-up lessons, as verbs.

What follows for money is not decided here: the charges are read from the attendance and the policy.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.core import signing
from django.db import transaction

from lessons import credits
from lessons.credits import CreditSpent, credits_of
from lessons.laying_out import local_day
from lessons.models import CANCELLED, Attendance, Consequence, CreditEntry, Lesson, Policy
from lessons.notices import tell_of_change
from studio.models import Student, Studio, User

__all__ = [
    "CreditSpent",
    "book_make_up",
    "credits_of",
    "forget_credits",
    "mark_attendance",
    "policy_of",
    "proposed_cancellation",
    "settle_credits",
    "undo_attendance",
]

SALT = "attendance before"
KEPT_HOURS = 24  # how long an undo holds


def policy_of(studio: Studio) -> Policy:
    """The studio's policy; the usual one, not kept yet, for a studio that has written none."""
    return Policy.objects.filter(studio=studio).first() or Policy(studio=studio)


def proposed_cancellation(lesson: Lesson, policy: Policy, *, at: datetime) -> Attendance:
    """Whether a family that cancels at `at` does so in time, by the policy's hours of notice."""
    in_time = lesson.starts_at - at >= timedelta(hours=policy.notice_hours)
    return Attendance.CANCELLED_IN_TIME if in_time else Attendance.CANCELLED_LATE


@transaction.atomic
def mark_attendance(
    *, lesson: Lesson, attendance: str, at: datetime, by: User | None, minutes_late: int | None = None
) -> str:
    """Says who was there, and writes what follows into the ledger of make-up lessons. The same said twice changes
    nothing. Gives a token for `undo_attendance`; "" where nothing changed. Who wants to hear of it is told of a lesson
    that is cancelled, or takes place after all.

    A cancelled lesson keeps its row, with `cancelled_at`; said to have been held after all, it is not cancelled.
    """
    credits.hold(lesson.student_id)
    kept = (
        Lesson.objects.select_for_update(of=("self",))
        .select_related("student__studio", "student__user")
        .get(pk=lesson.pk)
    )
    late = minutes_late if attendance == Attendance.LATE else None
    if (kept.attendance, kept.minutes_late) == (attendance, late):
        return ""
    token = signing.dumps({"lesson": kept.pk, "attendance": kept.attendance, "late": kept.minutes_late}, salt=SALT)
    is_cancelled = attendance in CANCELLED
    is_news = is_cancelled != (kept.cancelled_at is not None)
    if is_news:
        kept.cancelled_at = at if is_cancelled else None
        kept.sequence += 1
    kept.attendance, kept.minutes_late = attendance, late
    kept.save(update_fields=["attendance", "minutes_late", "cancelled_at", "sequence"])
    settle_credits(kept, at=at, by=by)
    if is_news:
        tell_of_change(kept, "cancelled" if is_cancelled else "back", at=at)
    for name in ("attendance", "minutes_late", "cancelled_at", "sequence"):
        setattr(lesson, name, getattr(kept, name))
    return token


def undo_attendance(*, studio: Studio, token: str, at: datetime, by: User | None) -> Lesson:
    """What was said before is said again. Raises `signing.BadSignature` for a token that is not ours or too old, and
    `Lesson.DoesNotExist`."""
    kept = signing.loads(token, salt=SALT, max_age=KEPT_HOURS * 3600)
    lesson = Lesson.objects.select_related("student").get(pk=kept["lesson"], studio=studio)
    mark_attendance(lesson=lesson, attendance=kept["attendance"], at=at, by=by, minutes_late=kept["late"])
    return lesson


# What follows for make-up lessons


def settle_credits(lesson: Lesson, *, at: datetime, by: User | None) -> None:
    """Writes the lines that make the ledger say what the attendance now asks for.

    A make-up lesson earns no second credit: cancelled in time or by the teacher, the one that it was booked with is
    open again; held after all, it is used again, or the lesson is an ordinary one where it has gone elsewhere.
    """
    studio = lesson.student.studio
    policy, day = policy_of(studio), local_day(studio, at)
    consequence = policy.consequence(lesson.attendance)
    if settled_as_make_up(lesson, consequence, at=at, by=by):
        return
    if consequence == Consequence.CREDIT:
        credits.earn(lesson=lesson, day=day, expires_on=credits.expiry(day, policy.credit_days), by=by)
    else:
        credits.take_back(lesson=lesson, day=day, by=by)


def settled_as_make_up(lesson: Lesson, consequence: Consequence, *, at: datetime, by: User | None) -> bool:
    """Settles a lesson that was booked with a credit; False for an ordinary one."""
    root = credits.used_by(lesson)
    if root is None:
        return False
    day = local_day(lesson.student.studio, at)
    lines = credits.lines_of(root)
    own = [line for line in lines if line.lesson_id == lesson.pk]
    is_owed = consequence == Consequence.CREDIT or lesson.attendance == Attendance.TEACHER_CANCELLED
    if own[-1].kind == CreditEntry.Kind.USED:
        if own[-1] != lines[-1]:
            return False  # freed when its credit was taken back
        if is_owed:
            credits.give_back(lesson=lesson, day=day, by=by)
        return True
    if is_owed:
        return True  # given back already
    if own[-1] == lines[-1]:
        credits.write_line(root, CreditEntry.Kind.USED, -1, day=day, by=by, lesson=lesson)
        return True
    Lesson.objects.filter(pk=lesson.pk).update(makes_up_for=None)
    return False


@transaction.atomic
def book_make_up(
    *,
    credit: CreditEntry,
    starts_at: datetime,
    minutes: int,
    at: datetime,
    by: User | None,
    place: str = "",
    where: str = "studio",
    student: Student | None = None,
) -> Lesson:
    """Plans a lesson that makes up for a missed one and uses the credit. Raises `CreditSpent` where it is not open at
    `at`, and where it is another student's."""
    if student and credit.student_id != student.pk:
        raise CreditSpent
    lesson = Lesson.objects.create(
        studio_id=credit.studio_id,
        student_id=credit.student_id,
        starts_at=starts_at,
        minutes=minutes,
        where=where,
        place=place,
        makes_up_for_id=credit.lesson_id,
    )
    credits.use(credit=credit, lesson=lesson, day=local_day(credit.student.studio, at), by=by)
    return lesson


@transaction.atomic
def forget_credits(*, lesson: Lesson, at: datetime, by: User | None) -> CreditEntry | None:
    """Before a lesson is taken out: what it was booked with is open again, and what it earned is taken back. Gives the
    credit that is open again."""
    day = local_day(lesson.student.studio, at)
    credits.take_back(lesson=lesson, day=day, by=by)
    return credits.give_back(lesson=lesson, day=day, by=by)
