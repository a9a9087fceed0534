"""The main job, whole: from an empty studio and a real score to a handout, and to the student's own page."""

import re
from datetime import timedelta

import pytest
from django.conf import settings
from django.utils import timezone
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from lessons.models import Handout, Lesson
from tests import make

pytestmark = pytest.mark.browser

SCORE = settings.HOME / "fixtures" / "scores" / "laendler-brandt.musicxml"
FINGERS = "1 3 2 3 5 4 3 2 1 2 5 4"


def begin_a_studio(page: Page) -> None:
    page.goto("/start/")
    page.get_by_label("Name of the studio").fill("Studio am Hafen")
    page.get_by_label("Time zone").select_option("Europe/Berlin")
    page.get_by_label("Currency").select_option("EUR")
    page.get_by_label("Your name").fill("Jonna Weber")
    page.get_by_label("E-mail").fill("jonna@example.org")
    page.get_by_label("Password").fill(make.PASSWORD)
    page.get_by_role("button", name="Open the studio").click()
    expect(page.get_by_role("status")).to_contain_text("is open")
    page.goto("/students/new/")
    page.get_by_label("Name").fill("Nils Aho")
    page.get_by_role("button", name="Add").click()
    expect(page.get_by_role("heading", name="Nils Aho")).to_be_visible()


def bring_a_score_and_mark_a_passage(page: Page) -> None:
    page.goto("/repertoire/new/")
    page.get_by_label("Score file").set_input_files(SCORE)
    page.get_by_role("button", name="Add the piece").click()
    page.get_by_text("By measure numbers").click()
    page.get_by_label("From measure").fill("1")
    page.get_by_label("To measure", exact=True).fill("2")
    page.get_by_role("radio", name="right hand").first.check()
    page.get_by_role("button", name="Mark this passage").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("measures 1–2")


def finger_it(page: Page) -> None:
    """A new line, twelve fingers, typed over the notes."""
    page.get_by_role("button", name="New line, right hand").click()
    expect(page.locator(".typing")).to_contain_text("measure 1")
    page.wait_for_load_state("networkidle")  # the music is engraved anew once for the width of the page
    for digit in FINGERS.split():
        page.keyboard.press(digit)
    expect(page.locator(".finger-line .digit")).to_have_text(FINGERS.split())
    expect(page.locator("#typing-kept")).to_have_text("kept")
    page.reload()
    expect(page.locator(".finger-line .digit")).to_have_text(FINGERS.split())


def plan_a_lesson_and_hand_out(page: Page) -> Lesson:
    page.goto("/lessons/new/")
    page.get_by_label("Student").select_option(label="Nils Aho")
    page.get_by_label("Day").fill(timezone.localdate().isoformat())
    page.get_by_label("Begins at").fill("15:00")
    page.get_by_role("button", name="Plan it").click()
    expect(page.get_by_role("heading", name="Nils Aho")).to_be_visible()
    lesson = Lesson.objects.get()
    lesson.starts_at = timezone.now() - timedelta(hours=1)
    lesson.save(update_fields=["starts_at"])
    page.goto(f"/lessons/{lesson.pk}/")
    page.get_by_role("button", name=re.compile("measures 1–2")).first.click()
    page.get_by_role("link", name=re.compile("^Choices")).click()
    page.get_by_label("Tempo now").fill("60")
    page.get_by_label("Tempo to reach").fill("88")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.get_by_text("60 → 88")).to_be_visible()
    page.goto(f"/lessons/{lesson.pk}/handout/")
    page.get_by_role("button", name="Give this handout").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Nils Aho")
    return lesson


def test_from_an_empty_studio_to_the_music_stand(page: Page, phone: Page, live_server, axe, tmp_path):
    begin_a_studio(page)
    bring_a_score_and_mark_a_passage(page)
    finger_it(page)
    axe(page)
    lesson = plan_a_lesson_and_hand_out(page)
    axe(page)

    sheet = tmp_path / "sheet.pdf"
    sheet.write_bytes(Handout.objects.get(lesson=lesson).pdf)
    words = PdfReader(sheet).pages[0].extract_text()
    assert "Nils Aho" in words
    assert "Ländler in E-flat" in words
    assert "60" in words
    assert "88" in words

    page.goto(f"/students/{lesson.student_id}/")
    page.get_by_role("link", name=re.compile("^Invite")).first.click()
    page.get_by_role("button", name="Make the link").click()
    link = page.get_by_label("Link", exact=True).input_value()
    phone.goto(live_server.url + "/invitation/" + link.rstrip("/").rsplit("/", 1)[-1] + "/")
    phone.get_by_label("E-mail").fill("nils@example.org")
    phone.get_by_label("Password").fill(make.PASSWORD)
    phone.get_by_role("button", name="Make the login").click()
    expect(phone.get_by_role("status")).to_contain_text("nils@example.org")
    phone.goto("/this-week/")
    expect(phone.get_by_role("heading", name=re.compile("Ländler in E-flat"))).to_be_visible()
    expect(phone.locator(".given .system svg").first).to_be_visible()
    axe(phone)
