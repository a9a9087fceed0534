"""Families ask to cancel or to move a lesson: what the studio's rules make of it, and what changes it, as verbs.

The rules decide at once where the policy lets families do it themselves, in time and not too often; everything else
waits for the teacher. Every verb first holds the studio's row, so that of two who want one time only one gets it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.core import signing
from django.db import transaction
from django.db.models import Exists, F, OuterRef, QuerySet

from lessons import asking_mails, planning
from lessons.ahead import Ahead, gather_ahead
from lessons.attending import mark_attendance, proposed_cancellation, undo_attendance
from lessons.calendar import starts_in
from lessons.models import CANCELLED, Asked, Attendance, Lesson, Policy
from lessons.recurrence import moment_of
from studio.models import Guardian, Studio, Term, User

Kind, Answer = Asked.Kind, Asked.Answer
SALT = "asked before"
KEPT_HOURS = 24  # how long an undo holds
WEEKS_AFTER = 2  # a lesson can be moved to a time so long after it
MOST_DAYS, MOST_OF_A_DAY = 8, 3  # of the free times that are shown
REASONS = ("not allowed", "too late", "too often", "not alone", "together", "other time")


class NotAnyMore(ValueError):
    """The lesson has begun, is cancelled, or an earlier question about it still waits."""


class Answered(ValueError):
    """It was answered or withdrawn meanwhile."""


class TimeTaken(ValueError):
    """The time is not free any more."""


@dataclass(frozen=True)
class Ruling:
    """What becomes of asking. `why` is "" where the rules decide, else one of `REASONS`: the teacher is asked."""

    why: str = ""

    @property
    def by_rule(self) -> bool:
        return not self.why


def policy_of_row(lesson: Lesson) -> Policy:
    """The policy that came along with the lesson (`with_asking`); the usual one where none is kept."""
    return getattr(lesson.studio, "policy", None) or Policy(studio=lesson.studio)


def with_asking(lessons: QuerySet[Lesson]) -> QuerySet[Lesson]:
    """With all that the rules look at: `is_asked` (a question waits), `has_guardians`, `is_together` (others come to
    the same lesson)."""
    others = Lesson.objects.held().filter(
        slot=OuterRef("slot"), meant_for=OuterRef("meant_for"), starts_at=OuterRef("starts_at")
    )
    return lessons.select_related("student__user", "student__studio", "studio__policy").annotate(
        is_asked=Exists(Asked.objects.filter(lesson=OuterRef("pk"), answer=Answer.WAITING)),
        has_guardians=Exists(Guardian.objects.filter(students=OuterRef("student"))),
        is_together=Exists(others.exclude(student=OuterRef("student"))),
    )


# The rules


def ruling(
    lesson: Lesson, *, by: User, kind: str, at: datetime, wanted: datetime | None = None, often: bool | None = None
) -> Ruling:
    """Whether the rules grant it, or why the teacher is asked. `lesson` comes from `with_asking`; `often` is what
    `too_often` says of it, where the caller knows."""
    policy = policy_of_row(lesson)
    notice = timedelta(hours=policy.notice_hours)
    if not (policy.may_cancel if kind == Kind.CANCEL else policy.may_move):
        return Ruling("not allowed")
    if by.is_student and lesson.has_guardians and not policy.students_too:
        return Ruling("not alone")
    if lesson.starts_at - at < notice or (wanted and wanted - at < notice):
        return Ruling("too late")
    if kind == Kind.MOVE and lesson.is_together:
        return Ruling("together")
    if too_often(lesson) if often is None else often:
        return Ruling("too often")
    return Ruling()


def too_often(lesson: Lesson) -> bool:
    """Whether all changes that the policy allows in a term were made."""
    most = policy_of_row(lesson).changes_a_term
    return most is not None and changes_in_term(lesson) >= most


def changes_in_term(lesson: Lesson) -> int:
    """How often the rules let this student change a lesson in the term that holds the lesson's day.

    For a day in no term it is the half of the calendar year that counts, January to June or July to December, with the
    terms in it.
    """
    studio = lesson.student.studio
    zone = ZoneInfo(studio.timezone)
    first, last = term_around(studio, lesson.starts_at.astimezone(zone).date())
    return Asked.objects.filter(
        lesson__student=lesson.student_id,
        answer=Answer.GRANTED,
        by_rule=True,
        lesson__starts_at__gte=moment_of(first, time(), zone),
        lesson__starts_at__lt=moment_of(last + timedelta(days=1), time(), zone),
    ).count()


def term_around(studio: Studio, day: date) -> tuple[date, date]:
    """The first and the last day of the term, or half of a year, that holds a day."""
    term = Term.objects.filter(studio=studio).on(day).first()
    if term:
        return term.first_day, term.last_day
    return (
        (date(day.year, 1, 1), date(day.year, 6, 30))
        if day.month < 7
        else (date(day.year, 7, 1), date(day.year, 12, 31))
    )


# Free times for a move


def times_for(lesson: Lesson, *, at: datetime, by_rule: bool = False) -> list[tuple[date, list[datetime]]]:
    """Free times to which a lesson could move, by day, the nearest day first: within the teacher's hours and those of
    the student, with nothing in the way; `by_rule` only those that lie as far ahead as the policy's notice. None for a
    lesson to which others come too."""
    if lesson.is_together:
        return []
    ahead = around(lesson, at=at)
    soonest = at + timedelta(hours=policy_of_row(lesson).notice_hours) if by_rule else at
    zone, length = ahead.zone, lesson.minutes
    usual = lesson.starts_at.astimezone(zone)
    days: dict[date, list[datetime]] = {}
    for stretch in ahead.free(ahead.wanted(lesson, lesson.starts_at)):
        for start in starts_in(stretch, length):
            local = start.astimezone(zone)
            if start != lesson.starts_at and start >= soonest:
                days.setdefault(local.date(), []).append(local)
    nearest = sorted(days, key=lambda day: (abs((day - usual.date()).days), day))[:MOST_DAYS]
    return [(day, nearest_of_day(days[day], usual)) for day in nearest]


def nearest_of_day(starts: Sequence[datetime], usual: datetime) -> list[datetime]:
    """Those nearest to the usual time of day, not close together, in order of time."""
    wanted = usual.hour * 60 + usual.minute
    found: list[datetime] = []
    for start in sorted(starts, key=lambda one: (abs(one.hour * 60 + one.minute - wanted), one)):
        if all(abs(start - other) >= timedelta(minutes=30) for other in found):
            found.append(start)
        if len(found) == MOST_OF_A_DAY:
            break
    return sorted(found)


def around(lesson: Lesson, *, at: datetime) -> Ahead:
    studio = lesson.student.studio
    zone = ZoneInfo(studio.timezone)
    today = at.astimezone(zone).date()
    last = max(today, lesson.starts_at.astimezone(zone).date()) + timedelta(weeks=WEEKS_AFTER)
    first = max(today, last - timedelta(weeks=2 * WEEKS_AFTER))
    return gather_ahead(studio, [lesson.student], first, last, at=at)


def around_all(rows: Sequence[Asked], *, at: datetime, days: int = 7) -> Ahead:
    """The days around what was asked: those of the lessons and those of the wanted times."""
    studio = rows[0].lesson.student.studio
    zone = ZoneInfo(studio.timezone)
    moments = [moment for row in rows for moment in (row.lesson.starts_at, row.wanted) if moment]
    first, last = (moment.astimezone(zone).date() for moment in (min(moments), max(moments)))
    margin = timedelta(days=days)
    return gather_ahead(studio, [row.lesson.student for row in rows], first - margin, last + margin, at=at)


# What changes it


def hold(studio_id: int) -> None:
    """Holds the studio's row for the rest of the transaction."""
    Studio.objects.select_for_update(no_key=True).get(pk=studio_id)


@transaction.atomic
def ask(
    *,
    lesson: Lesson,
    by: User,
    kind: str,
    at: datetime,
    wanted: datetime | None = None,
    listed: bool = False,
    remark: str = "",
) -> tuple[Asked, str]:
    """A family asks. Gives the row, and a token for `undo` where the rules granted it ("" where the teacher is asked).

    `listed`: the time is one of `times_for`; any other time, or none, is for the teacher to decide. Raises
    `NotAnyMore`, and `TimeTaken` where a listed time is not free any more.
    """
    hold(lesson.studio_id)
    row = with_asking(Lesson.objects.filter(pk=lesson.pk)).get()
    if row.cancelled_at or row.starts_at <= at or row.is_asked:
        raise NotAnyMore
    ruled = ruling(row, by=by, kind=kind, at=at, wanted=wanted)
    if kind == Kind.MOVE and listed and not row.is_together:
        ahead = around(row, at=at)
        if wanted is None or not ahead.holds(ahead.wanted(row, wanted)):
            raise TimeTaken
    elif kind == Kind.MOVE and ruled.by_rule:
        ruled = Ruling("other time")
    asked = Asked(
        studio_id=row.studio_id, lesson=row, asked_by=by, kind=kind, wanted=wanted, remark=remark, asked_at=at
    )
    if not ruled.by_rule:
        asked.save()
        asking_mails.tell_teacher(asked, "asked", at=at)
        return asked, ""
    token = carry_out(asked, at=at, by=by)
    asked.answer, asked.answered_at, asked.by_rule = Answer.GRANTED, at, True
    asked.save()
    asking_mails.tell_teacher(asked, "by rule", at=at)
    return asked, sealed(asked, token, by)


def carry_out(asked: Asked, *, at: datetime, by: User, attendance: str = "") -> str:
    """Does what was asked; gives the token with which it is undone. Whether a lesson is cancelled in time goes by when
    the family asked, not by when it was answered."""
    lesson = asked.lesson
    if asked.kind == Kind.MOVE:
        return planning.move_lesson(lesson=lesson, starts_at=asked.wanted, at=at)
    said = attendance or proposed_cancellation(lesson, policy_of_row(lesson), at=asked.asked_at)
    return mark_attendance(lesson=lesson, attendance=said, at=at, by=by)


@transaction.atomic
def grant(
    *,
    asked: Asked,
    by: User,
    at: datetime,
    why: str = "",
    attendance: str = "",
    to: datetime | None = None,
    anyway: bool = False,
) -> str:
    """The teacher grants it; `attendance` says which kind of cancellation it is, `to` another time than was wanted.
    Gives a token for `undo`. Raises `Answered`, `NotAnyMore` where the lesson is cancelled already, and `TimeTaken`
    where something stands in the way of the time, unless `anyway`."""
    row = waiting_row(asked)
    if row.lesson.cancelled_at:
        raise NotAnyMore
    if row.kind == Kind.MOVE:
        row.wanted = to or row.wanted
        if row.wanted is None:
            raise TimeTaken
        ahead = around_all([row], at=at, days=1)
        if not anyway and ahead.against(ahead.wanted(row.lesson, row.wanted)):
            raise TimeTaken
    said = Attendance(attendance) if attendance in CANCELLED else ""
    token = carry_out(row, at=at, by=by, attendance=said)
    return answered(row, Answer.GRANTED, token, by=by, at=at, why=why, wanted=asked.wanted)


@transaction.atomic
def refuse(*, asked: Asked, by: User, at: datetime, why: str = "") -> str:
    """The teacher refuses it. Gives a token for `undo`. Raises `Answered`."""
    return answered(waiting_row(asked), Answer.REFUSED, "", by=by, at=at, why=why, wanted=asked.wanted)


@transaction.atomic
def withdraw(*, asked: Asked, at: datetime) -> None:
    """The family takes it back. Raises `Answered`."""
    row = waiting_row(asked)
    row.answer, row.answered_at = Answer.WITHDRAWN, at
    row.save(update_fields=["answer", "answered_at"])
    asking_mails.take_back(row)


def waiting_row(asked: Asked) -> Asked:
    """The row as it stands, held for the rest of the transaction. Raises `Answered`."""
    hold(asked.studio_id)
    row = (
        Asked.objects.select_for_update(of=("self",))
        .select_related("lesson__student__user", "lesson__student__studio", "lesson__studio__policy")
        .get(pk=asked.pk)
    )
    if row.answer != Answer.WAITING:
        raise Answered
    return row


def answered(
    row: Asked, answer: Answer, token: str, *, by: User, at: datetime, why: str, wanted: datetime | None
) -> str:
    row.answer, row.answered_at, row.why = answer, at, why.strip()[:300]
    row.save(update_fields=["answer", "answered_at", "why", "wanted"])
    asking_mails.tell_family(row, at=at)
    return sealed(row, token, by, wanted)


# Undo


def sealed(asked: Asked, token: str, by: User, wanted: datetime | None = None) -> str:
    kept = {"asked": asked.pk, "token": token, "by": by.pk, "wanted": wanted.isoformat() if wanted else None}
    return signing.dumps(kept, salt=SALT)


@transaction.atomic
def undo(*, by: User, token: str, at: datetime) -> Asked:
    """Takes back an answer: what was granted is undone; the question waits again, or counts as withdrawn where the
    rules had granted it. Raises `signing.BadSignature`, `Asked.DoesNotExist`, `planning.ChangedSince` where the lesson
    was changed since, and `TimeTaken` where a family wants back what is given away by now."""
    kept = signing.loads(token, salt=SALT, max_age=KEPT_HOURS * 3600)
    if kept["by"] != by.pk:
        raise Asked.DoesNotExist
    hold(by.studio_id)
    row = (
        Asked.objects.select_related("lesson__student__studio", "lesson__studio__policy")
        .exclude(answer__in=[Answer.WAITING, Answer.WITHDRAWN])
        .get(pk=kept["asked"], studio_id=by.studio_id)
    )
    if row.answer == Answer.GRANTED and kept["token"]:
        put_back(row, kept["token"], by=by, at=at)
    row.answer = Answer.WITHDRAWN if row.by_rule else Answer.WAITING
    row.answered_at = at if row.by_rule else None
    row.why = ""
    if not row.by_rule:
        row.wanted = datetime.fromisoformat(kept["wanted"]) if kept["wanted"] else None
    row.save(update_fields=["answer", "answered_at", "why", "wanted"])
    asking_mails.take_back(row)
    return row


def put_back(row: Asked, token: str, *, by: User, at: datetime) -> None:
    lesson, studio = row.lesson, row.lesson.student.studio
    if row.kind == Kind.CANCEL:
        if not lesson.cancelled_at:
            raise planning.ChangedSince
        undo_attendance(studio=studio, token=token, at=at, by=by)
    else:
        lesson = planning.undo_move(studio=studio, token=token, at=at)
    ahead = around(lesson, at=at)
    if not by.is_teacher and not ahead.is_free(ahead.wanted(lesson, lesson.starts_at)):
        raise TimeTaken  # and the transaction puts everything back


# What there is


def asked_of(lessons: QuerySet[Lesson]) -> QuerySet[Asked]:
    """What was asked about these lessons."""
    return Asked.objects.filter(lesson__in=lessons).select_related("lesson__student", "asked_by")


def open_for(studio_id: int) -> QuerySet[Asked]:
    """What waits for the teacher, by the lesson's time."""
    return (
        Asked.objects.filter(studio=studio_id, answer=Answer.WAITING)
        .select_related("lesson__student__studio", "lesson__studio__policy", "asked_by")
        .order_by(F("lesson__starts_at"), "pk")
    )
