"""What pages show of questions: the teacher each with what stands in its way, the family what she answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import OuterRef, QuerySet, Subquery

from lessons.ahead import Ahead
from lessons.asking import around_all, policy_of_row
from lessons.attending import proposed_cancellation
from lessons.calendar import nearest_free
from lessons.meetings import OFFERS
from lessons.models import Asked, Lesson
from lessons.policies import FOLLOWS

Kind, Answer = Asked.Kind, Asked.Answer
ANSWER_SHOWN = timedelta(days=7)  # on the page of the week


@dataclass(frozen=True)
class Shown:
    """One question as the teacher sees it: `against` is what stands in the way of the wanted time, in sentences,
    `nearest` are free times instead, `proposed` the kind of cancellation it would be."""

    asked: Asked
    against: Sequence[str] = ()
    nearest: Sequence[datetime] = ()
    proposed: str = ""
    follows: str = ""


def shown(rows: Sequence[Asked], *, at: datetime) -> list[Shown]:
    """The questions with what the teacher needs to answer them: seven queries more, however many there are."""
    moves = [row for row in rows if row.kind == Kind.MOVE]
    ahead = around_all(moves, at=at) if moves else None
    return [shown_move(row, ahead, at=at) if ahead and row.kind == Kind.MOVE else shown_cancel(row) for row in rows]


def shown_move(row: Asked, ahead: Ahead, *, at: datetime) -> Shown:
    against = ahead.words_against(ahead.wanted(row.lesson, row.wanted)) if row.wanted else []
    if row.wanted and not against:
        return Shown(row)
    around_it = max(row.wanted or row.lesson.starts_at, at)
    free = ahead.free(ahead.wanted(row.lesson, around_it))
    nearest = nearest_free(around_it, row.lesson.minutes, free, count=OFFERS + 1)
    return Shown(row, against, [one for one in nearest if one != row.lesson.starts_at][:OFFERS])


def shown_cancel(row: Asked) -> Shown:
    policy = policy_of_row(row.lesson)
    proposed = proposed_cancellation(row.lesson, policy, at=row.asked_at)
    return Shown(row, proposed=proposed, follows=str(FOLLOWS[policy.consequence(proposed)]))


# What the family sees


def answered_since(asked: QuerySet[Asked], since: datetime) -> QuerySet[Asked]:
    """What the teacher answered since then, the newest first."""
    rows = asked.filter(by_rule=False, answered_at__gt=since, answer__in=[Answer.GRANTED, Answer.REFUSED])
    return rows.order_by("-answered_at", "-pk")


TOLD = {"kind": "kind", "answer": "answer", "why": "why", "starts_at": "lesson__starts_at"}
TOLD |= {"attendance": "lesson__attendance"}


def with_answer(lessons: QuerySet[Lesson], *, since: datetime) -> QuerySet[Lesson]:
    """With what the teacher last answered the student since then, for `answer_from`."""
    rows = answered_since(Asked.objects.filter(lesson__student=OuterRef("student")), since)
    return lessons.annotate(**{f"told_{name}": Subquery(rows.values(path)[:1]) for name, path in TOLD.items()})


def answer_from(lesson: Lesson) -> Asked | None:
    """The answer that came along with a lesson, as a row that is not kept; None where there was none."""
    told = {name: getattr(lesson, f"told_{name}") for name in TOLD}
    if not told["answer"]:
        return None
    about = Lesson(starts_at=told.pop("starts_at"), attendance=told.pop("attendance"))
    return Asked(lesson=about, **told)
