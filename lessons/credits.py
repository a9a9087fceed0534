"""The ledger of make-up lessons: a line is written once and stays; the balance is the sum of the lines.

A credit is the line that opened it (`of` is None) with all lines that name it. Together they sum to one while it is
open and to nought when it is used, lapsed or taken back, so no balance is ever below nought. Every verb first holds
the student's row: two windows at once write one line.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import F, OuterRef, Q, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from lessons.laying_out import local_day
from lessons.models import CreditEntry, Lesson
from studio.models import Student, Studio, User

Kind = CreditEntry.Kind


class CreditSpent(ValueError):
    """The credit is used, lapsed or taken back already."""


def hold(student_id: int) -> None:
    """Holds the student's row for the rest of the transaction."""
    Student.objects.select_for_update(no_key=True).get(pk=student_id)


# What there is


def with_left(entries: QuerySet[CreditEntry]) -> QuerySet[CreditEntry]:
    """The lines that opened a credit, with `left`: 1 while it is open, 0 afterwards."""
    return entries.filter(of=None).annotate(left=F("lessons") + Coalesce(Sum("spent_by__lessons"), Value(0)))


def open_on(entries: QuerySet[CreditEntry], day: date) -> QuerySet[CreditEntry]:
    """The credits that can be used on a day, the oldest first."""
    holding = Q(expires_on=None) | Q(expires_on__gte=day)
    return with_left(entries).filter(holding, left=1).select_related("lesson").order_by("day", "pk")


def credits_of(student: Student, at: datetime) -> QuerySet[CreditEntry]:
    """The student's open credits at a moment, the oldest first."""
    return open_on(student.credit_entries.all(), local_day(student.studio, at))


def balance_of(student: Student) -> int:
    """How many make-up lessons are owed: the sum of all lines, those that lapse today or earlier included until the
    daily job has written it."""
    return student.credit_entries.aggregate(sum=Coalesce(Sum("lessons"), 0))["sum"]


def with_policy(lessons: QuerySet[Lesson]) -> QuerySet[Lesson]:
    """With `policy_words`, the studio's policy as families read it (None: none is written), and `owed`, how many
    make-up lessons the student is owed (None: there is no ledger yet)."""
    lines = CreditEntry.objects.filter(student=OuterRef("student")).order_by().values("student")
    return lessons.annotate(
        policy_words=F("studio__policy__words"), owed=Subquery(lines.annotate(sum=Sum("lessons")).values("sum"))
    )


@dataclass(frozen=True)
class Line:
    """One line of the ledger in words, with the balance after it."""

    entry: CreditEntry
    words: str
    balance: int


def ledger(entries: Iterable[CreditEntry]) -> list[Line]:
    """The lines in the order in which they were written, each with the balance after it."""
    lines, balance = [], 0
    for entry in sorted(entries, key=lambda entry: entry.pk):
        balance += entry.lessons
        lines.append(Line(entry, words_of(entry), balance))
    return lines


def words_of(entry: CreditEntry) -> str:
    if entry.kind == Kind.EARNED:
        return _("a make-up lesson is owed")
    if entry.kind == Kind.USED:
        return _("used for a make-up lesson")
    if entry.kind == Kind.LAPSED:
        return _("lapsed")
    if entry.of_id is None:
        return _("given by the teacher")
    return _("given back") if entry.lessons > 0 else _("taken back")


# What writes lines


def write_line(
    root: CreditEntry, kind: Kind, lessons: int, *, day: date, by: User | None, lesson: Lesson | None, remark: str = ""
) -> CreditEntry:
    """One more line of a credit; its number among them keeps it from being written twice."""
    return CreditEntry.objects.create(
        studio_id=root.studio_id,
        student_id=root.student_id,
        of=root,
        kind=kind,
        lessons=lessons,
        day=day,
        lesson=lesson,
        remark=remark,
        written_by=by,
        once=f"{root.pk}:{root.spent_by.count() + 1}",
    )


def lines_of(root: CreditEntry) -> list[CreditEntry]:
    return [root, *root.spent_by.order_by("pk")]


def left_of(root: CreditEntry) -> int:
    return sum(line.lessons for line in lines_of(root))


@transaction.atomic
def earn(*, lesson: Lesson, day: date, expires_on: date | None, by: User | None) -> None:
    """A make-up lesson is owed for this one. Once: again after it was taken back, never a second time beside it."""
    hold(lesson.student_id)
    root, is_new = CreditEntry.objects.get_or_create(
        studio_id=lesson.studio_id,
        once=f"earned:{lesson.pk}",
        defaults={
            "student_id": lesson.student_id,
            "kind": Kind.EARNED,
            "lessons": 1,
            "day": day,
            "expires_on": expires_on,
            "lesson": lesson,
            "written_by": by,
        },
    )
    last = lines_of(root)[-1]
    if not is_new and last.kind == Kind.CORRECTED and last.lessons < 0:
        write_line(root, Kind.CORRECTED, 1, day=day, by=by, lesson=lesson)


@transaction.atomic
def take_back(*, lesson: Lesson, day: date, by: User | None) -> Lesson | None:
    """Nothing is owed for this lesson after all. Gives the lesson that had been booked with the credit, which is an
    ordinary one from now on; None where there was none. What has lapsed stays so."""
    hold(lesson.student_id)
    root = CreditEntry.objects.filter(studio_id=lesson.studio_id, once=f"earned:{lesson.pk}").first()
    if root is None:
        return None
    last, freed = lines_of(root)[-1], None
    if last.kind == Kind.USED:
        freed = last.lesson
        write_line(root, Kind.CORRECTED, 1, day=day, by=by, lesson=lesson)
        Lesson.objects.filter(pk=last.lesson_id).update(makes_up_for=None)
    if left_of(root) == 1:
        write_line(root, Kind.CORRECTED, -1, day=day, by=by, lesson=lesson)
    return freed


@transaction.atomic
def use(*, credit: CreditEntry, lesson: Lesson, day: date, by: User | None) -> None:
    """Uses a credit for a make-up lesson. Raises `CreditSpent` where it is not open on that day."""
    hold(credit.student_id)
    if left_of(credit) != 1 or (credit.expires_on and credit.expires_on < day):
        raise CreditSpent
    write_line(credit, Kind.USED, -1, day=day, by=by, lesson=lesson)


def used_by(lesson: Lesson) -> CreditEntry | None:
    """The credit that a lesson was booked with, None for an ordinary one."""
    line = lesson.credit_entries.filter(kind=Kind.USED).select_related("of").order_by("pk").last()
    return line.of if line else None


@transaction.atomic
def give_back(*, lesson: Lesson, day: date, by: User | None) -> CreditEntry | None:
    """The credit that this lesson was booked with is open again; gives it, None where the lesson holds none."""
    hold(lesson.student_id)
    root = used_by(lesson)
    if root is None:
        return None
    last = lines_of(root)[-1]
    if last.kind != Kind.USED or last.lesson_id != lesson.pk:
        return None
    write_line(root, Kind.CORRECTED, 1, day=day, by=by, lesson=lesson)
    return root


@transaction.atomic
def correct(
    *, student: Student, lessons: int, at: datetime, by: User, remark: str, expires_on: date | None = None
) -> None:
    """The teacher gives a make-up lesson of her own accord (1) or takes the oldest open one back (-1). Raises
    `CreditSpent` where none is open."""
    hold(student.pk)
    day = local_day(student.studio, at)
    if lessons < 0:
        root = credits_of(student, at).first()
        if root is None:
            raise CreditSpent
        write_line(root, Kind.CORRECTED, -1, day=day, by=by, lesson=None, remark=remark)
        return
    number = student.credit_entries.filter(of=None, kind=Kind.CORRECTED).count() + 1
    CreditEntry.objects.create(
        studio_id=student.studio_id,
        student=student,
        kind=Kind.CORRECTED,
        lessons=1,
        day=day,
        expires_on=expires_on,
        remark=remark,
        written_by=by,
        once=f"given:{student.pk}:{number}",
    )


def lapse(studio: Studio, at: datetime) -> str:
    """Writes off what has expired, once. Says how many credits, "" for none."""
    day = local_day(studio, at)
    expired = with_left(CreditEntry.objects.filter(studio=studio, expires_on__lt=day)).filter(left=1)
    number = sum(lapse_one(root, day) for root in expired)
    if not number:
        return ""
    words = ngettext("%(number)d make-up lesson lapsed", "%(number)d make-up lessons lapsed", number)
    return words % {"number": number}


@transaction.atomic
def lapse_one(root: CreditEntry, day: date) -> bool:
    hold(root.student_id)
    if left_of(root) != 1:
        return False
    write_line(root, Kind.LAPSED, -1, day=day, by=None, lesson=root.lesson)
    return True


def expiry(day: date, days: int | None) -> date | None:
    """The last day on which a credit holds; None for ever."""
    return None if days is None else day + timedelta(days=days)
