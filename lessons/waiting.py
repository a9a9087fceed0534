"""The waiting list: who would take a freed time; offering one and accepting it, as verbs."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from django.core import signing
from django.db import transaction
from django.db.models import Exists, OuterRef, Q

from lessons import asking_mails, planning, scheduling
from lessons.ahead import gather_ahead
from lessons.asking import TimeTaken, hold
from lessons.attending import book_make_up, credits_of
from lessons.freed import Fit, Freed, open_offers
from lessons.meetings import Wanted
from lessons.models import CreditEntry, Lesson, Offer, Waiting
from studio.models import Guardian, Student, Studio, User

SALT = "taken off the waiting list"
KEPT_HOURS = 24  # how long an undo holds
HOLDS = timedelta(hours=48)  # an offer, or until the time itself


# The list


@transaction.atomic
def put_on(*, student: Student, minutes: int, remark: str = "", until: date | None = None, at: datetime) -> Waiting:
    """A student waits for a time, or waits for another one than before; her place in the list stays."""
    row, _is_new = Waiting.objects.update_or_create(
        student=student,
        defaults={"minutes": minutes, "remark": remark, "until": until},
        create_defaults={
            "studio_id": student.studio_id,
            "minutes": minutes,
            "remark": remark,
            "until": until,
            "since": at,
        },
    )
    return row


@transaction.atomic
def take_off(*, waiting: Waiting) -> str:
    """Gives a token for `put_back`."""
    until = waiting.until.isoformat() if waiting.until else None
    kept = {"student": waiting.student_id, "minutes": waiting.minutes, "remark": waiting.remark, "until": until}
    token = signing.dumps(kept | {"since": waiting.since.isoformat()}, salt=SALT)
    waiting.delete()
    return token


@transaction.atomic
def put_back(*, studio: Studio, token: str) -> Waiting:
    """Puts a student back on the list where she stood. Raises `signing.BadSignature`, `Student.DoesNotExist`."""
    kept = signing.loads(token, salt=SALT, max_age=KEPT_HOURS * 3600)
    student = Student.objects.get(pk=kept["student"], studio=studio)
    until = date.fromisoformat(kept["until"]) if kept["until"] else None
    return put_on(
        student=student,
        minutes=kept["minutes"],
        remark=kept["remark"],
        until=until,
        at=datetime.fromisoformat(kept["since"]),
    )


def waiting_list(studio: Studio, *, today: date) -> list[Waiting]:
    """Those who wait, the longest first; not who has left or whose last day is over."""
    rows = Waiting.objects.filter(Q(until=None) | Q(until__gte=today), studio=studio, student__left_on=None)
    return list(rows.select_related("student__user").order_by("since", "pk"))


# Offering


class Offered(NamedTuple):
    """What was offered: the offers, how many mails are written, and whom no mail reaches."""

    offers: list[Offer]
    mails: int
    unreached: list[Student]


@transaction.atomic
def offer_time(*, studio: Studio, freed: Freed, students: Iterable[int], at: datetime) -> Offered:
    """Offers a freed time to those of these students whom it fits."""
    hold(studio.pk)
    wanted, offers, unreached, mails = set(students), [], [], 0
    for fit in freed.fits:
        if fit.waiting.student_id in wanted:
            offer = offer_to(studio, freed, fit, at=at)
            told = asking_mails.tell_of_offer(offer, "offered", at=at)
            offers.append(offer)
            mails += told
            unreached += [] if told else [offer.student]
    return Offered(offers, mails, unreached)


def offer_to(studio: Studio, freed: Freed, fit: Fit, *, at: datetime) -> Offer:
    """One student's offer; the one that is there already holds anew."""
    offer, _is_new = Offer.objects.update_or_create(
        student=fit.waiting.student,
        starts_at=fit.starts_at,
        state=Offer.State.OPEN,
        defaults={
            "studio": studio,
            "minutes": fit.waiting.minutes,
            "place": freed.place,
            "weekly": freed.weekly,
            "made_at": at,
            "expires_at": min(at + HOLDS, fit.starts_at),
        },
    )
    return offer


@transaction.atomic
def withdraw_offers(*, offers: Iterable[Offer], at: datetime) -> int:
    """The teacher takes offers back that nobody has accepted. Gives how many."""
    keys = [offer.pk for offer in offers]
    rows = list(Offer.objects.select_for_update().filter(pk__in=keys, state=Offer.State.OPEN))
    for offer in rows:
        offer.state, offer.answered_at = Offer.State.WITHDRAWN, at
        offer.save(update_fields=["state", "answered_at"])
        asking_mails.take_offer_back(offer)
    return len(rows)


# Accepting


class OfferOver(ValueError):
    """The offer has expired, was taken back, or went to someone else."""


@transaction.atomic
def accept(*, offer: Offer, at: datetime) -> Lesson:
    """Who accepts first has the time: a lesson is planned, or a weekly one. Accepted twice it is the same lesson.
    Raises `OfferOver`, and `TimeTaken` where something else was planned there meanwhile."""
    hold(offer.studio_id)
    row = Offer.objects.select_for_update(of=("self",)).select_related("student__studio").get(pk=offer.pk)
    if row.state == Offer.State.TAKEN and row.lesson:
        return row.lesson
    is_over = row.state != Offer.State.OPEN or row.student.left_on is not None
    if is_over or row.expires_at <= at or row.starts_at <= at:
        raise OfferOver
    if not stands_free(row, at=at):
        raise TimeTaken
    row.lesson = planned(row, at=at)
    row.state, row.answered_at = Offer.State.TAKEN, at
    row.save(update_fields=["lesson", "state", "answered_at"])
    Waiting.objects.filter(student=row.student).delete()
    asking_mails.tell_teacher_of_offer(row, at=at)
    give_away(row, at=at)
    return row.lesson


def stands_free(offer: Offer, *, at: datetime) -> bool:
    studio = offer.student.studio
    day = offer.starts_at.astimezone(ZoneInfo(studio.timezone)).date()
    ahead = gather_ahead(studio, [offer.student], day - timedelta(days=1), day + timedelta(days=1), at=at)
    return ahead.is_free(Wanted([offer.student], offer.starts_at, offer.minutes, offer.where, offer.place))


def planned(offer: Offer, *, at: datetime) -> Lesson:
    """The lesson of an offer, the first of a weekly one. Where a make-up lesson is owed, a single one is it."""
    given = {"minutes": offer.minutes, "where": offer.where, "place": offer.place}
    if not offer.weekly:
        credit = owed_to(offer, at=at)
        if credit:
            given.pop("where")
            return book_make_up(credit=credit, starts_at=offer.starts_at, at=at, by=None, **given)
        return planning.plan_lesson(student=offer.student, starts_at=offer.starts_at, **given)
    studio = offer.student.studio
    local = offer.starts_at.astimezone(ZoneInfo(studio.timezone))
    plan = scheduling.SlotPlan([offer.student], local.date(), local.time(), rule="FREQ=WEEKLY", **given)
    slot, _laid = scheduling.make_slot(studio=studio, plan=plan, at=at)
    lesson = slot.lessons.order_by("starts_at").first()
    if lesson is None:
        raise TimeTaken
    return lesson


def owed_to(offer: Offer, *, at: datetime) -> CreditEntry | None:
    """The make-up lesson that a single lesson at this time would use, the one that is owed longest."""
    return None if offer.weekly else credits_of(offer.student, at).first()


def give_away(taken: Offer, *, at: datetime) -> None:
    """The same time is gone for all others to whom it was offered; they are told. What else was offered to who took it
    is hers no more."""
    others = open_offers(taken.student.studio, at=at).exclude(pk=taken.pk)
    for other in others.select_for_update(of=("self",)):
        overlaps = other.starts_at < taken.ends_at and taken.starts_at < other.ends_at
        if not overlaps and other.student_id != taken.student_id:
            continue
        other.state, other.answered_at = Offer.State.GONE, at
        other.save(update_fields=["state", "answered_at"])
        asking_mails.take_offer_back(other)
        if other.student_id != taken.student_id:
            asking_mails.tell_of_offer(other, "gone", at=at)


def offer_behind(token: str) -> Offer | None:
    """The offer that a link leads to; None for a link that is none of ours."""
    try:
        pk, student = asking_mails.key_of(token)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    rows = Offer.objects.select_related("student__studio", "studio", "lesson")
    return rows.filter(pk=pk, student=student).first()


def offers_shown_to(user: User, student: Student, *, at: datetime) -> list[Offer]:
    """The open offers of a student that this person may accept: where there are guardians, they decide."""
    rows = open_offers(user.studio, at=at).filter(student=student)
    if user.is_student:
        rows = rows.exclude(Exists(Guardian.objects.filter(students=OuterRef("student"))))
    return list(rows)
