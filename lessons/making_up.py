"""Taking lessons out and bringing them back, with what that means for make-up lessons, as verbs."""

from __future__ import annotations

from datetime import datetime

from django.core import signing
from django.db import transaction

from lessons import credits, planning
from lessons.attending import credits_of, forget_credits, settle_credits
from lessons.laying_out import local_day
from lessons.models import CreditEntry, Lesson
from studio.models import Studio, User

SALT = "make-up lesson taken out"


@transaction.atomic
def take_out(*, lesson: Lesson, at: datetime, by: User | None, with_all: bool = False) -> str:
    """Takes a lesson out as `planning.remove_lesson` does, and settles its credits first: the one that it was booked
    with is open again, and nothing is owed for it. Gives a token for `bring_back`, "" where there is no way back.
    Raises `planning.StillHolds`, and then nothing has changed."""
    credit = forget_credits(lesson=lesson, at=at, by=by)
    token = planning.remove_lesson(lesson=lesson, with_all=with_all)
    if not token or credit is None:
        return token
    return signing.dumps({"lesson": token, "credit": credit.pk}, salt=SALT)


@transaction.atomic
def bring_back(*, studio: Studio, token: str, at: datetime, by: User | None) -> Lesson:
    """Brings a lesson back with what was said of it, as a make-up lesson where it was one and its credit is still open.
    Raises what `planning.restore_lesson` raises."""
    try:
        kept = signing.loads(token, salt=SALT, max_age=planning.KEPT_HOURS * 3600)
    except signing.BadSignature:
        lesson = planning.restore_lesson(studio=studio, token=token)
        if lesson.attendance:
            settle_credits(lesson, at=at, by=by)
        return lesson
    lesson = planning.restore_lesson(studio=studio, token=kept["lesson"])
    credit = CreditEntry.objects.filter(pk=kept["credit"], studio=studio).first()
    day = local_day(studio, at)
    if credit and credits_of(lesson.student, at).filter(pk=credit.pk).exists():
        credits.use(credit=credit, lesson=lesson, day=day, by=by)
        lesson.makes_up_for_id = credit.lesson_id
        lesson.save(update_fields=["makes_up_for"])
    if lesson.attendance:
        settle_credits(lesson, at=at, by=by)
    return lesson
