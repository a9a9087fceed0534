"""Ossias under the finger: a tap on a line chooses it, at the desk and at home."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from lessons.models import PlacementChoice
from scores.models import OrnamentChoice
from tests import make

pytestmark = pytest.mark.browser


@pytest.fixture
def grace(people) -> str:
    return next(note.id for note in people.edition.score.notes if note.is_grace)


def line(page, grace: str, placement: str):
    """The label of an ossia: what one taps."""
    return page.locator(f'.ossia[data-ornament="{grace}"][data-ossia="{placement}"] .ossia-label').first


def chosen(page, grace: str, placement: str):
    return page.locator(f'.ossia.chosen[data-ornament="{grace}"][data-ossia="{placement}"]')


def test_a_click_on_a_line_of_the_desk_chooses_it_and_undo_takes_it_back(page, people, grace, enter, axe):
    enter(page, people.teacher)
    page.goto(f"/passages/{people.passage.pk}/")
    line(page, grace, "before").click()
    expect(chosen(page, grace, "before")).to_have_count(1)
    assert OrnamentChoice.objects.standing().get().placement == "before"
    axe(page)
    line(page, grace, "on").click()
    expect(chosen(page, grace, "on")).to_have_count(1)
    page.get_by_role("button", name="Undo").first.click()
    expect(chosen(page, grace, "before")).to_have_count(1)


def test_the_ossias_are_engraved_for_a_phones_column(phone, people, grace, enter, axe):
    enter(phone, people.teacher)
    phone.goto(f"/passages/{people.passage.pk}/")
    expect(phone.locator("#ornaments")).not_to_have_attribute("data-width", "940")
    axe(phone)
    widest = phone.locator("#ornaments .system svg").first.bounding_box()
    assert widest["x"] + widest["width"] <= 390


def test_a_choice_with_the_keyboard_needs_no_line(page, people, enter):
    turn = next(note.id for note in people.edition.score.notes if note.ornaments)
    enter(page, people.teacher)
    page.goto(f"/passages/{people.passage.pk}/")
    form = page.locator(".desk-ornament", has_text="turn on F5")
    form.get_by_label("Begins with").select_option("main")
    expect(page.get_by_text("turn on F5: kept.")).to_be_visible()
    assert OrnamentChoice.objects.get(note=turn).start == "main"
    expect(page.locator(f'.ossia[data-ornament="{turn}"][data-ossia="on"] .note[data-order]')).to_have_count(5)


def test_a_student_taps_the_line_that_feels_better(phone, people, grace, enter):
    lesson = make.lesson(student=people.oda, starts_at=timezone.now() - timedelta(days=2))
    row = make.assigned(lesson=lesson, passage=people.passage)
    PlacementChoice.objects.create(studio=people.studio, assigned=row, note=grace)
    enter(phone, people.oda.user)
    phone.goto("/this-week/")
    line(phone, grace, "before").tap()
    expect(chosen(phone, grace, "before")).to_have_count(1)
    assert (PlacementChoice.objects.get().placement, PlacementChoice.objects.get().chosen_by) == ("before", "student")
