"""A lesson by keys: who came, what was reached, what is next; and nothing that was typed is ever lost."""

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from lessons.models import Lesson, Mark
from tests import make
from tests.people import Cast

pytestmark = pytest.mark.browser

NOTES = "Left hand alone first, then both, a step slower."


class Typist:
    """Types and counts the keystrokes."""

    def __init__(self, page: Page) -> None:
        self.page, self.strokes = page, 0

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)
            self.strokes += 1

    def write(self, text: str) -> None:
        self.page.keyboard.type(text)
        self.strokes += len(text)


@pytest.fixture
def lesson(people: Cast) -> Lesson:
    """Half an hour that is on now, after a lesson that gave three passages, with a week's practice."""
    last = make.lesson(student=people.oda, starts_at=timezone.now() - timedelta(days=7), notes="Sing it first.")
    for name in ("the beginning", "the middle", "the end"):
        row = make.assigned(lesson=last, passage=make.passage(edition=people.edition, name=name))
        make.entry(student=people.oda, assigned=row, day=timezone.localdate() - timedelta(days=2), tempo=72)
    make.passage(edition=people.edition, name="coda")
    return make.lesson(student=people.oda, starts_at=timezone.now() - timedelta(minutes=10), minutes=30)


@pytest.fixture
def desk(page: Page, people: Cast, lesson: Lesson, enter) -> Page:
    enter(page, people.teacher)
    page.goto(f"/lessons/{lesson.pk}/")
    expect(page.locator("#shelves-list .give").first).to_be_visible()
    return page


def notes_of(lesson: Lesson) -> str:
    lesson.refresh_from_db()
    return lesson.notes


def test_half_an_hour_is_documented_with_fewer_keys_than_a_minute_holds(desk: Page, lesson: Lesson):
    hand = Typist(desk)
    hand.press("p")
    expect(desk.get_by_role("button", name="Present")).to_have_attribute("aria-pressed", "true")
    hand.press("j")
    hand.press("7", "6", "Enter", "d", "s")  # three passages, without waiting for an answer
    expect(desk.locator("[data-heard] [aria-pressed=true]")).to_have_text(["Carry on", "Done", "Set aside"])
    hand.press("/")
    hand.write("coda")
    expect(desk.locator("#shelves-list .give")).to_have_text([re.compile("coda"), re.compile("piece")])
    hand.press("Enter")
    expect(desk.locator("#work .passage-row")).to_have_count(2)
    hand.press("Escape", "n")
    hand.write(NOTES)
    expect(desk.locator("#notes [data-said]")).to_contain_text("kept")
    kinds = [(mark.assigned.passage.name, mark.kind, mark.tempo) for mark in Mark.objects.all()]
    assert kinds == [("the beginning", "carry", 76), ("the middle", "done", None), ("the end", "aside", None)]
    assert notes_of(lesson) == NOTES
    # 150 keystrokes a minute is a slow typist's pace (30 words of five letters; common practice).
    print(f"{hand.strokes} keystrokes, {len(NOTES)} of them notes")
    assert hand.strokes < 150
    assert hand.strokes - len(NOTES) < 20, "the notes apart"


def test_a_tempo_that_cannot_be_is_refused_at_its_row_and_nothing_is_marked(desk: Page):
    desk.keyboard.press("j")
    desk.evaluate("document.querySelector('[name=tempo]').removeAttribute('max')")
    for key in ("9", "9", "9", "Enter"):
        desk.keyboard.press(key)
    expect(desk.locator("[data-heard]").first.get_by_role("alert")).to_contain_text("300")
    expect(desk.locator("[data-heard]").first.get_by_label(re.compile("Tempo reached"))).to_be_focused()
    assert not Mark.objects.exists()


def test_the_tempo_steps_on_metronome_marks(desk: Page):
    desk.keyboard.press("j")
    row = desk.locator("[data-heard]").first
    tempo = row.get_by_label(re.compile("Tempo reached"))
    row.get_by_role("button", name="One mark faster").click()
    expect(tempo).to_have_value("76")  # after 72, the newest in the log, on a mechanical metronome
    tempo.press("ArrowDown")
    tempo.press("ArrowDown")
    expect(tempo).to_have_value("69")


def test_what_is_typed_is_kept_at_a_pause(desk: Page, lesson: Lesson):
    desk.get_by_label("Lesson notes").press_sequentially("Sing it.")
    expect(desk.locator("#notes [data-said]")).to_contain_text("kept")
    assert notes_of(lesson) == "Sing it."
    assert desk.evaluate("Object.keys(localStorage).filter((name) => name.startsWith('unkept:')).length") == 0


def test_leaving_the_page_at_once_loses_nothing(desk: Page, lesson: Lesson):
    desk.get_by_label("Lesson notes").press_sequentially("Sing it.", delay=5)
    desk.goto("/today/")
    desk.goto(f"/lessons/{lesson.pk}/")
    expect(desk.get_by_label("Lesson notes")).to_have_value("Sing it.")
    expect(desk.get_by_text("were not kept yet")).to_have_count(0)


@pytest.fixture
def cut_off(desk: Page, lesson: Lesson) -> Page:
    """The same desk in a window without a network, in which something was typed, and which then was closed: that the
    browser reports the missing network is no fault."""
    window = desk.context.new_page()
    window.goto(f"/lessons/{lesson.pk}/")
    desk.context.set_offline(True)
    window.get_by_label("Lesson notes").press_sequentially("Sing it.")
    expect(window.locator("#notes [data-said]")).to_contain_text("cannot be reached")
    window.close()
    desk.context.set_offline(False)
    assert notes_of(lesson) == ""
    desk.goto(f"/lessons/{lesson.pk}/")
    return desk


def test_without_a_network_the_words_wait_in_the_browser_and_are_offered_on_return(cut_off: Page, lesson: Lesson):
    expect(cut_off.get_by_text("These words were not kept yet.")).to_be_visible()
    expect(cut_off.locator("[data-unkept] blockquote")).to_have_text("Sing it.")
    cut_off.get_by_role("button", name="Keep them").click()
    expect(cut_off.locator("#notes [data-said]")).to_contain_text("kept")
    assert notes_of(lesson) == "Sing it."
    cut_off.reload()
    expect(cut_off.get_by_label("Lesson notes")).to_have_value("Sing it.")
    expect(cut_off.get_by_text("were not kept yet")).to_have_count(0)


def test_words_that_waited_do_not_write_over_what_was_written_meanwhile(cut_off: Page, lesson: Lesson):
    Lesson.objects.filter(pk=lesson.pk).update(notes="Count aloud.", revision=1)
    cut_off.reload()
    cut_off.get_by_role("button", name="Keep them").click()
    expect(cut_off.locator("[data-clash] blockquote")).to_have_text("Count aloud.")
    expect(cut_off.get_by_label("Lesson notes")).to_have_value("Sing it.")
    assert notes_of(lesson) == "Count aloud."


def test_words_that_were_dropped_do_not_come_back(cut_off: Page):
    cut_off.get_by_role("button", name="Drop them").click()
    cut_off.reload()
    expect(cut_off.get_by_label("Lesson notes")).to_have_value("")
    expect(cut_off.get_by_text("were not kept yet")).to_have_count(0)


def test_after_the_login_has_ended_the_words_wait_for_the_next(
    desk: Page, lesson: Lesson, people: Cast, enter: Callable[[Page, object], None]
):
    cookies = [cookie for cookie in desk.context.cookies() if "session" not in cookie["name"]]
    desk.context.clear_cookies()
    desk.context.add_cookies(cookies)
    desk.get_by_label("Lesson notes").press_sequentially("Sing it.")
    expect(desk.locator("#notes [data-said]")).to_contain_text("not logged in any more")
    expect(desk.get_by_role("link", name="Log in again")).to_have_attribute(
        "href", f"/log-in/?next=/lessons/{lesson.pk}/"
    )
    enter(desk, people.teacher)
    desk.goto(f"/lessons/{lesson.pk}/")
    desk.get_by_role("button", name="Keep them").click()
    expect(desk.locator("#notes [data-said]")).to_contain_text("kept")
    assert notes_of(lesson) == "Sing it."


def test_someone_else_who_logs_in_finds_nothing_of_it(cut_off: Page, people: Cast, enter):
    count = "Object.keys(localStorage).filter((name) => name.startsWith('unkept:')).length"
    assert cut_off.evaluate(count) == 1
    enter(cut_off, people.oda.user)
    cut_off.goto("/this-week/")
    assert cut_off.evaluate(count) == 0


def test_logging_out_keeps_the_words_first_and_leaves_nothing_in_the_browser(desk: Page, lesson: Lesson):
    desk.get_by_label("Lesson notes").press_sequentially("Sing it.", delay=2)
    desk.get_by_text("Ines Valtonen").click()
    desk.get_by_role("button", name="Log out").click()
    expect(desk.get_by_role("link", name="Log in").first).to_be_visible()
    assert notes_of(lesson) == "Sing it."
    assert desk.evaluate("Object.keys(localStorage).filter((name) => name.startsWith('unkept:')).length") == 0


@pytest.mark.parametrize(
    ("answer", "expected"),
    [
        ("Keep what I typed", "Count aloud."),
        ("Keep the other", "Sing it."),
        ("Keep both, one under the other", "Sing it.\n\nCount aloud."),
    ],
)
def test_two_windows_do_not_write_over_each_other(desk: Page, lesson: Lesson, answer: str, expected: str):
    other = desk.context.new_page()
    other.goto(f"/lessons/{lesson.pk}/")
    desk.get_by_label("Lesson notes").press_sequentially("Sing it.")
    expect(desk.locator("#notes [data-said]")).to_contain_text("kept")
    field = other.get_by_label("Lesson notes")
    field.press_sequentially("Count aloud.")
    expect(other.locator("[data-clash] blockquote")).to_have_text("Sing it.")
    expect(field).to_have_value("Count aloud.")
    assert notes_of(lesson) == "Sing it."
    other.get_by_role("button", name=answer).click()
    expect(other.locator("[data-clash] blockquote")).to_have_count(0)
    expect(field).to_have_value(expected)
    if answer != "Keep the other":
        expect(other.locator("#notes [data-said]")).to_contain_text("kept")
    assert notes_of(lesson) == expected


def test_what_the_other_window_wrote_elsewhere_is_taken_over_and_said(desk: Page, lesson: Lesson):
    other = desk.context.new_page()
    other.goto(f"/lessons/{lesson.pk}/")
    desk.get_by_label("Your own notes").press_sequentially("Tired.")
    expect(desk.locator("#notes [data-said]")).to_contain_text("kept")
    other.get_by_label("Lesson notes").press_sequentially("Sing it.")
    expect(other.locator("#notes [data-said]")).to_contain_text("taken over from another window: Your own notes")
    expect(other.get_by_label("Your own notes")).to_have_value("Tired.")
    assert notes_of(lesson) == "Sing it."
    assert lesson.private_notes == "Tired."


def test_a_remark_typed_while_the_work_changes_is_not_lost(desk: Page, lesson: Lesson):
    desk.keyboard.press("c")
    remark = desk.get_by_label(re.compile("What to do with the beginning|What to do with measures")).first
    remark.press_sequentially("hands apart")
    desk.locator("#shelves-list .give").filter(has_text="coda").click()
    expect(remark).to_have_value("hands apart")
    expect(desk.locator("#work .passage-row")).to_have_count(4)
    desk.reload()
    expect(desk.get_by_label(re.compile("What to do with")).nth(1)).to_have_value("hands apart")


def test_the_timer_says_what_is_gone_and_what_is_left_and_can_begin_anew(desk: Page):
    timer = desk.get_by_role("timer")
    expect(timer).to_have_text(re.compile(r"^1[01] min · (20|19) left$"))
    desk.get_by_role("button", name="Begin now").click()
    expect(timer).to_have_text("0 min · 30 left")
    desk.reload()
    expect(timer).to_have_text("0 min · 30 left")
    desk.get_by_role("button", name="As planned").click()
    expect(timer).to_have_text(re.compile(r"^1[01] min · (20|19) left$"))


def test_the_desk_and_today_are_usable_by_everyone(desk: Page, phone: Page, people: Cast, lesson: Lesson, enter, axe):
    axe(desk)
    desk.goto("/today/")
    axe(desk)
    enter(phone, people.teacher)
    for address in ("/today/", f"/lessons/{lesson.pk}/", "/policy/change/", f"/students/{people.oda.pk}/make-ups/"):
        phone.goto(address)
        axe(phone)


def test_today_by_keys(desk: Page, lesson: Lesson):
    desk.goto("/today/")
    desk.keyboard.press("m")
    expect(desk.get_by_role("button", name="Missed")).to_have_attribute("aria-pressed", "true")
    desk.keyboard.press("u")
    expect(desk.get_by_role("button", name="Missed")).to_have_attribute("aria-pressed", "false")
    desk.keyboard.press("1")
    expect(desk).to_have_url(re.compile(f"/lessons/{lesson.pk}/$"))
