"""What teacher and families are told by mail of what was asked, and of freed times that are offered.

The rows are written here and the words made; sending is `lessons.mailing`'s.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from django.conf import settings
from django.core import signing
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from lessons.credits import used_by
from lessons.models import Asked, Attendance, Notice, Offer
from lessons.notices import WAIT, Hearer, hearers, wish_of, write_row
from studio.models import Role, Student, User

SALT = "an offered time"


def teacher_of(studio_id: int) -> User | None:
    return User.objects.filter(studio=studio_id, role=Role.TEACHER, is_active=True).order_by("pk").first()


# What was asked


def tell_teacher(asked: Asked, what: str, *, at: datetime) -> None:
    """Tells the teacher, if she wants mails of changes, that something waits ("asked"), or that the rules have granted
    it ("by rule")."""
    teacher = teacher_of(asked.studio_id)
    if teacher is None or not wish_of(teacher).changes:
        return
    hearer = Hearer(teacher.email, teacher, None, wish_of(teacher))
    due_at = at if what == "asked" else at + WAIT
    keep(asked, what, hearer, due_at=due_at)


def tell_family(asked: Asked, *, at: datetime) -> None:
    """Tells the family the answer. What was granted without a word the mail of the change itself tells."""
    if asked.answer == Asked.Answer.GRANTED and not asked.why:
        return
    for one in hearers(asked.lesson.student):
        if one.wish.changes:
            keep(asked, str(asked.answer), one, due_at=at + WAIT)


def keep(asked: Asked, what: str, hearer: Hearer, *, due_at: datetime) -> None:
    student = asked.lesson.student
    content = {"lesson": asked.lesson_id, "what": what, "asked": asked.pk, "student": student.name}
    content["guardian"] = hearer.guardian.pk if hearer.guardian else None
    once = f"asked/{asked.pk}/{what}/{int(due_at.timestamp())}"
    write_row(asked.studio_id, what, hearer, once=once, due_at=due_at, name=student.name, content=content)


def take_back(asked: Asked) -> None:
    """Nothing is told any more of what has not gone out."""
    Notice.objects.filter(studio_id=asked.studio_id, sent_at=None, once__startswith=f"asked/{asked.pk}/").delete()


def lines_of_asked(asked: Asked, what: str) -> list[str] | None:
    """The sentences of a mail about something asked; None where it is not so any more."""
    states = {"asked": Asked.Answer.WAITING, "by rule": Asked.Answer.GRANTED}
    if asked.answer != states.get(what, what):
        return None
    return list(sentences(asked, what))


def sentences(asked: Asked, what: str) -> Iterator[str]:
    lesson = asked.lesson
    said = {"name": lesson.student.name, "by": asked.asked_by.name if asked.asked_by else lesson.student.name}
    said |= {"when": when_words(lesson.starts_at), "to": when_words(asked.wanted) if asked.wanted else ""}
    if what == "asked":
        yield question_words(asked) % said
    elif what == "by rule":
        yield done_words(asked) % said
    elif asked.answer == Asked.Answer.GRANTED:
        yield _("What was asked about the lesson of %(name)s is granted; it is now on %(when)s.") % said
    else:
        yield _("What was asked about the lesson of %(name)s on %(when)s cannot be granted; it stays as it is.") % said
    if asked.remark and what in ("asked", "by rule"):
        yield _("“%(word)s”") % {"word": asked.remark}
    if asked.why and what not in ("asked", "by rule"):
        yield _("“%(word)s”") % {"word": asked.why}
    if what == "asked":
        yield _("It waits for your answer.")


def question_words(asked: Asked) -> str:
    if asked.kind == Asked.Kind.CANCEL:
        return _("%(by)s asks to cancel the lesson of %(name)s on %(when)s.")
    if asked.wanted:
        return _("%(by)s asks to move the lesson of %(name)s on %(when)s to %(to)s.")
    return _("%(by)s asks to move the lesson of %(name)s on %(when)s to another time.")


def done_words(asked: Asked) -> str:
    if asked.kind == Asked.Kind.MOVE:
        return _("%(by)s moved the lesson of %(name)s to %(to)s, as your policy allows.")
    if asked.lesson.attendance == Attendance.CANCELLED_LATE:
        return _("%(by)s cancelled the lesson of %(name)s on %(when)s, later than your policy asks.")
    return _("%(by)s cancelled the lesson of %(name)s on %(when)s in time, as your policy allows.")


def when_words(moment: datetime) -> str:
    return date_format(timezone.localtime(moment), "l j F Y, H:i")


# Freed times that are offered


def link_to(what: str, offer: Offer | None = None) -> str:
    """Where one goes from a mail; "" for one that only tells something."""
    if what == "offered" and offer:
        return link_of(offer)
    return settings.SITE_URL + reverse("asked") if what == "asked" else ""


def link_of(offer: Offer) -> str:
    """The whole address at which an offer is accepted, without a login. It is signed, so that none can be guessed."""
    return settings.SITE_URL + reverse("offer", args=[token_of(offer)])


def token_of(offer: Offer) -> str:
    return signing.dumps([offer.pk, offer.student_id], salt=SALT)


def key_of(token: str) -> tuple[int, int]:
    """The keys of an offer and its student. Raises `signing.BadSignature`."""
    pk, student = signing.loads(token, salt=SALT)
    return pk, student


def who_decides(student: Student) -> list[Hearer]:
    """Who is asked whether a time is taken: a student's guardians; the student herself where she has none."""
    every = list(hearers(student))
    older = [one for one in every if one.guardian or (one.user and one.user.role == Role.GUARDIAN)]
    return older or every


def tell_of_offer(offer: Offer, what: str, *, at: datetime) -> int:
    """Writes to who decides for the student that a time is "offered" or "gone"; gives how many are written to."""
    told = [one for one in who_decides(offer.student) if one.wish.changes]
    for one in told:
        keep_offer(offer, what, one, at=at)
    return len(told)


def tell_teacher_of_offer(offer: Offer, *, at: datetime) -> None:
    teacher = teacher_of(offer.studio_id)
    if teacher and wish_of(teacher).changes:
        keep_offer(offer, "accepted", Hearer(teacher.email, teacher, None, wish_of(teacher)), at=at)


def keep_offer(offer: Offer, what: str, hearer: Hearer, *, at: datetime) -> None:
    content = {"lesson": None, "what": what, "offer": offer.pk, "student": offer.student.name}
    content["guardian"] = hearer.guardian.pk if hearer.guardian else None
    once = f"offer/{offer.pk}/{what}/{int(at.timestamp())}"
    write_row(offer.studio_id, what, hearer, once=once, due_at=at, name=offer.student.name, content=content)


def take_offer_back(offer: Offer) -> None:
    Notice.objects.filter(studio_id=offer.studio_id, sent_at=None, once__startswith=f"offer/{offer.pk}/").delete()


def lines_of_offer(offer: Offer, what: str, *, at: datetime) -> list[str] | None:
    """The sentences of a mail about an offer; None where it is not so any more."""
    states = {"offered": Offer.State.OPEN, "gone": Offer.State.GONE, "accepted": Offer.State.TAKEN}
    if offer.state != states[what] or (what == "offered" and offer.expires_at <= at):
        return None
    return list(offer_sentences(offer, what))


def offer_sentences(offer: Offer, what: str) -> Iterator[str]:
    said = {"name": offer.student.name, "when": when_words(offer.starts_at), "minutes": offer.minutes}
    said["until"] = when_words(offer.expires_at)
    if what == "accepted":
        yield _("%(name)s takes the time that you offered: %(when)s, %(minutes)s minutes.") % said
        if offer.lesson and used_by(offer.lesson):
            yield _("It is the make-up lesson that was owed.")
    elif what == "gone":
        yield _("The time that was offered to %(name)s, %(when)s, is gone; someone else took it.") % said
        yield _("%(name)s stays on the waiting list.") % said
    else:
        if offer.weekly:
            yield _("A time has become free that could be %(name)s's every week, first on %(when)s.") % said
        else:
            yield _("A time has become free that %(name)s could have: %(when)s.") % said
        yield _("It takes %(minutes)s minutes. Who accepts first has it; the offer holds until %(until)s.") % said
