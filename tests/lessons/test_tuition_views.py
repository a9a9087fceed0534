import re
from datetime import date, time

import pytest
from django.core import mail
from django.utils import timezone

from lessons.models import Slot
from studio.models import Billing, Charge, Reminder, Term
from tests import make
from tests.html import assert_clean
from tests.studio.tuition.make_tuition import account, charge, enrolment, plan

KEY = "00000000-0000-0000-0000-000000000007"
PER = ("term", "package", "lesson")
WORDS = {"key": KEY, "subject": "Tuition", "text": "Dear family, two weeks have passed."}


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


def text(answer) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).replace("\u00a0", " ").split())


def this_month() -> date:
    return timezone.localdate().replace(day=1)


def test_what_is_due_is_looked_at_before_it_is_written(cast, teacher):
    enrolment(cast.oda, on=account(cast.studio, name="Lindqvist family"), first_day=this_month())
    page = teacher.get("/tuition/charging/")
    assert "Oda Lindqvist Lindqvist family 80.00" in text(page)
    assert "€80.00 in all" in text(page)
    assert_clean(page.content.decode())
    assert not Charge.objects.exists()
    assert "1 charge, €80.00." in text(teacher.post("/tuition/charging/", follow=True))
    assert Charge.objects.get().written_by == cast.teacher
    assert "Nothing: every month, term and lesson until today" in text(teacher.get("/tuition/charging/"))


def test_the_page_teaches_while_nobody_is_on_a_plan(cast, teacher):
    assert "Nobody is on a plan yet" in text(teacher.get("/tuition/charging/"))


def test_lessons_without_attendance_and_plans_without_price_are_told(cast, teacher):
    by = plan(cast.studio, per="lesson", from_day=date(2199, 1, 1))
    enrolment(cast.oda, by=by, first_day=date(2020, 1, 1))
    now = timezone.now()
    make.lesson(student=cast.oda, starts_at=now - timezone.timedelta(days=2))
    make.lesson(student=cast.oda, starts_at=now - timezone.timedelta(days=9), attendance="present")
    words = text(teacher.get("/tuition/charging/"))
    assert "1 lesson that is paid by the lesson has no attendance yet" in words
    assert "“Plan lesson” has no price on" in words


def test_what_is_due_needs_few_queries_where_every_way_of_paying_is_used(cast, teacher, count_queries):
    ways = [plan(cast.studio, per="month", divided="lessons"), *(plan(cast.studio, per=per) for per in PER)]
    days = {"first_day": this_month(), "last_day": this_month() + timezone.timedelta(days=90)}
    Term.objects.create(studio=cast.studio, name="Autumn", **days)
    for number, by in enumerate(ways):
        student = make.student(studio=cast.studio, name=f"Student {number}")
        enrolment(student, by=by, first_day=timezone.localdate() - timezone.timedelta(days=3))
        make.lesson(student=student, starts_at=timezone.now() - timezone.timedelta(days=1), attendance="present")
        weekly = Slot.objects.create(studio=cast.studio, first_day=this_month(), at=time(9), rule="FREQ=WEEKLY")
        weekly.students.add(student)
    assert count_queries(teacher, "/tuition/charging/") <= 12
    teacher.post("/tuition/charging/")
    assert count_queries(teacher, "/tuition/charging/") <= 12


def test_writing_what_is_due_where_nothing_is_says_so(cast, teacher):
    assert "Nothing was due; nothing was written." in text(teacher.post("/tuition/charging/", follow=True))


def test_the_page_says_whether_charges_are_written_by_themselves(cast, teacher):
    assert "written every day by itself" in text(teacher.get("/tuition/charging/"))
    Billing.objects.create(studio=cast.studio, by_itself=False)
    assert "waits until you write it" in text(teacher.get("/tuition/charging/"))


@pytest.fixture
def family(cast):
    row = account(cast.studio, name="Lindqvist family", guardians=[cast.birger])
    charge(row, 12050, date(2020, 11, 2))
    return row


def test_the_words_of_a_reminder_are_the_teachers(cast, teacher, family):
    page = teacher.get(f"/tuition/accounts/{family.pk}/remind/")
    assert "may I remind you of the tuition" in page.content.decode()
    assert "birger@example.org" in text(page)
    answer = teacher.post(f"/tuition/accounts/{family.pk}/remind/", WORDS, follow=True)
    assert "The reminder is sent to birger@example.org." in text(answer)
    assert mail.outbox[0].body.startswith("Dear family, two weeks have passed.")
    assert "The last reminder went out" in text(teacher.get(f"/tuition/accounts/{family.pk}/remind/"))


def test_the_same_form_sent_again_sends_nothing(cast, teacher, family):
    for _time in range(2):
        teacher.post(f"/tuition/accounts/{family.pk}/remind/", WORDS)
    assert len(mail.outbox) == 1


def test_a_subject_of_two_lines_makes_no_second_header(cast, teacher, family):
    teacher.post(f"/tuition/accounts/{family.pk}/remind/", WORDS | {"subject": "Tuition\nBcc: x@example.org"})
    assert mail.outbox[0].subject == "Tuition Bcc: x@example.org"
    assert mail.outbox[0].recipients() == ["birger@example.org"]


def test_words_that_are_missing_send_nothing(cast, teacher, family):
    assert teacher.post(f"/tuition/accounts/{family.pk}/remind/", WORDS | {"text": ""}).status_code == 422
    assert not mail.outbox


def test_who_owes_nothing_is_not_reminded(cast, teacher):
    row = account(cast.studio, name="Paid", guardians=[cast.birger])
    answer = teacher.post(f"/tuition/accounts/{row.pk}/remind/", WORDS)
    assert "Nothing is owed on this account" in text(answer)
    assert not mail.outbox
    assert not Reminder.objects.exists()


def test_an_account_without_an_address_is_told_so(cast, teacher):
    row = account(cast.studio, name="Nobody")
    charge(row, 100)
    assert "There is no address to write to" in text(teacher.get(f"/tuition/accounts/{row.pk}/remind/"))
