"""Reminders: to whom, once, with a way out that works. Mails are read as a real server receives them."""

from datetime import UTC, date, datetime

import pytest
from django.core import mail

from lessons.models import NoticeWish
from lessons.tuition_reminders import draft, read_token, recipients, send, stop
from lessons.tuition_reminders import mail as written_mail
from studio.models import Reminder
from studio.tuition.balances import state_of
from tests import make
from tests.studio.tuition.make_tuition import account, charge, enrolment

NOW = datetime(2020, 12, 1, 9, 0, tzinfo=UTC)


@pytest.fixture
def owing(cast):
    row = account(cast.studio, name="Lindqvist family", guardians=[cast.birger])
    charge(row, 12050, date(2020, 11, 2))
    return row


def sent(owing, cast, **given) -> Reminder:
    fields = {"to": ["birger@example.org"], "subject": "Tuition", "text": "Dear family", "once": "one"}
    return send(account=owing, by=cast.teacher, at=NOW, **{**fields, **given})


def test_the_words_name_the_amount_and_the_day(cast, owing):
    words = draft(owing, state_of(owing, on=NOW.date()), cast.studio, cast.teacher)
    assert "€120.50" in words["text"]
    assert "Nov 2, 2020" in words["text"]
    assert "Ines Valtonen" in words["text"]


def test_it_goes_to_the_accounts_own_address_before_the_guardians(cast, owing):
    assert recipients(owing) == ["birger@example.org"]
    owing.email = "office@example.org"
    assert recipients(owing) == ["office@example.org"]


def test_a_guardian_without_login_is_written_to_at_her_address(cast):
    aino = make.guardian(students=[cast.oda], name="Aino", email="aino@example.org")
    assert recipients(account(cast.studio, guardians=[aino])) == ["aino@example.org"]


def test_a_student_who_pays_for_herself_is_written_to(cast):
    solo = make.student(
        studio=cast.studio, name="Vera", user=make.user(studio=cast.studio, role="student", email="vera@example.org")
    )
    assert recipients(enrolment(solo, on=account(cast.studio, name="Vera")).account) == ["vera@example.org"]
    child = enrolment(cast.oda, on=account(cast.studio, name="Child"))
    assert recipients(child.account) == []


def test_who_wants_no_mails_about_tuition_gets_none(cast, owing):
    NoticeWish.objects.create(studio=cast.studio, user=cast.birger.user, tuition=False)
    assert recipients(owing) == []


def test_a_reminder_arrives_with_its_words_and_its_way_out(cast, owing, settings):
    settings.SITE_URL = "https://studio.example.org"
    row = sent(owing, cast)
    [message] = mail.outbox
    assert message.to == ["birger@example.org"]
    assert message.reply_to == ["ines@example.org"]
    assert message.body.startswith("Dear family")
    assert "https://studio.example.org/tuition/no-more-mails/" in message.body
    assert message.extra_headers["List-Unsubscribe"].startswith("<https://")
    assert row.sent_at == NOW


def test_the_same_form_sent_twice_is_one_mail(cast, owing):
    sent(owing, cast)
    sent(owing, cast)
    assert len(mail.outbox) == 1
    assert Reminder.objects.count() == 1


def test_a_mail_that_cannot_be_sent_is_said_and_kept(cast, owing, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1
    row = sent(owing, cast)
    assert row.sent_at is None
    assert row.trouble


def link_in(message) -> str:
    return message.extra_headers["List-Unsubscribe"].strip("<>").rpartition("/tuition/")[2]


def test_the_way_out_stops_the_mails_of_that_person_only(cast, owing, client):
    sent(owing, cast)
    address = f"/tuition/{link_in(mail.outbox[0])}"
    assert client.get(address).status_code == 200
    assert recipients(owing) == ["birger@example.org"]  # looking is not asking: mail programs open links by themselves
    assert b"birger@example.org" in client.post(address).content
    assert recipients(owing) == []
    assert NoticeWish.objects.get(user=cast.birger.user).changes is True


def test_the_way_out_of_an_address_without_login_stops_the_account(cast, owing):
    message = written_mail(owing, "office@example.org", "s", "t", reply_to="ines@example.org")
    row, address = read_token(link_in(message).removeprefix("no-more-mails/").strip("/"))
    stop(account=row, address=address)
    owing.refresh_from_db()
    assert owing.no_reminders
    assert recipients(owing) == []


@pytest.mark.django_db
def test_a_link_that_was_guessed_stops_nothing(client):
    assert client.post("/tuition/no-more-mails/eyJhIjoxfQ:abc:def/").status_code == 404
