"""Keeping what is typed: for a script in JSON, without one as a page."""

import pytest
from django.urls import reverse

from lessons.models import Lesson, Slot
from tests import make
from tests.html import assert_clean
from tests.people import Cast

JSON = {"Accept": "application/json"}


def keep(client, lesson: Lesson, notes: str, before: str = "", **more):
    data = {"notes": notes, "notes_before": before, "private_notes": "", "private_notes_before": "", **more}
    headers = more.pop("headers", JSON)
    return client.post(reverse("keep-lesson-notes", args=[lesson.pk]), data, headers=headers)


def test_notes_are_kept_while_they_are_typed(cast: Cast, logged_in):
    answer = keep(logged_in(cast.teacher), cast.lesson, "Left hand\r\nalone.", revision=0)
    assert answer.status_code == 200
    assert answer.json()["texts"]["notes"] == "Left hand\nalone."
    assert answer.json()["said"].startswith("kept ")
    cast.lesson.refresh_from_db()
    assert (cast.lesson.notes, cast.lesson.revision) == ("Left hand\nalone.", 1)


def test_a_later_window_gets_409_and_both_texts(cast: Cast, logged_in):
    client = logged_in(cast.teacher)
    keep(client, cast.lesson, "Sing it.", revision=0)
    answer = keep(client, cast.lesson, "Count aloud.", revision=0)
    assert answer.status_code == 409
    told = answer.json()
    assert (told["clashes"], told["texts"]["notes"], told["revision"]) == (["notes"], "Sing it.", 1)
    assert "Sing it." in told["html"]


def test_without_a_script_both_texts_come_as_a_page_and_each_answer_holds(cast: Cast, logged_in):
    client, url = logged_in(cast.teacher), reverse("keep-lesson-notes", args=[cast.lesson.pk])
    for answer, expected in (
        ("mine", "Count aloud."),
        ("theirs", "Sing it."),
        ("both", "Sing it.\n\nCount aloud."),
    ):
        Lesson.objects.filter(pk=cast.lesson.pk).update(notes="Sing it.", revision=3)
        page = client.post(url, {"notes": "Count aloud.", "notes_before": "", "revision": "2"})
        assert page.status_code == 409
        assert_clean(page.content.decode())
        form = page.context["form"]
        data = {name: form[name].value() for name in form.fields}
        assert data["notes"] == "Count aloud.", "nothing typed is lost"
        assert client.post(url, {**data, "answer": answer}).status_code == 302
        cast.lesson.refresh_from_db()
        assert cast.lesson.notes == expected


@pytest.mark.parametrize("name", ["keep-assignment", "keep-remark"])
def test_remarks_of_a_piece_and_a_passage_are_kept_and_guarded(cast: Cast, logged_in, name: str):
    row = cast.assigned if name == "keep-remark" else cast.assigned.assignment
    client, url = logged_in(cast.teacher), reverse(name, args=[row.pk])
    answers = [client.post(url, {"remark": text, "remark_before": ""}, headers=JSON) for text in ("Slowly.", "Fast.")]
    assert [answer.status_code for answer in answers] == [200, 409]
    row.refresh_from_db()
    assert row.remark == "Slowly."


def test_what_cannot_be_kept_says_why(cast: Cast, logged_in):
    answer = keep(logged_in(cast.teacher), cast.lesson, "a\x00b", revision=0)
    assert answer.status_code == 422
    assert "Not kept" in answer.json()["said"]


def test_another_studio_keeps_nothing_here(cast: Cast, logged_in):
    assert keep(logged_in(cast.other_teacher), cast.lesson, "Ours.").status_code == 404


def test_the_same_notes_go_to_all_who_come_together(cast: Cast, logged_in):
    slot = Slot.objects.create(studio=cast.studio, first_day="2020-11-23", at="16:00")
    begins = cast.lesson.starts_at
    Lesson.objects.filter(pk=cast.lesson.pk).update(slot=slot, meant_for=begins, notes="Play the duet.")
    other = make.lesson(student=cast.ilmari, slot=slot, meant_for=begins)
    alone = make.lesson(student=cast.ravi)
    logged_in(cast.teacher).post(reverse("notes-for-all", args=[cast.lesson.pk]))
    other.refresh_from_db()
    alone.refresh_from_db()
    assert (other.notes, alone.notes) == ("Play the duet.", "")


def test_a_passage_given_to_all_is_given_to_each_once(cast: Cast, logged_in):
    slot = Slot.objects.create(studio=cast.studio, first_day="2020-11-23", at="16:00")
    begins = cast.lesson.starts_at
    Lesson.objects.filter(pk=cast.lesson.pk).update(slot=slot, meant_for=begins)
    other = make.lesson(student=cast.ilmari, slot=slot, meant_for=begins)
    for _again in range(2):
        logged_in(cast.teacher).post(reverse("assign", args=[cast.lesson.pk]), {"passage": cast.passage.pk, "all": "1"})
    for lesson in (cast.lesson, other):
        assert lesson.assignments.get().passages.get().passage == cast.passage


def test_the_page_of_choices_does_not_write_over_a_remark_of_another_window(cast: Cast, logged_in):
    client, url = logged_in(cast.teacher), reverse("assigned", args=[cast.assigned.pk])
    form = client.get(url).context["form"]
    data = {name: form[name].value() or "" for name in form.fields if "-" in name}
    keep = {**data, "tempo_goal": "92", "remark_before": ""}
    client.post(
        reverse("keep-remark", args=[cast.assigned.pk]), {"remark": "Slowly.", "remark_before": ""}, headers=JSON
    )
    answer = client.post(url, {**keep, "remark": "Fast."})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "“Slowly.”" in page
    assert 'name="remark_before" value="Slowly."' in page
    assert "Fast." in page, "nothing typed is lost"
    cast.assigned.refresh_from_db()
    assert cast.assigned.remark == "Slowly."
    assert client.post(url, {**keep, "remark": "Fast.", "remark_before": "Slowly."}).status_code == 302
    cast.assigned.refresh_from_db()
    assert cast.assigned.remark == "Fast."


def test_a_remark_that_only_another_window_changed_stays_when_the_choices_are_kept(cast: Cast, logged_in):
    client, url = logged_in(cast.teacher), reverse("assigned", args=[cast.assigned.pk])
    form = client.get(url).context["form"]
    data = {name: form[name].value() or "" for name in form.fields if "-" in name}
    client.post(
        reverse("keep-remark", args=[cast.assigned.pk]), {"remark": "Slowly.", "remark_before": ""}, headers=JSON
    )
    client.post(url, {**data, "tempo_goal": "92", "remark": "", "remark_before": ""})
    cast.assigned.refresh_from_db()
    assert (cast.assigned.remark, cast.assigned.tempo_goal) == ("Slowly.", 92)
