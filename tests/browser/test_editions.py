"""Two editions of a piece, in a real browser: the walk through what differs, and the exchange of a file."""

import re

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from scores import noting
from scores.models import Edition
from tests import make
from tests.music import LAENDLER, note, score
from tests.scores.test_views_comparing import STEPS

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def steps(people):
    """A piece of sixty measures in two editions that differ in measures 3 and 51."""
    piece = make.piece(studio=people.studio, title="Steps")
    other = [*STEPS[:2], note("C4", "half."), *STEPS[3:50], note("C4", "half."), *STEPS[51:]]
    for label, music in (("First print", STEPS), ("Second print", other)):
        make.edition(piece=piece, music=score(music, title="Steps"), label=label)
    return piece


def test_keys_walk_through_the_differences_from_leaf_to_leaf(page, people, enter, axe, steps):
    enter(page, people.teacher)
    page.goto(reverse("compare", args=[steps.pk]))
    axe(page)
    page.keyboard.press("j")
    expect(page.locator("#d1")).to_be_focused()
    expect(page.locator(".differs.at")).to_have_count(2)  # one mark in each edition
    page.keyboard.press("j")
    expect(page).to_have_url(re.compile(r"#d2$"))
    expect(page.locator("#d2")).to_be_focused()
    expect(page.locator("#d2")).to_contain_text("measure 51")
    page.keyboard.press("k")
    expect(page.locator("#d1")).to_be_focused()


def test_on_a_phone_both_editions_stand_in_the_width(phone, people, enter, axe, steps):
    enter(phone, people.teacher)
    phone.goto(reverse("compare", args=[steps.pk]))
    expect(phone).to_have_url(re.compile("width="))
    expect(phone.locator(".differs")).to_have_count(2)
    axe(phone)


def test_a_corrected_file_is_looked_at_exchanged_and_taken_back(page, people, enter, axe):
    edition = people.edition
    last = next(one for one in edition.score.notes if one.measure == 4 and one.side == "right")
    line = noting.write_fingering(passage=people.passage, side="right", fingers={last.id: "3"})
    corrected = LAENDLER.replace(note("Eb5", "half."), note("C5", "half."))
    enter(page, people.teacher)
    page.goto(reverse("new-replacement", args=[edition.pk]))
    axe(page)
    file = {"name": "corrected.musicxml", "mimeType": "application/xml", "buffer": corrected.encode()}
    page.get_by_label("Score file").set_input_files(file)
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_role("heading", name="What this file changes")).to_be_visible()
    expect(page.locator("main")).to_contain_text("E flat 5 is not there; its finger 3 is left out.")
    axe(page)
    page.get_by_role("button", name="Exchange the file").click()
    expect(page.get_by_role("heading", name="After the exchange of the file")).to_be_visible()
    expect(page.locator("main")).to_contain_text("its finger 3 is left out.")
    axe(page)
    page.get_by_role("button", name="Take the exchange back").click()
    expect(page).to_have_url(re.compile(rf"/editions/{edition.pk}/"))
    line.refresh_from_db()
    assert line.fingers == {last.id: "3"}
    assert bytes(Edition.objects.get(pk=edition.pk).original) == LAENDLER.encode()
