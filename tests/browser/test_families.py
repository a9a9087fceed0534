"""The week at the piano: a student on a phone, a guardian for her child."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from lessons.models import PlacementChoice
from tests import make

pytestmark = pytest.mark.browser


@pytest.fixture
def assigned(people):
    """Oda's passage with two fingerings and the grace's placement left open."""
    passage = make.passage(edition=people.edition, last=people.edition.score.in_measures(1, 2, "right")[-1].id)
    lines = [make.fingering(passage=passage, fingers={passage.first_note: digit}) for digit in "12"]
    lesson = make.lesson(student=people.oda, starts_at=timezone.now() - timedelta(days=2))
    row = make.assigned(lesson=lesson, passage=passage, fingerings=lines)
    grace = next(note.id for note in people.edition.score.notes if note.is_grace)
    PlacementChoice.objects.create(studio=people.studio, assigned=row, note=grace)
    return row


def test_a_student_chooses_and_writes_down_her_practice(phone, people, assigned, enter, axe):
    enter(phone, people.oda.user)
    phone.goto("/this-week/")
    axe(phone)
    phone.get_by_role("button", name="II", exact=False).first.click()
    phone.get_by_role("button", name="on the beat").click()
    assert phone.get_by_role("button", name="on the beat").get_attribute("aria-pressed") == "true"
    assert [row.chosen_by for row in assigned.offered.order_by("pk")] == ["", "student"]
    phone.get_by_label("Passage").select_option(str(assigned.pk))
    for label, typed in (("Minutes", "12"), ("Tempo", "69"), ("Clean runs", "2"), ("Out of", "5")):
        phone.get_by_label(label, exact=True).fill(typed)
    phone.get_by_role("button", name="Write it down").click()
    phone.get_by_text("Written down: 12 minutes.").wait_for()
    entry = people.oda.practice.get()
    assert (entry.assigned, entry.tempo, entry.clean_runs, entry.tries) == (assigned, 69, 2, 5)
    phone.get_by_role("button", name="Undo").click()
    phone.get_by_text("gone from the log").wait_for()
    assert not people.oda.practice.standing().exists()


def test_on_a_desk_the_music_is_engraved_for_the_wider_column(page, people, assigned, enter, axe):
    enter(page, people.oda.user)
    page.goto("/this-week/")
    expect(page.locator(".given .system svg")).to_have_count(1)
    axe(page)


def test_a_guardian_writes_an_entry_for_her_child(phone, people, enter, axe):
    enter(phone, people.birger.user)
    phone.goto("/children/")
    axe(phone)
    phone.get_by_role("link", name="Ilmari Lindqvist").click()
    phone.get_by_label("Minutes", exact=True).fill("8")
    phone.get_by_role("button", name="Write it down").click()
    phone.get_by_text("Written down: 8 minutes.").wait_for()
    phone.get_by_role("link", name="The whole log").click()
    axe(phone)
    assert people.ilmari.practice.get().entered_by == people.birger.user


def test_a_printed_week_keeps_the_answers_and_leaves_out_the_form(page, people, assigned, enter):
    enter(page, people.oda.user)
    page.goto("/this-week/")
    page.emulate_media(media="print")
    expect(page.get_by_role("button", name="on the beat")).to_be_visible()
    expect(page.get_by_role("button", name="Write it down")).to_be_hidden()
    expect(page.get_by_label("Minutes", exact=True)).to_be_hidden()
