"""The pages of asking and answering, of the waiting list and of offers."""

import re
from datetime import datetime, time, timedelta
from html import unescape
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from lessons import asking, asking_mails, mailing, planning, scheduling, waiting
from lessons.freed import freed_times
from lessons.models import Asked, Lesson, Offer, Policy, Waiting
from tests import make

ZONE = ZoneInfo("Europe/Helsinki")


def on_day(days: int, hour: int = 15) -> datetime:
    """So many days ahead, not on a Sunday: the usual hours of a studio that has said none."""
    day = timezone.now().astimezone(ZONE).date() + timedelta(days=days)
    return datetime.combine(day + timedelta(days=day.weekday() == 6), time(hour), ZONE)


@pytest.fixture
def policy(cast):
    return Policy.objects.create(studio=cast.studio, may_cancel=True, may_move=True, notice_hours=24)


@pytest.fixture
def lesson(cast):
    return make.lesson(student=cast.oda, starts_at=on_day(5))


@pytest.fixture
def guardian(cast, logged_in):
    return logged_in(cast.birger.user)


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


def words(answer) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).split())


def offered(cast, lesson) -> list[Offer]:
    planning.cancel_lesson(lesson=lesson, attendance="in-time", at=timezone.now(), by=cast.teacher)
    rows = [waiting.put_on(student=one, minutes=30, at=timezone.now()) for one in (cast.ravi, cast.ilmari)]
    (one,) = freed_times(cast.studio, rows, at=timezone.now())
    keys = [cast.ravi.pk, cast.ilmari.pk]
    return waiting.offer_time(studio=cast.studio, freed=one, students=keys, at=timezone.now())[0]


# Families


def test_what_follows_is_said_before_and_after_cancelling_and_undone(cast, policy, lesson, guardian):
    url = reverse("ask", args=[lesson.pk])
    page = words(guardian.get(url))
    assert "That is in time. By the studio's policy: charged; a make-up lesson is owed." in page
    assert "It is cancelled at once." in page
    answer = guardian.post(url, {"kind": "cancel", "cancel-remark": "a cold"}, follow=True)
    assert "is cancelled." in words(answer)
    lesson.refresh_from_db()
    assert lesson.cancelled_at
    undo = re.search(r'action="(/asked/before/[^"]+)"', answer.content.decode())[1]
    guardian.post(undo)
    lesson.refresh_from_db()
    assert lesson.cancelled_at is None


def test_late_the_page_says_that_the_teacher_is_asked(cast, policy, guardian):
    lesson = make.lesson(student=cast.oda, starts_at=timezone.now() + timedelta(hours=3))
    page = words(guardian.get(reverse("ask", args=[lesson.pk])))
    assert "less than 24 hours before the lesson, so that is late" in page
    assert "for a lesson cancelled late: charged." in page
    answer = guardian.post(reverse("ask", args=[lesson.pk]), {"kind": "cancel"}, follow=True)
    assert "You asked to cancel it. It waits for your teacher." in words(answer)
    assert "You have asked about this lesson already" in words(guardian.get(reverse("ask", args=[lesson.pk])))
    guardian.post(reverse("withdraw", args=[Asked.objects.get().pk]))
    assert Asked.objects.get().answer == "withdrawn"


def test_a_free_time_is_chosen_and_the_lesson_moves_at_once(cast, policy, lesson, guardian):
    page = guardian.get(reverse("ask", args=[lesson.pk]))
    start = page.context["times"][0][1][0]
    guardian.post(reverse("ask", args=[lesson.pk]), {"kind": "move", "move-to": start.isoformat()})
    lesson.refresh_from_db()
    assert lesson.starts_at == start


def test_no_name_of_another_family_stands_on_the_page(cast, policy, lesson, guardian):
    for hour in range(8, 20):
        make.lesson(student=cast.ravi, starts_at=on_day(4, hour), minutes=60)
    page = guardian.get(reverse("ask", args=[lesson.pk])).content.decode()
    assert page.count("Ravi") == page.count("Menon") == 0


def test_a_time_that_is_taken_meanwhile_loses_nothing_that_was_typed(cast, policy, lesson, guardian):
    start = guardian.get(reverse("ask", args=[lesson.pk])).context["times"][0][1][0]
    make.lesson(student=cast.ravi, starts_at=start)
    given = {"kind": "move", "move-to": start.isoformat(), "move-remark": "after the choir"}
    answer = guardian.post(reverse("ask", args=[lesson.pk]), given)
    assert answer.status_code == 422
    assert "not free any more" in words(answer)
    assert 'value="after the choir"' in answer.content.decode()
    assert not Asked.objects.exists()


@pytest.mark.parametrize(
    ("given", "wrong"),
    [
        ({}, "Choose a time"),
        ({"move-to": "other"}, "Say a day and a time, or write when it could be."),
        ({"move-to": "other", "move-day": "2030-01-01"}, "A day and a time go together."),
        ({"move-to": "other", "move-day": "2019-01-01", "move-time": "15:00"}, "lies ahead, within half a year"),
        ({"move-to": "2031"}, "not free any more"),
        ({"move-to": "other", "move-day": "x", "move-time": "99"}, "Enter a valid date"),
    ],
)
def test_what_cannot_be_asked_is_said(cast, policy, lesson, guardian, given, wrong):
    answer = guardian.post(reverse("ask", args=[lesson.pk]), {"kind": "move", **given})
    assert answer.status_code == 422
    assert wrong in words(answer)


def test_another_time_is_typed_without_choosing_and_waits(cast, policy, lesson, guardian):
    day = on_day(6).date()
    guardian.post(reverse("ask", args=[lesson.pk]), {"kind": "move", "move-day": f"{day}", "move-time": "21:15"})
    asked = Asked.objects.get()
    assert (asked.answer, f"{asked.wanted.astimezone(ZONE):%H:%M}") == ("", "21:15")


def test_the_family_sees_the_answer_with_the_word(cast, lesson, guardian, teacher):
    asked, _ = asking.ask(lesson=lesson, by=cast.birger.user, kind="cancel", at=timezone.now())
    answer = teacher.post(reverse("refuse", args=[asked.pk]), {"why": "The recital is near."}, follow=True)
    assert "refused" in words(answer)
    for url in (reverse("child", args=[cast.oda.pk]), reverse("coming-lessons", args=[cast.oda.pk])):
        assert "stays (to cancel it was asked). “The recital is near.”" in words(guardian.get(url))


def test_beside_the_weeks_work_the_newest_answer_stands_with_the_day(cast, lesson, guardian):
    assert cast.assigned  # the page comes from the lesson that gave it
    moved = make.lesson(student=cast.oda, starts_at=on_day(12))
    for row, to in ((lesson, None), (moved, on_day(13, 10))):
        kind = "move" if to else "cancel"
        asked, _ = asking.ask(lesson=row, by=cast.birger.user, kind=kind, wanted=to, at=timezone.now())
        asking.grant(asked=asked, by=cast.teacher, at=timezone.now(), why=kind)
    page = words(guardian.get(reverse("child", args=[cast.oda.pk])))
    assert "Granted: the lesson is now on" in page
    assert f"{on_day(13, 10):%-d %B, %H:%M}. “move”" in page
    assert "“cancel”" not in page


def test_empty_pages_teach(cast, guardian, teacher):
    assert "No lesson is planned." in words(guardian.get(reverse("coming-lessons", args=[cast.oda.pk])))
    assert "one key grants it" in words(teacher.get(reverse("asked")))
    assert "Nobody waits." in words(teacher.get(reverse("waiting")))


# The teacher


def test_today_counts_what_waits_and_says_nothing_where_nothing_does(cast, lesson, teacher):
    assert reverse("asked") not in teacher.get(reverse("today")).content.decode()
    asking.ask(lesson=lesson, by=cast.birger.user, kind="cancel", at=timezone.now())
    assert "1 question about a lesson waits for your answer" in words(teacher.get(reverse("today")))


def test_what_stands_in_the_way_is_told_with_free_times_instead(cast, lesson, teacher):
    wanted = on_day(6, 17)
    asked, _ = asking.ask(lesson=lesson, by=cast.birger.user, kind="move", at=timezone.now(), wanted=wanted)
    assert "Nothing stands in the way." in words(teacher.get(reverse("asked")))
    make.lesson(student=cast.ravi, starts_at=wanted + timedelta(minutes=15))
    page = teacher.get(reverse("asked"))
    assert "overlaps with Ravi Menon, 17:15–18:00" in words(page)
    answer = teacher.post(reverse("grant", args=[asked.pk]), follow=True)
    assert "something stands in the way" in words(answer)
    to = re.search(r'name="to" value="([^"]+)"', page.content.decode())[1]
    answer = teacher.post(reverse("grant", args=[asked.pk]), {"to": to}, follow=True)
    lesson.refresh_from_db()
    assert lesson.starts_at.isoformat()[:16] == datetime.fromisoformat(to).astimezone(ZoneInfo("UTC")).isoformat()[:16]
    assert "granted" in words(answer)


def test_granted_twice_the_second_changes_nothing(cast, lesson, teacher):
    asked, _ = asking.ask(lesson=lesson, by=cast.birger.user, kind="cancel", at=timezone.now())
    teacher.post(reverse("grant", args=[asked.pk]))
    answer = teacher.post(reverse("refuse", args=[asked.pk]), follow=True)
    assert "nothing was changed" in words(answer)
    assert Asked.objects.get().answer == "granted"


@pytest.mark.parametrize("to", ["x", "2031-01-01T10:00", "2031-99-01T10:00+00:00"])
def test_a_time_that_is_none_grants_nothing(cast, lesson, teacher, to):
    asked, _ = asking.ask(lesson=lesson, by=cast.birger.user, kind="move", remark="x", at=timezone.now())
    assert teacher.post(reverse("grant", args=[asked.pk]), {"to": to}).status_code == 404
    assert Asked.objects.get().answer == ""


def test_the_policy_says_whether_students_do_it_without_a_guardian(cast, teacher):
    page = teacher.get(reverse("change-policy"))
    form = page.context["form"]
    given = {name: form[name].value() for name in form.fields if name.startswith("rule-")}
    teacher.post(reverse("change-policy"), {**given, "notice_hours": 12, "may_cancel": "on", "students_too": "on"})
    assert Policy.objects.get().students_too
    teacher.post(reverse("change-policy"), {**given, "notice_hours": 12, "may_cancel": "on"})
    assert not Policy.objects.get().students_too


# The waiting list and offers


def test_put_on_the_list_changed_taken_off_and_put_back(cast, teacher):
    url = reverse("put-on-list", args=[cast.oda.pk])
    teacher.post(url, {"minutes": 45, "remark": "Fridays"})
    assert "Fridays" in words(teacher.get(reverse("waiting")))
    assert teacher.post(url, {"minutes": 2}).status_code == 422
    assert teacher.post(url, {"minutes": 45, "until": "2020-01-01"}).status_code == 422
    teacher.post(url, {"minutes": 60})
    row = Waiting.objects.get()
    assert (row.minutes, row.remark) == (60, "")
    answer = teacher.post(reverse("take-off-list", args=[row.pk]), follow=True)
    teacher.post(re.search(r'action="(/waiting/restore/[^"]+)"', answer.content.decode())[1])
    assert Waiting.objects.get().since == row.since


def test_one_click_offers_a_freed_time_and_one_takes_it_back(cast, lesson, teacher):
    planning.cancel_lesson(lesson=lesson, attendance="in-time", at=timezone.now(), by=cast.teacher)
    waiting.put_on(student=cast.ravi, minutes=30, at=timezone.now())
    page = teacher.get(reverse("waiting"))
    key = re.search(r'name="freed" value="([^"]+)"', page.content.decode())[1]
    answer = teacher.post(reverse("offer-time"), {"freed": key, "student": cast.ravi.pk}, follow=True)
    assert "Offered to Ravi Menon: 1 mail goes out." in words(answer)
    assert "offered until" in words(answer)
    teacher.post(reverse("take-offer-back", args=[key]))
    assert Offer.objects.get().state == "withdrawn"
    teacher.post(reverse("offer-time"), {"freed": key, "student": cast.oda.pk})
    assert Offer.objects.count() == 1, "it does not fit who is not on the list"


def test_looking_at_an_offer_accepts_nothing_and_the_button_does(cast, lesson):
    offers = offered(cast, lesson)
    url = reverse("offer", args=[asking_mails.token_of(offers[0])])
    client = Client(enforce_csrf_checks=True)
    page = client.get(url)
    assert "Accept this time" in words(page)
    assert client.post(url).status_code == 403, "another site cannot press the button"
    assert not Lesson.objects.held().exists()
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page.content.decode())[1]
    assert "It is yours: Ravi Menon has a lesson on" in words(client.post(url, {"csrfmiddlewaretoken": token}))
    assert Lesson.objects.held().get().student == cast.ravi
    other = reverse("offer", args=[asking_mails.token_of(offers[1])])
    for answer in (Client().get(other), Client().post(other)):
        assert "is not free any more" in words(answer)
    assert Client().get(reverse("offer", args=["x:y"])).status_code == 404


def test_the_guardian_sees_the_offer_on_her_page_and_her_child_does_not_decide(cast, lesson, logged_in):
    offered(cast, lesson)
    page = words(logged_in(cast.birger.user).get(reverse("coming-lessons", args=[cast.ilmari.pk])))
    assert "is free and offered to you." in page
    page = words(logged_in(cast.ravi.user).get(reverse("coming-lessons", args=[cast.ravi.pk])))
    assert "offered to you" not in page


def test_the_mails_are_sent_with_a_link_that_works(cast, lesson, letterbox):
    offered(cast, lesson)
    mailing.send_due(cast.studio, timezone.now() + timedelta(minutes=1))
    mails = {mail["To"]: mail for mail in letterbox.mails if "is free for" in mail["Subject"]}
    assert set(mails) == {"sunita@example.org", "birger@example.org"}
    text = mails["sunita@example.org"].get_body(("plain",)).get_content()
    assert not list(mails["sunita@example.org"].iter_attachments())
    path = re.search(r"https?://[^/\s]+(/offers/\S+)", text)[1]
    assert "Accept this time" in words(Client().get(path))


def test_the_mails_of_questions_and_answers(cast, lesson, letterbox):
    now = timezone.now()
    asked, _ = asking.ask(lesson=lesson, by=cast.birger.user, kind="cancel", remark="a cold", at=now)
    mailing.send_due(cast.studio, now)
    asking.grant(asked=asked, by=cast.teacher, at=now, why="Get well soon.")
    mailing.send_due(cast.studio, now + timedelta(minutes=6))
    texts = [(mail["To"], mail.get_body(("plain",)).get_content()) for mail in letterbox.mails]
    assert texts[0][0] == "ines@example.org"
    assert "Birger Lindqvist asks to cancel the lesson of Oda Lindqvist" in texts[0][1]
    assert "“a cold”" in texts[0][1]
    assert "/asked/" in texts[0][1]
    granted = [text for to, text in texts[1:] if to == "birger@example.org" and "granted" in text]
    assert len(granted) == 1
    assert "“Get well soon.”" in granted[0]


# Queries


def test_ten_more_of_everything_add_no_query(cast, policy, lesson, logged_in, count_queries):
    Policy.objects.update(changes_a_term=2)
    guardian, teacher = logged_in(cast.birger.user), logged_in(cast.teacher)
    pages = {
        (guardian, reverse("child", args=[cast.oda.pk])): 0,
        (guardian, reverse("coming-lessons", args=[cast.oda.pk])): 0,
        (guardian, reverse("ask", args=[lesson.pk])): 0,
        (teacher, reverse("today")): 0,
        (teacher, reverse("asked")): 0,
        (teacher, reverse("waiting")): 0,
    }
    more(cast, 0)
    for client, url in pages:
        pages[client, url] = count_queries(client, url)
    for number in range(1, 11):
        more(cast, number)
    for (client, url), before in pages.items():
        assert count_queries(client, url) == before <= 12, url


def more(cast, number: int) -> None:
    """A question of each kind, an answer, a cancelled lesson, an ended weekly one, who waits, an offer."""
    now = timezone.now()
    first, second, third, fourth = (
        make.lesson(student=cast.oda, starts_at=on_day(7 + number, hour), minutes=20) for hour in (9, 10, 11, 12)
    )
    asking.ask(lesson=first, by=cast.oda.user, kind="cancel", at=now)
    asking.ask(lesson=second, by=cast.birger.user, kind="move", wanted=on_day(9 + number, 13), at=now)
    answered, _ = asking.ask(lesson=third, by=cast.oda.user, kind="cancel", at=now)
    asking.refuse(asked=answered, by=cast.teacher, at=now)
    planning.cancel_lesson(lesson=fourth, attendance="in-time", at=now, by=cast.teacher)
    plan = scheduling.SlotPlan([cast.ravi], on_day(-20).date(), time(16), 20, f"FREQ=WEEKLY;COUNT={number % 3 + 4}")
    scheduling.make_slot(studio=cast.studio, plan=plan, at=now)
    student = make.student(studio=cast.studio, name=f"Student {number}")
    cast.birger.students.add(student)
    waiting.put_on(student=student, minutes=15, at=now)
    at = on_day(15 + number) + timedelta(minutes=number)
    Offer.objects.create(studio=cast.studio, student=cast.oda, starts_at=at, minutes=15, expires_at=at)
