"""The preparation list and the music, moving together in a real browser."""

import re

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from scores.models import Looked, Passage
from scores.reading_files.reading import read
from scores.repertoire import keep_edition
from tests import make
from tests.scores.reading_files.samples import corpus_file

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

POLONAISE = "schumann_clara/polonaise_op1n1.mxl"


def open_list(page, people, enter, edition=None):
    enter(page, people.teacher)
    page.goto(reverse("preparation", args=[(edition or people.edition).pk]))
    return page.locator(".finding")


def test_keys_walk_the_list_and_mark_the_notes_in_the_music(page, people, enter, axe):
    findings = open_list(page, people, enter)
    expect(findings.nth(0)).to_have_class(re.compile("current"))
    expect(findings.nth(0).locator(".to-music")).to_be_focused()
    expect(page.locator("g.note.found")).to_have_count(1)
    axe(page)
    page.keyboard.press("j")
    expect(findings.nth(1)).to_have_class(re.compile("current"))
    grace = people.edition.score.by_id[findings.nth(1).get_attribute("data-notes")]
    expect(page.locator("g.note.found")).to_have_attribute("data-note", grace.id)
    expect(page.locator(".found-mark")).to_have_count(1)
    page.keyboard.press("k")
    expect(findings.nth(0)).to_have_class(re.compile("current"))
    page.keyboard.press("End")
    expect(findings.last).to_have_class(re.compile("current"))


def test_a_tick_by_key_walks_on_and_survives_leaving(page, people, enter):
    findings = open_list(page, people, enter)
    page.keyboard.press("x")
    expect(page.locator("#progress")).to_have_text("1 of 5 looked at")
    expect(findings.nth(1)).to_have_class(re.compile("current"))
    page.keyboard.press("Space")
    expect(page.locator("#progress")).to_have_text("2 of 5 looked at")
    page.reload()
    expect(page.locator("#progress")).to_have_text("2 of 5 looked at")
    expect(findings.nth(2)).to_have_class(re.compile("current"))  # the first that is not ticked
    findings.nth(0).locator(".tick-box").click()
    expect(page.locator("#progress")).to_have_text("1 of 5 looked at")
    page.reload()
    assert Looked.objects.count() == 1


def test_a_tick_that_is_not_kept_is_taken_back_and_said(page, people, enter):
    open_list(page, people, enter)
    page.route("**/preparation/look/", lambda route: route.fulfill(status=503))
    page.keyboard.press("x")
    expect(page.locator("#list-trouble")).to_contain_text("Not kept")
    expect(page.locator("#progress")).to_have_text("0 of 5 looked at")


def test_enter_makes_a_passage_and_opens_its_desk(page, people, enter):
    findings = open_list(page, people, enter)
    place = [one.get_attribute("data-notes") for one in findings.all()]
    row = next(number for number, notes in enumerate(place) if len(notes.split()) == 7)  # four against three
    for _ in range(row):
        page.keyboard.press("j")
    page.keyboard.press("Enter")
    page.wait_for_url("**/passages/*/#drill-*")
    passage = Passage.objects.get()
    assert (passage.first_number, passage.drills.count()) == ("2", 1)


def test_a_note_in_the_music_leads_to_its_finding(page, people, enter):
    findings = open_list(page, people, enter)
    last = findings.last
    note = last.get_attribute("data-notes").split()[0]
    page.locator(f'g.note[data-note="{note}"] use').first.click(force=True)
    expect(page.locator(".finding.current")).to_have_attribute("data-notes", re.compile(rf"(^| ){note}( |$)"))


@pytest.fixture
def polonaise(people):
    piece = make.piece(studio=people.studio, title="Polonaise")
    read_music = read("polonaise.mxl", corpus_file(POLONAISE))
    return keep_edition(piece=piece, label="Corpus", read=read_music)


def test_a_finding_far_away_fetches_its_music_and_scrolling_back_moves_the_list(page, people, enter, polonaise):
    findings = open_list(page, people, enter, polonaise)
    page.keyboard.press("End")
    last = findings.last
    measure = int(last.get_attribute("data-first"))
    expect(page.locator("g.note.found").first).to_be_in_viewport()
    expect(last).to_be_in_viewport()
    assert page.locator(f'g.measure[data-measure="{measure}"]').count()
    page.wait_for_timeout(800)  # the page's own scrolling has come to rest
    page.locator(".leaf-turn a").first.click()  # the music before
    page.evaluate("scrollTo(0, 0)")
    near = page.locator(".finding.near").first
    expect(near).to_be_attached()
    assert int(near.get_attribute("data-first")) < measure


def test_on_a_phone_the_list_lies_under_the_music(phone, people, enter, axe):
    findings = open_list(phone, people, enter)
    expect(phone.locator("g.note.found").first).to_be_in_viewport()
    findings.nth(1).locator(".to-music").tap()
    expect(findings.nth(1)).to_have_class(re.compile("current"))
    expect(phone.locator("g.note.found").first).to_be_in_viewport()
    findings.nth(1).locator(".tick-box").tap()
    expect(phone.locator("#progress")).to_have_text("1 of 5 looked at")
    box = findings.nth(1).locator(".tick-box").bounding_box()
    assert min(box["width"], box["height"]) >= 44
    axe(phone)
