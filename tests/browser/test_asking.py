"""Families ask, the teacher answers by keys, and a freed time finds its taker: in Chromium."""

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, expect

from lessons import asking, asking_mails, waiting
from lessons.credits import balance_of
from lessons.models import Asked, Attendance, Lesson, Offer, Policy
from tests import make

pytestmark = pytest.mark.browser

ZONE = ZoneInfo("Europe/Helsinki")


def on_day(days: int, hour: int = 15) -> datetime:
    """So many days ahead, not on a Sunday."""
    day = timezone.now().astimezone(ZONE).date() + timedelta(days=days)
    return datetime.combine(day + timedelta(days=day.weekday() == 6), time(hour), ZONE)


@pytest.fixture
def policy(people) -> Policy:
    return Policy.objects.create(studio=people.studio, may_cancel=True, may_move=True, notice_hours=24)


def now_of(lesson: Lesson) -> Lesson:
    lesson.refresh_from_db()
    return lesson


def lightness(page: Page) -> str:
    return page.evaluate("getComputedStyle(document.body).backgroundColor")


def test_cancelled_in_time_a_credit_follows_and_undo_takes_it_back(phone, people, policy, enter, axe):
    lesson = make.lesson(student=people.oda, starts_at=on_day(5))
    enter(phone, people.birger.user)
    phone.goto(f"/children/{people.oda.pk}/")
    phone.get_by_role("link", name="Cancel or move a lesson").click()
    axe(phone)
    phone.get_by_role("link", name="Cancel or move").first.click()
    expect(phone.get_by_text("That is in time.")).to_contain_text("a make-up lesson is owed")
    axe(phone)
    phone.get_by_role("button", name="Cancel the lesson").click()
    expect(phone.locator(".said")).to_contain_text("is cancelled.")
    assert now_of(lesson).attendance == Attendance.CANCELLED_IN_TIME
    assert balance_of(people.oda) == 1
    phone.get_by_role("button", name="Undo").click()
    expect(phone.locator(".said")).to_contain_text("It is as it was before.")
    assert now_of(lesson).cancelled_at is None
    assert balance_of(people.oda) == 0


def test_a_free_time_is_chosen_with_one_tap(phone, people, policy, enter):
    lesson = make.lesson(student=people.oda, starts_at=on_day(5))
    enter(phone, people.birger.user)
    phone.goto(reverse("ask", args=[lesson.pk]))
    choice = phone.get_by_role("radio").first
    box = choice.locator("xpath=..").bounding_box()
    assert box["height"] >= 44
    wanted = datetime.fromisoformat(choice.get_attribute("value"))
    choice.check()
    phone.get_by_role("button", name="Move the lesson").click()
    expect(phone.locator(".said")).to_contain_text("The lesson is moved to")
    assert now_of(lesson).starts_at == wanted


def test_too_late_the_teacher_grants_by_key_and_the_family_sees_it(page, phone, people, policy, enter, axe):
    lesson = make.lesson(student=people.oda, starts_at=timezone.now() + timedelta(hours=3))
    other = make.lesson(student=people.ravi, starts_at=on_day(6))
    asking.ask(lesson=other, by=people.sunita.user, kind="move", wanted=on_day(7, 17), at=timezone.now())
    enter(phone, people.birger.user)
    phone.goto(reverse("ask", args=[lesson.pk]))
    phone.locator("#id_cancel-remark").fill("a cold")
    phone.get_by_role("button", name="Ask to cancel it").click()
    expect(phone.get_by_text("It waits for your teacher.")).to_be_visible()
    axe(phone)

    enter(page, people.teacher)
    page.goto("/today/")
    page.get_by_role("link", name="2 questions about lessons wait for your answer").click()
    axe(page)
    page.keyboard.press("g")
    assert not Asked.objects.exclude(answer="").exists(), "a key decides only on the question that has the focus"
    page.keyboard.press("j")
    expect(page.get_by_role("link", name="Oda Lindqvist").first).to_be_focused()
    page.keyboard.press("w")
    page.keyboard.type("Get well soon, grrr")
    page.keyboard.press("Enter")
    assert not Asked.objects.exclude(answer="").exists(), "nor while a word is typed"
    page.keyboard.press("g")
    expect(page.locator(".said")).to_contain_text("Oda Lindqvist: granted")
    assert now_of(lesson).attendance == Attendance.CANCELLED_LATE
    page.keyboard.press("j")
    page.keyboard.press("r")
    expect(page.locator(".said")).to_contain_text("Ravi Menon: refused")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("[data-asked]")).to_have_count(1)

    phone.goto(f"/children/{people.oda.pk}/")
    expect(phone.locator(".remark", has_text="Granted")).to_contain_text("“Get well soon, grrr”")


def test_a_freed_time_is_offered_and_the_first_to_accept_has_it(page, phone, people, enter, axe):
    lesson = make.lesson(student=people.oda, starts_at=on_day(5))
    for student in (people.ravi, people.ilmari):
        waiting.put_on(student=student, minutes=30, at=timezone.now())
    enter(page, people.teacher)
    page.goto(f"/lessons/{lesson.pk}/change/")
    page.get_by_role("button", name="I cancel it").click()
    page.get_by_role("link", name="Waiting list").click()
    expect(page.locator(".freed li")).to_contain_text("was the lesson of Oda Lindqvist")
    axe(page)
    page.get_by_role("button", name="Offer it").click()
    expect(page.locator(".said")).to_contain_text("Offered to Ravi Menon, Ilmari Lindqvist: 2 mails go out.")
    axe(page)

    offers = Offer.objects.order_by("student__name")
    phone.goto(reverse("offer", args=[asking_mails.token_of(offers[1])]))  # as from the mail: nobody is logged in
    axe(phone)
    phone.get_by_role("button", name="Accept this time").click()
    expect(phone.get_by_text("It is yours: Ravi Menon has a lesson on")).to_be_visible()
    assert people.ravi.lessons.get().starts_at == lesson.starts_at
    phone.goto(reverse("offer", args=[asking_mails.token_of(offers[0])]))
    expect(phone.get_by_text("is not free any more")).to_be_visible()
    axe(phone)


def test_the_pages_hold_in_the_dark(page, people, policy, enter, axe):
    lesson = make.lesson(student=people.oda, starts_at=on_day(5))
    waiting.put_on(student=people.ravi, minutes=30, at=timezone.now())
    asking.ask(lesson=lesson, by=people.oda.user, kind="cancel", at=timezone.now())
    other = make.lesson(student=people.oda, starts_at=on_day(8))
    enter(page, people.teacher)
    page.emulate_media(color_scheme="dark")
    for url in ("/asked/", "/waiting/", f"/students/{people.ravi.pk}/waiting/"):
        page.goto(url)
        assert lightness(page) == "rgb(25, 23, 19)"
        axe(page)
    enter(page, people.birger.user)
    for url in (reverse("coming-lessons", args=[people.oda.pk]), reverse("ask", args=[other.pk])):
        page.goto(url)
        axe(page)
