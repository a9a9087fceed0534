"""Handouts: the draft, giving it, and what was given."""

from io import BytesIO

import pytest
from django.urls import reverse
from pypdf import PdfReader

from lessons.models import Handout
from tests import make
from tests.people import Cast


@pytest.fixture
def given(cast: Cast, logged_in) -> Handout:
    url = reverse("give-handout", args=[cast.assigned.assignment.lesson_id])
    assert logged_in(cast.teacher).post(url, {"paper": "A4"}).status_code == 302
    return Handout.objects.get()


def kept(handout: Handout) -> tuple[bytes, dict]:
    row = Handout.objects.get(pk=handout.pk)
    return bytes(row.pdf), row.content


def test_what_was_given_stays_byte_for_byte(cast: Cast, logged_in, given: Handout):
    url, client = reverse("handout-pdf", args=[given.pk]), logged_in(cast.teacher)
    before, page = client.get(url).content, client.get(reverse("handout", args=[given.pk])).content.decode()
    cast.lesson.notes = "Something else altogether."
    cast.lesson.save()
    cast.fingering.fingers = {cast.passage.first_note: "5"}
    cast.fingering.save()
    cast.oda.name = "Oda Somebody"
    cast.oda.save()
    cast.assigned.delete()
    assert client.get(url).content == before == kept(given)[0]
    after = client.get(reverse("handout", args=[given.pk])).content.decode()
    assert "Something else" not in after
    assert page.count("<svg") == after.count("<svg") > 0
    assert "Oda Lindqvist" in after


def test_a_later_change_makes_a_new_revision(cast: Cast, logged_in, given: Handout):
    before = kept(given)
    cast.lesson.notes = "Only the left hand this week."
    cast.lesson.save()
    client = logged_in(cast.teacher)
    page = client.post(reverse("give-handout", args=[cast.lesson.pk]), follow=True).content.decode()
    assert list(Handout.objects.values_list("revision", flat=True)) == [2, 1]
    assert kept(given) == before
    assert "Only the left hand" in page
    assert "revision 1" in page


def test_the_preview_says_whether_something_changed(cast: Cast, logged_in, given: Handout):
    client, url = logged_in(cast.teacher), reverse("handout-preview", args=[cast.lesson.pk])
    assert "Nothing has changed" in client.get(url).content.decode()
    cast.lesson.notes = "More."
    cast.lesson.save()
    assert "has changed since" in client.get(url).content.decode()


def test_the_pdf_opens_in_the_browser_with_a_plain_file_name(cast: Cast, logged_in, given: Handout):
    answer = logged_in(cast.oda.user).get(reverse("handout-pdf", args=[given.pk]))
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"].startswith('inline; filename="oda-lindqvist-2020-11-23-1.pdf"')
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert len(PdfReader(BytesIO(answer.content)).pages) >= 1


def test_a_name_in_another_script_makes_a_safe_file_name(cast: Cast, logged_in):
    cast.oda.name = '月 "/../evil\r\nX: 1'
    cast.oda.save()
    answer = logged_in(cast.teacher).get(reverse("handout-draft", args=[cast.lesson.pk]))
    disposition = answer["Content-Disposition"]
    assert "\r" not in disposition
    assert "\n" not in disposition
    assert disposition.split('"')[1].isascii()
    assert "/" not in disposition.split("UTF-8''")[1]
    assert "X" not in answer.headers


def test_a_draft_is_not_kept_and_not_shown_to_the_student(cast: Cast, logged_in):
    client = logged_in(cast.teacher)
    assert client.get(reverse("handout-draft", args=[cast.lesson.pk])).content.startswith(b"%PDF")
    assert not Handout.objects.exists()


def test_the_paper_is_the_studios_unless_asked_otherwise(cast: Cast, logged_in):
    cast.studio.paper = "Letter"
    cast.studio.save()
    url, client = reverse("handout-draft", args=[cast.lesson.pk]), logged_in(cast.teacher)
    sizes = [
        float(PdfReader(BytesIO(client.get(url, asked).content)).pages[0].mediabox.width)
        for asked in ({}, {"paper": "A4"}, {"paper": "papyrus"})
    ]
    assert sizes == [612, pytest.approx(595.28, abs=0.1), 612]


def test_a_character_that_cannot_be_printed_is_told(cast: Cast, logged_in):
    cast.lesson.notes = "𓂀 first, then slowly."
    cast.lesson.save()
    page = logged_in(cast.teacher).get(reverse("handout-preview", args=[cast.lesson.pk])).content.decode()
    assert "No face of the sheet has these characters: 𓂀" in page


def test_an_empty_lesson_says_what_the_handout_will_be(cast: Cast, logged_in):
    page = logged_in(cast.teacher).get(reverse("handout-preview", args=[cast.lesson.pk])).content.decode()
    assert "The handout gathers what was given" in page


def test_the_screen_asks_to_try_what_is_open_as_the_paper_does(cast: Cast, logged_in):
    url, client = reverse("handout-preview", args=[cast.assigned.assignment.lesson_id]), logged_in(cast.teacher)
    assert "try each line" in client.get(url).content.decode()
    cast.assigned.offered.update(chosen_by="teacher")
    assert "try each line" not in client.get(url).content.decode()


def test_words_of_the_teacher_are_not_markup(cast: Cast, logged_in):
    cast.lesson.notes = "<script>alert(1)</script>"
    cast.lesson.save()
    cast.assigned.remark = "<b>bold</b>"
    cast.assigned.save()
    client = logged_in(cast.teacher)
    page = client.post(reverse("give-handout", args=[cast.lesson.pk]), follow=True).content.decode()
    assert "<script>alert" not in page
    assert "<b>bold" not in page


def test_ten_more_revisions_add_no_query(cast: Cast, logged_in, given: Handout, count_queries):
    client, url = logged_in(cast.oda.user), reverse("handout", args=[given.pk])
    before = count_queries(client, url)
    for revision in range(2, 12):
        make.handout(lesson=cast.lesson, revision=revision, content=given.content)
    assert count_queries(client, url) == before <= 12


def test_ten_more_passages_add_no_query_to_the_preview(cast: Cast, logged_in, count_queries):
    client, url = logged_in(cast.teacher), reverse("handout-preview", args=[cast.assigned.assignment.lesson_id])
    before = count_queries(client, url)
    for number in range(10):
        passage = make.passage(edition=cast.edition, name=f"passage {number}")
        line = make.fingering(passage=passage, fingers={passage.first_note: "3"})
        make.assigned(lesson=cast.lesson, passage=passage, fingerings=[line])
    assert count_queries(client, url) == before <= 12
