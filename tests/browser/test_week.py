"""The week in Chromium: lessons move by keys and by dragging, and what stands in the way is told meanwhile."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from lessons.models import Lesson
from lessons.scheduling import SlotPlan, make_slot
from tests import make
from tests.people import Cast

pytestmark = pytest.mark.browser

HELSINKI = ZoneInfo("Europe/Helsinki")
MONDAY = datetime(2096, 11, 26, tzinfo=HELSINKI)  # far from now: nothing in it is over
WEEK = "/week/?from=2096-11-26"


def at(hour: int, minute: int = 0, day: int = 0) -> datetime:
    return (MONDAY + timedelta(days=day)).replace(hour=hour, minute=minute)


@pytest.fixture
def lesson(people: Cast) -> Lesson:
    """Oda on Monday at three; her brother follows an hour later."""
    make.lesson(student=people.ilmari, starts_at=at(16))
    return make.lesson(student=people.oda, starts_at=at(15))


@pytest.fixture
def week(page: Page, people: Cast, lesson: Lesson, enter: Callable) -> Page:
    enter(page, people.teacher)
    page.goto(WEEK)
    return page


def block(page: Page, name: str = "Oda Lindqvist") -> Locator:
    return page.locator(f'.block[data-name="{name}"]')


def now_at(lesson: Lesson) -> datetime:
    lesson.refresh_from_db()
    return lesson.starts_at


def test_arrow_keys_move_a_lesson_and_enter_puts_it_down(week: Page, lesson: Lesson):
    block(week).locator("a").first.focus()
    for key in ("ArrowDown", "ArrowDown", "Shift+ArrowDown"):
        week.keyboard.press(key)
    trying = week.locator("#trying")
    expect(trying).to_contain_text("15:35")
    expect(trying).to_contain_text("overlaps with Ilmari Lindqvist, 16:00–16:45")
    expect(trying).to_contain_text("one family at two lessons at once")
    expect(trying.locator("[data-to]")).to_have_count(3)
    assert now_at(lesson) == at(15), "nothing changes before it is put down"
    week.keyboard.press("ArrowRight")
    expect(trying).to_contain_text("Nothing stands in the way.")
    week.keyboard.press("Enter")
    expect(week.get_by_role("status").first).to_contain_text("Tuesday 27 November, 15:35")
    assert now_at(lesson) == at(15, 35, day=1)
    week.get_by_role("button", name="Undo").click()
    expect(week.get_by_role("status").first).to_contain_text("back at Monday 26 November, 15:00")
    assert now_at(lesson) == at(15)


def test_a_lesson_on_its_way_tells_the_time_it_has_come_to(week: Page, lesson: Lesson, people: Cast):
    make.lesson(student=people.ravi, starts_at=at(15))
    week.reload()
    moved = block(week)
    expect(moved.locator(".when")).to_have_text("15:00–15:45")
    moved.locator("a").first.focus()
    for key in ("ArrowRight", "ArrowDown"):
        week.keyboard.press(key)
    expect(week.locator("#trying .to")).to_have_text("Oda Lindqvist: Tuesday 27 November, 15:15")
    expect(moved.locator(".when")).to_have_text("15:15")
    expect(moved.locator(".clash")).to_be_hidden()
    week.keyboard.press("Escape")
    expect(moved.locator(".when")).to_have_text("15:00–15:45")


def test_escape_leaves_a_lesson_where_it_was(week: Page, lesson: Lesson):
    place = block(week).get_attribute("class")
    block(week).locator("a").first.focus()
    week.keyboard.press("ArrowRight")
    week.keyboard.press("ArrowUp")
    expect(week.locator("#trying")).to_be_visible()
    week.keyboard.press("Escape")
    expect(week.locator("#trying")).to_be_hidden()
    assert block(week).get_attribute("class") == place
    expect(week.locator(".column").first.locator(".block")).to_have_count(2)
    expect(block(week).locator("a").first).to_be_focused()
    week.keyboard.press("Enter")
    expect(week).to_have_url(f"{week.url.split('/week')[0].split('/lessons')[0]}/lessons/{lesson.pk}/")


def test_a_lesson_is_dragged_to_another_day(week: Page, lesson: Lesson):
    block(week).scroll_into_view_if_needed()
    box = block(week).bounding_box()
    day = week.locator(".column").nth(3).bounding_box()
    week.mouse.move(box["x"] + 20, box["y"] + 10)
    week.mouse.down()
    week.mouse.move(day["x"] + 30, box["y"] + 10, steps=6)
    week.mouse.up()
    expect(week.locator("#trying")).to_contain_text("Thursday 29 November, 15:00")
    week.get_by_role("button", name="Put it there").click()
    expect(week.get_by_role("status").first).to_contain_text("Thursday 29 November, 15:00")
    assert now_at(lesson) == at(15, day=3)


def test_a_free_time_that_is_offered_is_taken_by_one_click(week: Page, lesson: Lesson):
    block(week).locator("a").first.focus()
    for _ in range(4):
        week.keyboard.press("ArrowDown")
    free = week.locator("#trying [data-to]").first
    expect(free).to_have_text("Mon 26 Nov, 15:15")
    free.click()
    expect(week.get_by_role("status").first).to_contain_text("15:15")
    assert now_at(lesson) == at(15, 15)


def test_without_scripts_a_lesson_moves_by_its_form(browser, live_server, people: Cast, lesson: Lesson, enter):
    context = browser.new_context(base_url=live_server.url, java_script_enabled=False)
    page = context.new_page()
    enter(page, people.teacher)
    page.goto(WEEK)
    page.get_by_role("link", name=re.compile("Move.*Oda")).focus()
    page.keyboard.press("Enter")
    page.get_by_label("Begins at").fill("15:30")
    page.get_by_role("button", name="Only try it").click()
    expect(page.locator(".against")).to_contain_text("overlaps with Ilmari Lindqvist")
    page.get_by_role("link", name="Mon 26 Nov, 15:15").click()
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_role("status").first).to_contain_text("15:15")
    assert now_at(lesson) == at(15, 15)
    context.close()


def test_a_weekly_lesson_is_made_on_a_phone(phone: Page, people: Cast, enter):
    enter(phone, people.teacher)
    phone.goto("/weekly-lessons/new/")
    phone.get_by_label("Oda Lindqvist").check()
    phone.get_by_label("First day").fill(f"{timezone.localdate() + timedelta(days=1):%Y-%m-%d}")
    phone.get_by_label("Begins at").fill("15:00")
    phone.get_by_role("button", name="Plan it").click()
    expect(phone.get_by_role("status").first).to_contain_text("lessons are laid out")
    assert people.oda.lessons.count() == 26


PAGES = [
    WEEK,
    "/week/day/?on=2096-11-26",
    "/weekly-lessons/",
    "/weekly-lessons/new/",
    "/find-a-time/",
    "/holidays/",
    "/free-hours/",
]


@pytest.mark.parametrize("path", PAGES)
def test_no_page_of_the_calendar_breaks_the_rules(
    page: Page, phone: Page, people: Cast, lesson: Lesson, enter, axe, path
):
    plan = SlotPlan([people.oda, people.ravi], MONDAY.date(), time(10), 45, "FREQ=WEEKLY;COUNT=2", name="Four hands")
    make_slot(studio=people.studio, plan=plan, at=datetime(2096, 11, 1, tzinfo=UTC))
    make.lesson(student=people.ravi, starts_at=at(16, 15), cancelled_at=at(9), attendance="teacher")
    make.lesson(student=people.ravi, starts_at=at(15, 30))
    for screen in (page, phone):
        enter(screen, people.teacher)
        screen.goto(path)
        axe(screen)


def test_no_page_of_one_lesson_or_student_breaks_the_rules(page: Page, phone: Page, people: Cast, lesson, enter, axe):
    for screen in (page, phone):
        enter(screen, people.teacher)
        for path in (f"/lessons/{lesson.pk}/change/", f"/students/{people.oda.pk}/absences/"):
            screen.goto(path)
            axe(screen)
