"""Notices on their way: through a real mail server, read back by the standard library's parser."""

import re
from datetime import UTC, datetime, timedelta

import icalendar
import pytest
from django.core.mail import EmailMultiAlternatives
from django.db import connection
from django.test import Client
from django.urls import reverse

from lessons import mailing, notices
from lessons.models import Attendance, Notice, NoticeWish
from lessons.planning import cancel_lesson, move_lesson, uncancel_lesson
from lessons.scheduling import SlotPlan, make_slot
from studio.models import Guardian
from tests import make

AT = datetime(2021, 2, 1, 6, tzinfo=UTC)
LATER = AT + timedelta(minutes=6)
BEGIN = datetime(2021, 2, 3, 14, 30, tzinfo=UTC)  # 16:30 in Helsinki


@pytest.fixture
def lesson(cast):
    return make.lesson(student=cast.oda, starts_at=BEGIN, place="Room 2")


def send(cast, at=LATER):
    return mailing.send_due(cast.studio, at)


def text_of(html: str) -> list[str]:
    """The words of an HTML mail, tags away."""
    plain = re.sub(r"<title>.*?</title>|<[^>]+>", " ", html)
    return plain.replace("&amp;", "&").replace("&lt;", "<").replace("&gt;", ">").replace("&#x27;", "'").split()


def test_a_move_is_told_to_the_student_and_her_guardian_once_each(cast, lesson, letterbox):
    move_lesson(lesson=lesson, starts_at=BEGIN + timedelta(days=1), at=AT)
    assert send(cast, AT) == ""
    assert send(cast) == "2 mails sent"
    assert send(cast) == ""
    assert sorted(mail["To"] for mail in letterbox.mails) == ["birger@example.org", "oda@example.org"]
    text = letterbox.mails[0].get_body(("plain",)).get_content()
    assert "on Wednesday 3 February 2021, 16:30 is moved to Thursday 4 February 2021, 16:30." in text
    assert "45 minutes, at the studio (Room 2)" in text
    assert letterbox.mails[0]["Reply-To"] == "ines@example.org"


def test_text_and_html_say_the_same(cast, lesson, letterbox):
    cast.oda.name = "Oda <b>Lindqvist</b> & Co"
    cast.oda.save()
    lesson.refresh_from_db()
    cancel_lesson(lesson=lesson, attendance=Attendance.TEACHER_CANCELLED, at=AT, by=cast.teacher)
    send(cast)
    mail = letterbox.mails[0]
    plain = mail.get_body(("plain",)).get_content()
    html = mail.get_body(("html",)).get_content()
    assert text_of(html) == [word for word in plain.split() if word != "--"]
    assert "<b>" not in html.replace("<body>", "")


def test_the_lesson_comes_along_as_a_calendar_file(cast, letterbox):
    plan = SlotPlan(
        students=(cast.oda,),
        first_day=AT.date(),
        at=datetime(2021, 2, 1, 16, 30).time(),
        minutes=45,
        rule="FREQ=WEEKLY",
    )
    slot, _ = make_slot(studio=cast.studio, plan=plan, at=AT)
    lesson = slot.lessons.order_by("starts_at")[1]
    move_lesson(lesson=lesson, starts_at=lesson.starts_at + timedelta(hours=2), at=AT)
    send(cast)
    (part,) = (one for one in letterbox.mails[0].iter_attachments() if one.get_content_type() == "text/calendar")
    (event,) = icalendar.Calendar.from_ical(part.get_content()).walk("VEVENT")
    lesson.refresh_from_db()
    assert event.start.astimezone(UTC) == lesson.starts_at
    assert event["recurrence-id"].dt.astimezone(UTC) == lesson.meant_for
    assert int(event["sequence"]) > 0


def test_every_mail_has_a_way_out_that_needs_no_login(cast, lesson, letterbox):
    move_lesson(lesson=lesson, starts_at=BEGIN + timedelta(days=1), at=AT)
    send(cast)
    mail = next(one for one in letterbox.mails if one["To"] == "oda@example.org")
    link = mail["List-Unsubscribe"].strip(" <>")
    assert mail["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert link in mail.get_body(("plain",)).get_content()
    path = "/" + link.split("/", 3)[3]
    assert "writes to Oda Lindqvist" in Client().get(path).content.decode()
    assert NoticeWish.objects.count() == 0  # looking stops nothing: mail scanners follow links
    # A mail program posts by itself, without a token of ours (RFC 8058).
    answer = Client(enforce_csrf_checks=True).post(path, {"List-Unsubscribe": "One-Click"})
    assert "No more mails about lessons come from" in answer.content.decode()
    move_lesson(lesson=lesson, starts_at=BEGIN + timedelta(days=2), at=LATER)
    assert [row.to for row in Notice.objects.filter(sent_at=None)] == ["birger@example.org"]


def test_a_guardian_without_a_login_is_written_to_and_can_stop_it(cast, letterbox):
    Guardian.objects.filter(pk=cast.sunita.pk).update(user=None)
    lesson = make.lesson(student=cast.ravi, starts_at=BEGIN)
    move_lesson(lesson=lesson, starts_at=BEGIN + timedelta(days=1), at=AT)
    row = Notice.objects.get(to="sunita@example.org")
    Client().post(reverse("stop-mails", args=[notices.token_for(row)]))
    send(cast)
    assert [mail["To"] for mail in letterbox.mails] == ["ravi@example.org"]


def test_what_was_taken_back_before_the_mail_went_out_is_not_told(cast, lesson, letterbox):
    move_lesson(lesson=lesson, starts_at=BEGIN + timedelta(days=1), at=AT)
    move_lesson(lesson=lesson, starts_at=BEGIN, at=AT)
    assert send(cast) == ""
    cancel_lesson(lesson=lesson, attendance=Attendance.TEACHER_CANCELLED, at=AT, by=cast.teacher)
    lesson.refresh_from_db()
    uncancel_lesson(lesson=lesson, at=AT, by=cast.teacher)
    assert send(cast, LATER + timedelta(hours=1)) == ""
    assert letterbox.mails == []


def test_two_moves_in_a_row_are_one_mail_from_the_first_time_to_the_last(cast, lesson, letterbox):
    move_lesson(lesson=lesson, starts_at=BEGIN + timedelta(days=1), at=AT)
    move_lesson(lesson=lesson, starts_at=BEGIN + timedelta(days=2), at=AT)
    send(cast)
    assert len(letterbox.mails) == 2
    text = letterbox.mails[0].get_body(("plain",)).get_content()
    assert "on Wednesday 3 February 2021, 16:30 is moved to Friday 5 February 2021, 16:30." in text


def test_a_reminder_comes_to_who_wants_one_as_many_hours_before_as_she_said_and_once(cast, lesson, letterbox):
    notices.keep_wish(cast.birger.user, reminders=True, hours_before=24)
    for hours in (30, 23, 22):
        at = BEGIN - timedelta(hours=hours)
        notices.remind(cast.studio, at)
        mailing.send_due(cast.studio, at)
    assert [(mail["To"], mail["Subject"]) for mail in letterbox.mails] == [
        ("birger@example.org", "Oda Lindqvist has a lesson soon")
    ]


def test_a_lesson_that_is_moved_is_reminded_of_anew(cast, lesson, letterbox):
    notices.keep_wish(cast.birger.user, reminders=True, changes=False, hours_before=24)
    notices.keep_wish(cast.oda.user, changes=False)
    at = BEGIN - timedelta(hours=20)
    notices.remind(cast.studio, at)
    mailing.send_due(cast.studio, at)
    move_lesson(lesson=lesson, starts_at=BEGIN + timedelta(days=3), at=at)
    notices.remind(cast.studio, BEGIN + timedelta(days=2, hours=5))
    mailing.send_due(cast.studio, BEGIN + timedelta(days=2, hours=5))
    assert len(letterbox.mails) == 2


def test_a_cancelled_lesson_is_not_reminded_of(cast, lesson):
    notices.keep_wish(cast.birger.user, reminders=True)
    cancel_lesson(lesson=lesson, attendance=Attendance.TEACHER_CANCELLED, at=AT, by=cast.teacher)
    assert notices.remind(cast.studio, BEGIN - timedelta(hours=2)) == ""


def test_without_a_mail_server_it_is_tried_again_later_each_time_and_then_given_up_for_the_teacher_to_see(
    cast, lesson, settings, logged_in
):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1
    notices.keep_wish(cast.oda.user, changes=False)
    move_lesson(lesson=lesson, starts_at=BEGIN + timedelta(days=1), at=AT)
    row = Notice.objects.get()
    at, pauses = row.due_at, []
    for _ in range(mailing.TRIES):
        assert send(cast, at) == ""
        row.refresh_from_db()
        pauses.append((row.due_at - at) // timedelta(minutes=1))
        at = row.due_at
    assert pauses == [5, 10, 20, 40, 80, 160, 320, 640]
    assert send(cast, at) == ""
    text = logged_in(cast.teacher).get(reverse("calendar-links")).content.decode()
    assert "birger@example.org" in text
    assert "could not be sent" in text
    logged_in(cast.teacher).post(reverse("send-again"))
    assert mailing.waiting(cast.studio).count() == 1


def test_no_transaction_is_open_while_the_mail_server_is_spoken_to(cast, lesson, monkeypatch):
    move_lesson(lesson=lesson, starts_at=BEGIN + timedelta(days=1), at=AT)
    around, seen = len(connection.savepoint_ids), []
    monkeypatch.setattr(EmailMultiAlternatives, "send", lambda mail: seen.append(len(connection.savepoint_ids)))
    assert send(cast) == "2 mails sent"
    assert seen == [around, around]


def test_a_mail_that_cannot_be_written_keeps_no_other_waiting(cast, lesson, letterbox):
    move_lesson(lesson=lesson, starts_at=BEGIN + timedelta(days=1), at=AT)
    Notice.objects.filter(to="oda@example.org").update(content={}, due_at=AT)
    assert send(cast) == "1 mail sent"
    assert [mail["To"] for mail in letterbox.mails] == ["birger@example.org"]
    assert Notice.objects.get(sent_at=None).trouble == "KeyError: 'lesson'"


def test_what_is_on_its_way_at_the_moment_counts_as_heard(cast, lesson, letterbox):
    cancel_lesson(lesson=lesson, attendance=Attendance.TEACHER_CANCELLED, at=AT, by=cast.teacher)
    for row in Notice.objects.all():
        mailing.take(row.pk, LATER)
    assert mailing.take(row.pk, LATER) is None
    lesson.refresh_from_db()
    uncancel_lesson(lesson=lesson, at=LATER, by=cast.teacher)
    assert send(cast, LATER + timedelta(minutes=5)) == "2 mails sent"
    assert {mail["Subject"] for mail in letterbox.mails} == {"A lesson of Oda Lindqvist takes place after all"}


def test_a_name_with_a_line_break_puts_nothing_into_the_head_of_a_mail(cast, lesson, letterbox):
    cast.oda.name = "Oda\r\nBcc: all@example.org"
    cast.oda.save()
    lesson.refresh_from_db()
    move_lesson(lesson=lesson, starts_at=BEGIN + timedelta(days=1), at=AT)
    send(cast)
    assert letterbox.mails[0]["Bcc"] is None
    assert letterbox.mails[0]["Subject"] == "A lesson of Oda Bcc: all@example.org is moved"


def test_a_lesson_that_is_gone_is_not_written_about(cast, lesson, letterbox):
    move_lesson(lesson=lesson, starts_at=BEGIN + timedelta(days=1), at=AT)
    lesson.delete()
    assert send(cast) == ""
    assert letterbox.mails == []


def test_a_token_that_is_none_gets_a_plain_answer():
    answer = Client().get(reverse("stop-mails", args=["x"]))
    assert answer.status_code == 404
    assert "none of ours" in answer.content.decode()
