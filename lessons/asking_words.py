"""What families read before they ask, and what they and the teacher read afterwards."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from lessons.asking import Ruling, policy_of_row
from lessons.attending import proposed_cancellation
from lessons.models import Asked, Attendance, Consequence, Lesson
from lessons.policies import FOLLOWS

WHY = {
    "not allowed": gettext_lazy("Your teacher is asked and answers."),
    "not alone": gettext_lazy("A guardian can do this at once; what you ask yourself waits for your teacher."),
    "together": gettext_lazy("Others come to this lesson too: your teacher is asked and answers."),
    "too often": gettext_lazy("What can be changed without asking in a term is used up; your teacher is asked."),
    "other time": gettext_lazy("Another time than these is for your teacher to decide."),
}


def before_cancelling(lesson: Lesson, ruled: Ruling, *, at: datetime) -> Iterator[str]:
    """What follows from cancelling now, in sentences."""
    policy = policy_of_row(lesson)
    proposed = proposed_cancellation(lesson, policy, at=at)
    follows = words_of_consequence(lesson, policy.consequence(proposed))
    hours = policy.notice_hours
    if proposed == Attendance.CANCELLED_LATE:
        yield ngettext(
            "It is less than %(hours)s hour before the lesson, so that is late: your teacher is asked and answers.",
            "It is less than %(hours)s hours before the lesson, so that is late: your teacher is asked and answers.",
            hours,
        ) % {"hours": hours}
        yield _("By the studio's policy, for a lesson cancelled late: %(follows)s.") % {"follows": follows}
        return
    yield _("That is in time. By the studio's policy: %(follows)s.") % {"follows": follows}
    yield _("It is cancelled at once.") if ruled.by_rule else str(WHY.get(ruled.why, WHY["not allowed"]))


def before_moving(lesson: Lesson, ruled: Ruling) -> Iterator[str]:
    """What follows from moving it, in sentences."""
    if ruled.by_rule:
        yield _("Choose one of these times and the lesson moves at once; nothing is owed or lost.")
    elif ruled.why == "too late":
        hours = policy_of_row(lesson).notice_hours
        yield ngettext(
            "It is less than %(hours)s hour before the lesson: your teacher is asked and answers.",
            "It is less than %(hours)s hours before the lesson: your teacher is asked and answers.",
            hours,
        ) % {"hours": hours}
    else:
        yield str(WHY[ruled.why])


def words_of_consequence(lesson: Lesson, consequence: Consequence) -> str:
    if lesson.makes_up_for_id:
        if consequence == Consequence.CREDIT:
            return _("the make-up lesson is owed again")
        return _("the make-up lesson counts as used")
    return str(FOLLOWS[consequence])


def done_words(asked: Asked) -> str:
    """What was just done, or sent."""
    if asked.answer == Asked.Answer.WAITING:
        return _("Your teacher is asked. The answer comes here and by mail.")
    if asked.kind == Asked.Kind.MOVE and asked.wanted:
        return _("The lesson is moved to %(when)s.") % {"when": when(asked.wanted)}
    return _("The lesson of %(when)s is cancelled.") % {"when": when(asked.lesson.starts_at)}


def question(asked: Asked) -> str:
    """ "to move it to Thursday 3 December, 16:30" """
    if asked.kind == Asked.Kind.CANCEL:
        return _("to cancel it")
    if asked.wanted:
        return _("to move it to %(when)s") % {"when": when(asked.wanted)}
    return _("to move it to another time")


def when(moment: datetime) -> str:
    return date_format(timezone.localtime(moment), "l j F, H:i")
