"""From an empty page to a studio with a student, her hands, a guardian, and the guardian's own login."""

import re

import pytest
from playwright.sync_api import Page, expect

from studio.models import Hand, Studio
from tests import make

pytestmark = pytest.mark.browser


def test_a_teacher_makes_her_studio_and_a_family_comes_in(page: Page, phone: Page, axe, transactional_db, settings):
    settings.SITE_URL = ""  # the link of the invitation is then a path of the live site
    page.goto("/")
    page.get_by_role("link", name="Start a studio").click()
    page.get_by_label("Name of the studio").fill("Studio am Hafen")
    page.get_by_label("Time zone").select_option("Europe/Berlin")
    page.get_by_label("Currency").select_option("EUR")
    page.get_by_label("Your name").fill("Jonna Weber")
    page.get_by_label("E-mail").fill("jonna@example.org")
    page.get_by_label("Password").fill(make.PASSWORD)
    page.get_by_role("button", name="Open the studio").click()
    expect(page.get_by_role("status")).to_contain_text("Studio am Hafen is open")
    axe(page)

    page.get_by_role("link", name="Add a student").click()
    page.get_by_label("Name").fill("Nils Aho")
    page.get_by_role("button", name="Add").click()
    page.get_by_role("link", name="Measure the hands").click()
    page.get_by_label("The other hand reaches the same").check()
    page.get_by_label("Comfortable", exact=True).select_option("octave (C–C)")
    page.get_by_label("Largest", exact=True).select_option("seventh (C–B)")
    page.get_by_role("button", name="Note it").click()
    expect(page.get_by_text("Did they change places?")).to_be_visible()
    axe(page)
    page.get_by_label("Largest", exact=True).select_option("ninth (C–D)")
    page.get_by_text("By finger pair").click()
    page.get_by_label("Fingers 2–5, comfortable").select_option("fifth")
    page.get_by_label("Fingers 2–5, largest").select_option("sixth")
    page.get_by_role("button", name="Note it").click()
    expect(page.get_by_text("an octave in comfort, a ninth at most").first).to_be_visible()
    assert {hand.side: hand.pairs for hand in Hand.objects.all()} == {"right": {"2-5": [7, 9]}, "left": {"2-5": [7, 9]}}

    page.get_by_role("link", name="Add a guardian").click()
    page.get_by_label("Name").fill("Aino Aho")
    page.get_by_role("button", name="Add").click()
    axe(page)
    page.get_by_role("link", name="Invite Aino Aho").click()
    page.get_by_role("button", name="Make the link").click()
    axe(page)
    link = page.get_by_label("Link", exact=True).input_value()

    phone.goto(link)
    axe(phone)
    phone.get_by_label("E-mail").fill("aino@example.org")
    phone.get_by_label("Password").fill(make.PASSWORD)
    phone.get_by_role("button", name="Make the login").click()
    expect(phone.get_by_role("status")).to_contain_text("aino@example.org")
    expect(phone).to_have_url(re.compile(r"/children/"))
    expect(phone.get_by_role("main")).to_contain_text("Nils Aho")
    assert Studio.objects.get().timezone == "Europe/Berlin"


def test_what_was_taken_away_comes_back_with_one_click(page: Page, people, enter):
    enter(page, people.teacher)
    page.goto(f"/students/{people.oda.pk}/")
    page.get_by_role("button", name="Has left the studio").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("left on")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("heading", level=1)).not_to_contain_text("left on")


def test_a_password_can_be_seen_while_it_is_typed(page: Page, people):
    page.goto("/log-in/")
    page.get_by_label("E-mail").fill("ines@example.org")
    field = page.get_by_label("Password", exact=True)
    field.fill(make.PASSWORD)
    page.get_by_role("button", name="Show").click()
    expect(field).to_have_attribute("type", "text")
    page.get_by_role("button", name="Log in").click()
    expect(page).to_have_url(re.compile(r"/today/"))


@pytest.mark.parametrize("size", ["page", "phone"])
def test_the_pages_of_the_studio_have_no_fault_and_do_not_run_off_the_side(request, size, people, enter, axe):
    page: Page = request.getfixturevalue(size)
    make.hand(student=people.oda, pairs={"2-5": [7, 9]})
    enter(page, people.teacher)
    oda = f"/students/{people.oda.pk}/"
    for path in (
        "/students/",
        oda,
        oda + "hands/new/",
        oda + "guardians/new/",
        "/studio/",
        "/password/",
        "/help/keys/",
    ):
        page.goto(path)
        page.evaluate("document.querySelectorAll('main details').forEach((details) => { details.open = true; })")
        axe(page)
