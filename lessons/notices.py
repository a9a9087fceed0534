"""Who is told by mail when a lesson changes: the rows that are written; sending them is another's work."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

from django.utils.translation import gettext_lazy as _

from lessons.models import Lesson, Notice, NoticeWish
from studio.models import Guardian, User

WAIT = timedelta(minutes=5)  # in which an undo still catches the mail

SUBJECTS = {
    "moved": _("A lesson of %(name)s is moved"),
    "cancelled": _("A lesson of %(name)s is cancelled"),
    "back": _("A lesson of %(name)s takes place after all"),
    "slot": _("The weekly lesson of %(name)s changes"),
}


def tell_of_change(lesson: Lesson, what: str, *, at: datetime, was: dict[str, Any] | None = None) -> list[Notice]:
    """Writes a notice to each who answers for the student and wants to hear of changes; none for a lesson that is over.

    `what` is a key of `SUBJECTS`, `was` what stood there before. A notice of the same lesson that has not gone out is
    replaced.
    """
    if lesson.starts_at <= at and not (was and was.get("starts_at", "") > at.isoformat()):
        return []
    Notice.objects.filter(studio_id=lesson.studio_id, sent_at=None, once__startswith=f"change/{lesson.pk}/").delete()
    content = {"lesson": lesson.pk, "what": what, "was": was or {}, "student": lesson.student.name}
    content |= {"starts_at": lesson.starts_at.isoformat(), "minutes": lesson.minutes, "place": lesson.place}
    subject = str(SUBJECTS[what]) % {"name": " ".join(lesson.student.name.split())}
    return [
        Notice.objects.get_or_create(
            studio_id=lesson.studio_id,
            once=f"change/{lesson.pk}/{lesson.sequence}/{email}"[:160],
            defaults={"user": user, "to": email, "subject": subject[:200], "due_at": at + WAIT, "content": content},
        )[0]
        for email, user in hearers(lesson)
    ]


def hearers(lesson: Lesson) -> Iterator[tuple[str, User | None]]:
    """The student's and the guardians' addresses, each once, but those who do not want mails about changes."""
    student = lesson.student
    guardians = Guardian.objects.filter(students=student).select_related("user")
    people = [(student.user.email, student.user)] if student.user else []
    people += [(one.user.email if one.user else one.email, one.user) for one in guardians]
    silent = set(
        NoticeWish.objects.filter(user__in=[user for __, user in people if user], changes=False).values_list(
            "user_id", flat=True
        )
    )
    seen = set()
    for email, user in people:
        if email and email.lower() not in seen and not (user and user.pk in silent):
            seen.add(email.lower())
            yield email, user
