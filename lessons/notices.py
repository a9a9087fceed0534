"""Who is told of lessons by mail, and of what: the rows that are written when something changes or comes near.

Sending them is `lessons.mailing`'s. A row is written in the transaction of what it tells, once for each person.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.core import signing
from django.db import transaction
from django.db.models import Prefetch, QuerySet
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from lessons.models import Lesson, Notice, NoticeWish
from studio.models import Guardian, Student, Studio, User

WAIT = timedelta(minutes=5)  # in which an undo still catches the mail
FARTHEST = timedelta(hours=168)  # before a lesson that anyone can be reminded
SALT = "no more mails about lessons"

SUBJECTS = {
    "moved": _("A lesson of %(name)s is moved"),
    "cancelled": _("A lesson of %(name)s is cancelled"),
    "back": _("A lesson of %(name)s takes place after all"),
    "slot": _("The weekly lesson of %(name)s changes"),
    "reminder": _("%(name)s has a lesson soon"),
    "asked": _("A question about a lesson of %(name)s"),
    "by rule": _("%(name)s: a lesson was changed"),
    "granted": _("%(name)s: what was asked is granted"),
    "refused": _("%(name)s: what was asked cannot be granted"),
    "offered": _("A lesson time is free for %(name)s"),
    "gone": _("The time that was offered to %(name)s is gone"),
    "accepted": _("%(name)s takes the time that you offered"),
}


@dataclass(frozen=True)
class Hearer:
    """Someone who answers for a student, with an address; `user` where there is a login, else `guardian`."""

    email: str
    user: User | None
    guardian: Guardian | None
    wish: NoticeWish


def tell_of_change(lesson: Lesson, what: str, *, at: datetime, was: dict[str, Any] | None = None) -> list[Notice]:
    """Writes a notice to each who answers for the student and wants to hear of changes; none for a lesson that is over.

    `what` is a key of `SUBJECTS`, `was` what stood there before. A notice of the same lesson that has not gone out is
    replaced; what it said stood before still did. One that is on its way at this moment counts as heard.
    """
    if lesson.starts_at <= at and not (was and was.get("starts_at", "") > at.isoformat()):
        return []
    rows = Notice.objects.filter(studio_id=lesson.studio_id, sent_at=None, once__startswith=f"change/{lesson.pk}/")
    waiting = rows.exclude(tries__gt=0, trouble="").order_by("pk")
    earliest = waiting.first()
    if earliest and earliest.content.get("was"):
        was = earliest.content["was"]
    waiting.delete()
    if what == "back" and earliest:  # Nobody has heard that it was cancelled.
        if not was:
            return []
        what = "moved"
    return [
        write(lesson, what, one, once=f"change/{lesson.pk}/{lesson.sequence}", due_at=at + WAIT, was=was or {})
        for one in hearers(lesson.student)
        if one.wish.changes
    ]


def write(
    lesson: Lesson, what: str, hearer: Hearer, *, once: str, due_at: datetime, was: dict[str, Any] | None = None
) -> Notice:
    """The row of one mail to one person; the one that is there already, if there is one."""
    content = {"lesson": lesson.pk, "what": what, "was": was or {}, "student": lesson.student.name}
    content |= {"guardian": hearer.guardian.pk if hearer.guardian else None}
    return write_row(
        lesson.studio_id, what, hearer, once=once, due_at=due_at, name=lesson.student.name, content=content
    )


def write_row(
    studio_id: int, what: str, hearer: Hearer, *, once: str, due_at: datetime, name: str, content: dict[str, Any]
) -> Notice:
    """The row of one mail; `name` is the student's, for the subject. The one that is there already, if there is one."""
    subject = str(SUBJECTS[what]) % {"name": " ".join(name.split())}
    row, _is_new = Notice.objects.get_or_create(
        studio_id=studio_id,
        once=f"{once}/{hearer.email}"[:160],
        defaults={
            "user": hearer.user,
            "to": hearer.email,
            "subject": subject[:200],
            "due_at": due_at,
            "content": content,
        },
    )
    return row


# Who hears


def with_hearers(students: QuerySet[Student]) -> QuerySet[Student]:
    """Students with all that `hearers` looks at, in as many queries whatever their number."""
    guardians = Guardian.objects.select_related("user__notice_wish", "notice_wish").order_by("pk")
    return students.select_related("user__notice_wish").prefetch_related(Prefetch("guardians", guardians))


def hearers(student: Student) -> Iterator[Hearer]:
    """The student and those who answer for her, each address once, with what each wants."""
    seen: set[str] = set()
    for one in people(student):
        if one.email and one.email.lower() not in seen:
            seen.add(one.email.lower())
            yield one


def people(student: Student) -> Iterator[Hearer]:
    if student.user:
        yield Hearer(student.user.email, student.user, None, wish_of(student.user))
    guardians: Iterable[Guardian] = student.guardians.all()
    for one in guardians:
        if one.user:
            yield Hearer(one.user.email, one.user, None, wish_of(one.user))
        else:
            yield Hearer(one.email, None, one, wish_of(one))


def wish_of(person: User | Guardian) -> NoticeWish:
    """What someone wants; what is usual where nothing was said."""
    return getattr(person, "notice_wish", None) or NoticeWish(studio_id=person.studio_id)


# Reminders


@transaction.atomic
def remind(studio: Studio, at: datetime) -> str:
    """The clock's job: a reminder of each lesson to each who wants one, as many hours before as she said."""
    soon = (
        Lesson.objects.held()
        .filter(studio=studio, starts_at__gt=at, starts_at__lte=at + FARTHEST)
        .prefetch_related(Prefetch("student", with_hearers(Student.objects.all())))
        .order_by("starts_at", "pk")
    )
    there = set(Notice.objects.filter(studio=studio, once__startswith="reminder/").values_list("once", flat=True))
    written = 0
    for lesson in soon:
        for one in hearers(lesson.student):
            once = f"reminder/{lesson.pk}/{lesson.starts_at:%Y%m%dT%H%M}"
            is_time = one.wish.reminders and lesson.starts_at - timedelta(hours=one.wish.hours_before) <= at
            if is_time and f"{once}/{one.email}"[:160] not in there:
                write(lesson, "reminder", one, once=once, due_at=at)
                written += 1
    if not written:
        return ""
    return ngettext("%(count)s reminder written", "%(count)s reminders written", written) % {"count": written}


# The way out


def token_for(notice: Notice) -> str:
    """Names the person a mail went to, for the link with which she stops these mails."""
    return signing.dumps({"user": notice.user_id, "guardian": notice.content.get("guardian")}, salt=SALT)


def read_token(token: str) -> User | Guardian:
    """The person of a link. Raises `signing.BadSignature`, `User.DoesNotExist`, `Guardian.DoesNotExist`."""
    given = signing.loads(token, salt=SALT)
    if given["user"]:
        return User.objects.get(pk=given["user"])
    return Guardian.objects.get(pk=given["guardian"])


def keep_wish(person: User | Guardian, **fields: Any) -> NoticeWish:
    """Keeps what someone wants to hear of."""
    key = {"user": person} if isinstance(person, User) else {"guardian": person}
    row, _is_new = NoticeWish.objects.update_or_create(
        **key, defaults=fields, create_defaults={"studio_id": person.studio_id, **fields}
    )
    return row


@transaction.atomic
def stop(person: User | Guardian) -> NoticeWish:
    """No more mails about lessons to this person; those that wait are not sent."""
    kept = keep_wish(person, changes=False, reminders=False)
    waiting = Notice.objects.filter(studio_id=person.studio_id, sent_at=None)
    if isinstance(person, User):
        waiting.filter(user=person).delete()
    else:
        waiting.filter(user=None, content__guardian=person.pk).delete()
    return kept
