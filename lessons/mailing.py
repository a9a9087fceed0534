"""Sending the notices that are due: text and HTML that say the same, the lesson as a calendar file, a way out.

A notice that could not be sent is tried again, later each time; the teacher sees those that were given up.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from datetime import datetime, timedelta
from smtplib import SMTPException
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.db import connection, transaction
from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from lessons.asking_mails import lines_of_asked, lines_of_offer, link_to, when_words
from lessons.calendar_feed import lesson_file
from lessons.models import Asked, Lesson, Notice, Offer, Where
from lessons.notices import token_for
from studio.models import Role, Studio, User

log = logging.getLogger(__name__)

TRIES = 8
FIRST_PAUSE = timedelta(minutes=5)  # doubled after each try: the last one comes about ten hours after the first
AT_ONCE = 200  # of one studio in one run
TIME_AND_PLACE = ("starts_at", "minutes", "where", "place")


def send_due(studio: Studio, at: datetime) -> str:
    """The clock's job: sends what is due, oldest first, each mail in a transaction of its own."""
    due = waiting(studio).filter(due_at__lte=at).order_by("due_at", "pk").values_list("pk", flat=True)[:AT_ONCE]
    sent = sum(send_one(pk, at) for pk in list(due))
    if not sent:
        return ""
    return ngettext("%(count)s mail sent", "%(count)s mails sent", sent) % {"count": sent}


def waiting(studio: Studio) -> QuerySet[Notice]:
    return Notice.objects.filter(studio=studio, sent_at=None, tries__lt=TRIES)


def given_up(studio: Studio) -> QuerySet[Notice]:
    """What could not be sent however often it was tried."""
    return Notice.objects.filter(studio=studio, sent_at=None, tries__gte=TRIES)


def send_one(pk: int, at: datetime) -> bool:
    """Sends one notice, unless another worker has it; says whether a mail went out.

    It is taken first and sent afterwards, with no transaction open: the embedded database has one writer at a time, and
    nobody is to wait for a mail server. A worker that ends in between leaves it to the next try.
    """
    notice = take(pk, at)
    if notice is None:
        return False
    try:
        message = message_of(notice)
        if message is None:  # What it told is not so any more.
            notice.delete()
            return False
        message.send()
    except Exception as trouble:  # Whatever is wrong with one mail must not keep the others waiting.
        known = isinstance(trouble, (SMTPException, OSError))
        log.warning("notice %s could not be sent: %s", pk, type(trouble).__name__, exc_info=not known)
        Notice.objects.filter(pk=pk).update(trouble=f"{type(trouble).__name__}: {trouble}"[:300])
        return False
    Notice.objects.filter(pk=pk).update(sent_at=at, trouble="")
    return True


@transaction.atomic
def take(pk: int, at: datetime) -> Notice | None:
    """Takes a notice that is due, so that no other worker sends it too; None where one has it. As if it had failed: it
    is due again after a pause."""
    rows = Notice.objects.select_for_update(
        of=("self",), skip_locked=connection.features.has_select_for_update_skip_locked
    )
    due = rows.select_related("studio").filter(pk=pk, sent_at=None, due_at__lte=at, tries__lt=TRIES)
    notice = due.first()
    if notice:
        notice.tries += 1
        notice.trouble = ""
        notice.due_at = at + FIRST_PAUSE * 2 ** (notice.tries - 1)
        notice.save(update_fields=["tries", "trouble", "due_at"])
    return notice


def try_again(*, studio: Studio, at: datetime) -> int:
    """Has everything that was given up tried once more."""
    return given_up(studio).update(tries=TRIES - 1, due_at=at)


# One mail


def message_of(notice: Notice) -> EmailMultiAlternatives | None:
    """The mail of a notice; None when what it tells is not so any more."""
    with timezone.override(ZoneInfo(notice.studio.timezone)):
        told = told_by(notice)
        if told is None:
            return None
        lines, lesson, goes_to = told
        words = {"lines": lines, "studio": notice.studio.name, "subject": notice.subject, "has_file": bool(lesson)}
        link = settings.SITE_URL + reverse("stop-mails", args=[token_for(notice)])
        words |= {"way_out": link, "goes_to": goes_to}
        text = render_to_string("lessons/mail/notice.txt", words)
        html = render_to_string("lessons/mail/notice.html", words)
    message = EmailMultiAlternatives(
        " ".join(notice.subject.split()),
        text,
        to=[notice.to],
        reply_to=reply_to(notice.studio),
        headers={
            "Message-ID": message_id(notice),  # the same at each try, so that one that arrived twice is shown once
            "List-Unsubscribe": f"<{link}>",
            "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
            "Auto-Submitted": "auto-generated",
        },
    )
    message.attach_alternative(html, "text/html")
    if lesson:
        message.attach("lesson.ics", lesson_file(lesson, notice.studio).decode(), "text/calendar; method=PUBLISH")
    return message


def told_by(notice: Notice) -> tuple[list[str], Lesson | None, str] | None:
    """The sentences of a notice, the lesson that comes along as a calendar file, and where one goes from it. None when
    the lesson is gone, stands again as it stood before, or what was asked or offered is settled otherwise."""
    content = notice.content
    if "offer" in content:
        offer = Offer.objects.filter(pk=content["offer"], studio_id=notice.studio_id).select_related("student").first()
        lines = lines_of_offer(offer, content["what"], at=timezone.now()) if offer else None
        return (lines, None, link_to(content["what"], offer)) if lines else None
    rows = Lesson.objects.filter(pk=content["lesson"], studio_id=notice.studio_id)
    lesson = rows.select_related("student", "slot").first()
    if lesson is None:
        return None
    if "asked" in content:
        asked = Asked.objects.filter(pk=content["asked"]).select_related("lesson__student", "asked_by").first()
        lines = lines_of_asked(asked, content["what"]) if asked else None
        return (lines, None, link_to(content["what"])) if lines else None
    return None if is_over(notice, lesson) else (list(lines_of(notice, lesson)), lesson, "")


def is_over(notice: Notice, lesson: Lesson) -> bool:
    """Whether there is nothing to tell any more."""
    what, was = notice.content["what"], notice.content.get("was") or {}
    if what == "reminder":
        return bool(lesson.cancelled_at)
    if what == "cancelled":
        return not lesson.cancelled_at
    if what == "moved":
        known = {name: was[name] for name in TIME_AND_PLACE if name in was}
        now = {name: as_kept(getattr(lesson, name)) for name in known}
        return bool(lesson.cancelled_at) or (bool(known) and now == known)
    return False


def as_kept(value: Any) -> Any:
    return value.isoformat() if isinstance(value, datetime) else value


def message_id(notice: Notice) -> str:
    host = settings.SITE_URL.split("//", 1)[-1].split("/", 1)[0].split(":", 1)[0] or "localhost"
    return f"<notice-{notice.pk}-{notice.studio_id}@{host}>"


def reply_to(studio: Studio) -> list[str]:
    teacher = User.objects.filter(studio=studio, role=Role.TEACHER, is_active=True).order_by("pk").first()
    return [teacher.email] if teacher else []


def lines_of(notice: Notice, lesson: Lesson) -> Iterator[str]:
    """What the mail says, a sentence a line."""
    what, was = notice.content["what"], notice.content.get("was") or {}
    said = {"name": lesson.student.name, "when": when_words(lesson.starts_at), "minutes": lesson.minutes}
    if what == "cancelled":
        yield _("The lesson of %(name)s on %(when)s is cancelled.") % said
        return
    if what == "back":
        yield _("The lesson of %(name)s on %(when)s takes place after all.") % said
    elif what == "slot":
        yield _("The weekly lesson of %(name)s changes. The next one is on %(when)s.") % said
    elif what == "reminder":
        yield _("%(name)s has a lesson on %(when)s.") % said
    else:
        before = parse_datetime(was.get("starts_at", "")) if was.get("starts_at") else None
        if before and before != lesson.starts_at:
            yield _("The lesson of %(name)s on %(before)s is moved to %(when)s.") % (
                said | {"before": when_words(before)}
            )
        else:
            yield _("The lesson of %(name)s on %(when)s changes.") % said
    yield _("It takes %(minutes)s minutes, %(where)s.") % (said | {"where": where_words(lesson)})


def where_words(lesson: Lesson) -> str:
    label = str(Where(lesson.where).label)
    return f"{label} ({lesson.place})" if lesson.place else label
