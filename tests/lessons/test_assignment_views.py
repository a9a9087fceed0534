"""Giving a passage, and the choices made for the student."""

from urllib.parse import unquote

import pytest
from django.urls import reverse
from lxml import etree

from lessons.models import AssignedPassage
from tests import make
from tests.people import Cast


@pytest.fixture
def lines(cast: Cast):
    first = cast.passage.first_note
    return [make.fingering(passage=cast.passage, fingers={first: finger}) for finger in ("1", "2")]


def answers(form, **changed: str) -> dict[str, str]:
    """What a browser sends for the form, but for what is changed."""
    bound = {name: form[name].value() for name in form.fields} | changed
    return {name: value for name, value in bound.items() if value not in (None, False, "")}


def test_one_press_gives_a_passage(cast: Cast, logged_in):
    url = reverse("assign", args=[cast.lesson.pk])
    answer = logged_in(cast.teacher).post(url, {"passage": cast.passage.pk}, headers={"HX-Request": "true"})
    assert cast.passage.where in answer.content.decode()
    assert AssignedPassage.objects.get().assignment.lesson == cast.lesson


def test_the_list_is_narrowed_by_every_word(cast: Cast, logged_in):
    make.passage(edition=cast.edition, name="the turn")
    other = make.edition(piece=make.piece(studio=cast.studio, title="Night song"), label="First print")
    make.passage(edition=other, name="the turn")
    url, client = reverse("assign", args=[cast.lesson.pk]), logged_in(cast.teacher)
    found = client.get(url, {"find": "ländler turn"}, headers={"HX-Request": "true"}).context["shelves"].pieces
    assert [(shelf.title, len(shelf.passages)) for shelf in found] == [("Ländler in E-flat", 1)]
    assert "Nothing found" in client.get(url, {"find": "no such thing"}).content.decode()


def test_an_empty_repertoire_says_where_passages_come_from(cast: Cast, logged_in):
    page = logged_in(cast.teacher).get(reverse("assign", args=[cast.lesson.pk])).content.decode()
    assert reverse("repertoire") in page


def test_a_passage_of_another_studio_cannot_be_given(cast: Cast, logged_in):
    theirs = make.passage(edition=make.edition(piece=make.piece(studio=cast.next_door)))
    url = reverse("assign", args=[cast.lesson.pk])
    assert logged_in(cast.teacher).post(url, {"passage": theirs.pk}).status_code == 404
    for nonsense in ("", "abc", "9" * 40):
        assert logged_in(cast.teacher).post(url, {"passage": nonsense}).status_code == 404


def test_the_choices_of_the_form_are_kept(cast: Cast, logged_in, lines):
    assigned = make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=lines)
    url, client = reverse("assigned", args=[assigned.pk]), logged_in(cast.teacher)
    form = client.get(url).context["form"]
    data = answers(
        form,
        **{
            f"fingering-{lines[0].pk}": "chosen",
            f"fingering-{lines[1].pk}": "no",
            "tempo_now": "63",
            "remark": "Soft.",
        },
    )
    assert client.post(url, data).status_code == 302
    assigned.refresh_from_db()
    assert list(assigned.offered.values_list("fingering_id", "chosen_by")) == [(lines[0].pk, "teacher")]
    assert (assigned.tempo_now, assigned.remark) == (63, "Soft.")


def test_two_lines_for_the_same_notes_cannot_both_be_the_one(cast: Cast, logged_in, lines):
    assigned = make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=lines)
    url, client = reverse("assigned", args=[assigned.pk]), logged_in(cast.teacher)
    form = client.get(url).context["form"]
    answer = client.post(url, answers(form, **{f"fingering-{line.pk}": "chosen" for line in lines}, remark="Kept?"))
    assert answer.status_code == 422
    assert "leave both open" in answer.content.decode()
    assert "Kept?" in answer.content.decode()


def test_a_line_that_cannot_be_played_is_not_offered_and_says_why(cast: Cast, logged_in):
    wrong = make.fingering(passage=cast.passage, fingers={cast.passage.first_note: "7"})
    assigned = make.assigned(lesson=cast.lesson, passage=cast.passage)
    answer = logged_in(cast.teacher).get(reverse("assigned", args=[assigned.pk]))
    assert f"fingering-{wrong.pk}" not in answer.context["form"].fields
    assert "Cannot be offered" in answer.content.decode()


def test_an_ornament_can_be_left_open_or_unsaid(cast: Cast, logged_in):
    assigned = make.assigned(lesson=cast.lesson, passage=cast.passage)
    url, client = reverse("assigned", args=[assigned.pk]), logged_in(cast.teacher)
    form = client.get(url).context["form"]
    grace, turn = (name for name in form.fields if name.startswith("placement-"))
    assert client.post(url, answers(form, **{grace: "open", turn: "on"})).status_code == 302
    kept = dict(assigned.placements.values_list("note", "placement"))
    assert kept == {grace.removeprefix("placement-"): "", turn.removeprefix("placement-"): "on"}


def test_the_ladder_stands_between_the_two_tempos(cast: Cast, logged_in):
    assigned = make.assigned(lesson=cast.lesson, passage=cast.passage, tempo_now=60, tempo_goal=72)
    # The marks of mechanical metronomes between 60 and 72: 63, 66, 69.
    assert logged_in(cast.teacher).get(reverse("assigned", args=[assigned.pk])).context["page"].ladder == (
        60,
        63,
        66,
        69,
        72,
    )


def test_the_hand_of_the_student_stands_beside_the_choice(cast: Cast, logged_in, lines):
    make.hand(student=cast.oda, comfortable=12, largest=14)
    assigned = make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=lines)
    page = logged_in(cast.teacher).get(reverse("assigned", args=[assigned.pk])).content.decode()
    assert "an octave in comfort, a ninth at most" in page


def test_the_music_file_has_the_chosen_fingers(cast: Cast, logged_in, lines):
    assigned = make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=lines)
    assigned.offered.filter(fingering=lines[1]).update(chosen_by="teacher")
    answer = logged_in(cast.oda.user).get(reverse("assigned-music", args=[assigned.pk]))
    root = etree.fromstring(answer.content)
    first = next(note for note in root.iter("note") if note.get("id") == cast.passage.first_note)
    assert first.findtext("notations/technical/fingering") == "2"
    assert answer["Content-Type"] == "application/vnd.recordare.musicxml+xml"


def test_ten_more_fingerings_add_no_query(cast: Cast, logged_in, lines, count_queries):
    assigned = make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=lines)
    client, url = logged_in(cast.teacher), reverse("assigned", args=[assigned.pk])
    before = count_queries(client, url)
    for _ in range(10):
        make.fingering(passage=cast.passage, fingers={cast.passage.first_note: "3"})
    assert count_queries(client, url) == before <= 12


def test_ten_more_passages_to_choose_from_add_no_query(cast: Cast, logged_in, count_queries):
    client, url = logged_in(cast.teacher), reverse("assign", args=[cast.lesson.pk])
    make.passage(edition=cast.edition)
    before = count_queries(client, url)
    for number in range(10):
        make.passage(edition=make.edition(piece=make.piece(studio=cast.studio, title=f"Piece {number}")))
    assert count_queries(client, url) == before <= 12


def test_a_music_file_is_named_after_its_piece_in_any_script(cast: Cast, logged_in):
    cast.edition.piece.title = "ゆうべの鐘 / 1"
    cast.edition.piece.save()
    answer = logged_in(cast.oda.user).get(reverse("assigned-music", args=[cast.assigned.pk]))
    assert unquote(answer["Content-Disposition"]).startswith("attachment; filename*=utf-8''ゆうべの鐘 - 1 ")
