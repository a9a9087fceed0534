"""The pictures of progress in Chromium: on a desk, on a phone, in the dark, on paper."""

from collections.abc import Callable
from datetime import datetime, time, timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from lessons import reporting
from tests import make
from tests.people import Cast

pytestmark = pytest.mark.browser


@pytest.fixture
def addresses(people: Cast) -> list[str]:
    """Oda has practised a passage for three weeks; the pages that show it, a report among them."""
    today = timezone.localdate()
    starts_at = timezone.make_aware(datetime.combine(today - timedelta(days=20), time(12)))
    row = make.assigned(lesson=make.lesson(student=people.oda, starts_at=starts_at), passage=people.passage)
    for days in range(0, 20, 2):
        fields = {"tempo": 60 + days % 6, "clean_runs": days % 5, "tries": 5, "minutes": 70 if days == 4 else 12}
        make.entry(student=people.oda, assigned=row, day=today - timedelta(days=days), **fields)
    start = f"/students/{people.oda.pk}/progress/"
    days = {"first_day": today - timedelta(days=80), "last_day": today}
    fields = {"name": "Autumn", "words": "You listen well.", "paper": "A4", **days}
    report = reporting.write_report(student=people.oda, fields=fields)
    reports = [f"/students/{people.oda.pk}/reports/", f"/reports/{report.pk}/", f"/reports/{report.pk}/change/"]
    return [start, f"{start}?weeks=26", f"{start}{people.passage.pk}/", "/progress/", *reports]


def test_desk_phone_and_dark_break_no_rule(
    page: Page, phone: Page, people: Cast, addresses: list[str], enter: Callable, axe: Callable
):
    for where, scheme in ((page, "light"), (phone, "light"), (phone, "dark")):
        enter(where, people.teacher)
        where.emulate_media(color_scheme=scheme)
        for address in addresses:
            where.goto(address)
            for fold in where.locator("details.fold > summary").all():
                fold.click()
            axe(where)


def test_one_drawing_is_seen_at_a_time_and_it_fits(
    page: Page, phone: Page, people: Cast, addresses: list[str], enter: Callable
):
    for where, seen, hidden in ((page, ".on-desk", ".on-phone"), (phone, ".on-phone", ".on-desk")):
        enter(where, people.oda.user)
        where.goto(addresses[0])
        pictures = where.locator("figure.drawn")
        expect(pictures).to_have_count(4)
        for picture in pictures.all():
            expect(picture.locator(f"{seen} svg")).to_be_visible()
            expect(picture.locator(f"{hidden} svg")).to_be_hidden()
            box = picture.locator(f"{seen} svg").bounding_box()
            assert box["x"] + box["width"] <= where.viewport_size["width"]


def test_paper_has_the_wide_drawings_in_black(page: Page, people: Cast, addresses: list[str], enter: Callable):
    enter(page, people.teacher)
    page.emulate_media(media="print", color_scheme="dark")
    page.goto(addresses[2])
    expect(page.locator(".on-desk svg").first).to_be_visible()
    expect(page.locator(".on-phone svg").first).to_be_hidden()
    expect(page.locator(".on-desk svg text").first).to_have_css("fill", "rgb(0, 0, 0)")


def test_a_table_opens_by_key_without_scripts(
    people: Cast, addresses: list[str], browser, live_server, enter: Callable
):
    context = browser.new_context(base_url=live_server.url, java_script_enabled=False)
    page = context.new_page()
    enter(page, people.birger.user)
    page.goto(addresses[0])
    summary = page.locator("#minutes summary")
    summary.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#minutes table")).to_be_visible()
    expect(page.locator("#minutes tbody tr")).to_have_count(10)
    context.close()
