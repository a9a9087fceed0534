"""Places with the same music: from one to the next by a key, and a line of another place made one's own."""

import re

import pytest
from playwright.sync_api import expect

from scores.inheriting import here
from tests import make
from tests.browser.test_scores import click_note, open_edition
from tests.scores.rondino import RONDINO
from tests.scores.test_inheriting import fingered, fresh, passage

pytestmark = pytest.mark.browser


@pytest.fixture
def rondino(people):
    return make.edition(piece=make.piece(studio=people.studio, title="Rondino"), music=RONDINO, name="rondino.musicxml")


def note_at(edition, measure: int, place: int = 0) -> str:
    return edition.score.in_measures(measure - 1, measure - 1, "right")[place].id


def test_a_goes_from_place_to_place_and_round_again(page, people, enter, rondino):
    enter(page, people.teacher)
    open_edition(page, rondino)
    click_note(page, note_at(rondino, 1, 2))
    for measure in (5, 7, 9, 1):
        page.keyboard.press("a")
        expect(page.locator(":focus")).to_have_attribute("data-note", note_at(rondino, measure, 2))


def test_where_music_stands_once_the_page_says_so(page, people, enter, rondino):
    enter(page, people.teacher)
    open_edition(page, rondino)
    click_note(page, note_at(rondino, 3))
    page.keyboard.press("a")
    expect(page.locator("#note-here")).to_have_text("This music stands at no other place.")


def test_on_the_desk_a_goes_to_the_next_place(page, people, enter, rondino):
    first, second = passage(rondino, 1, 2), passage(rondino, 5, 6)
    fingered(rondino, 1, 2)
    enter(page, people.teacher)
    page.goto(f"/passages/{first.pk}/")
    page.locator(".other-places a").first.focus()
    page.keyboard.press("a")
    expect(page).to_have_url(re.compile(rf"/passages/{second.pk}/$"))


def test_a_line_of_another_place_is_changed_here_alone(page, people, enter, rondino):
    line, place = fingered(rondino, 1, 2), passage(rondino, 5, 6)
    enter(page, people.teacher)
    page.goto(f"/passages/{place.pk}/")
    expect(page.locator("#lines")).to_contain_text("From measures 1–2.")
    expect(page.locator("#desk-music svg").first).to_contain_text("I =")
    page.get_by_role("button", name="Change line I here").click()
    field = page.get_by_label("Fingers of line I")
    expect(field).to_have_value("1 2 3 4 5 4 3 2 1")
    field.fill("2 2 3 4 5 4 3 2 1")
    with page.expect_response(re.compile("/line/$")):
        page.locator(".desk-line").get_by_role("button", name="Keep", exact=True).click()
    expect(page.locator(".htmx-request, .htmx-swapping, .htmx-settling")).to_have_count(0)
    expect(field).to_have_value("2 2 3 4 5 4 3 2 1")
    line.refresh_from_db()
    assert next(iter(line.fingers.values())) == "1"
    expect(page.locator("#from-elsewhere")).to_contain_text("Not as in measures 1–2")
    page.get_by_role("button", name="As in measures 1–2 again").click()
    expect(page.locator("#lines")).to_contain_text("From measures 1–2.")
    assert [one.pk for one in here(fresh(place)).fingerings] == [line.pk]


def test_the_margin_and_the_desk_fit_a_phone(phone, people, enter, rondino, axe):
    fingered(rondino, 1, 2)
    place = passage(rondino, 7, 8)
    enter(phone, people.teacher)
    for url in (f"/editions/{rondino.pk}/", f"/passages/{place.pk}/"):
        phone.goto(url)
        expect(phone.locator("svg").first).to_be_visible()
        axe(phone)
