"""Marking, naming, taking away and bringing back passages."""

import pytest
from django.urls import reverse

from scores.models import Passage
from tests import make


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


def mark(client, edition, **given):
    return client.post(reverse("new-passage", args=[edition.pk]), given)


def notes_of(edition, side):
    return [note for note in edition.score.notes if note.side == side]


def test_two_clicked_notes_mark_a_passage_and_lead_to_its_desk(cast, teacher):
    right = notes_of(cast.edition, "right")
    answer = mark(teacher, cast.edition, first_note=right[1].id, last_note=right[8].id, hands="right", name="The leap")
    passage = Passage.objects.get()
    assert answer["Location"] == reverse("desk", args=[passage.pk])
    assert (passage.first_note, passage.last_note, passage.hands, passage.name) == (
        right[1].id,
        right[8].id,
        "right",
        "The leap",
    )
    assert passage.studio == cast.studio


def test_notes_clicked_backwards_mark_the_same_passage(cast, teacher):
    right = notes_of(cast.edition, "right")
    mark(teacher, cast.edition, first_note=right[8].id, last_note=right[1].id, hands="right")
    passage = Passage.objects.get()
    assert (passage.first_note, passage.last_note) == (right[1].id, right[8].id)


def test_measures_alone_mark_whole_measures(cast, teacher):
    mark(teacher, cast.edition, first_measure="1", last_measure="2", hands="both")
    passage = Passage.objects.get()
    assert (passage.first_number, passage.first_beat, passage.last_number, passage.last_beat) == ("1", "1", "2", "3¼")


def test_one_measure_alone_is_a_passage_of_that_measure(cast, teacher):
    mark(teacher, cast.edition, first_measure="3", hands="right")
    passage = Passage.objects.get()
    assert (passage.first_number, passage.last_number) == ("3", "3")


def test_beats_narrow_it_to_what_is_struck_from_and_up_to_them(cast, teacher):
    mark(teacher, cast.edition, first_measure="1", first_beat="1½", last_measure="3", last_beat="5/2", hands="right")
    passage = Passage.objects.get()
    assert (passage.first_beat, passage.last_number, passage.last_beat) == ("1½", "3", "2½")


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, "Click the first and the last note"),
        ({"first_measure": "99"}, "There is no measure 99 here: the measures go from 0 to 4."),
        ({"first_measure": "1", "first_beat": "two"}, "“two” is no beat"),
        ({"first_measure": "1", "first_beat": "9"}, "There is no note to begin or end with"),
        ({"first_note": "nothing", "last_note": "nothing"}, "A note that was clicked is not in this edition"),
        ({"first_measure": "0", "hands": "left"}, "There is no note to begin or end with"),
        ({"first_measure": "1", "hands": "feet"}, "Select a valid choice"),
        ({"first_measure": "1", "name": "x" * 121}, "at most 120"),
    ],
)
def test_a_range_that_does_not_hold_is_answered_with_why(cast, teacher, given, words):
    answer = mark(teacher, cast.edition, **{"hands": "both", **given})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Passage.objects.exists()


def test_a_hand_that_is_silent_in_the_range_cannot_be_marked(cast, teacher):
    first = notes_of(cast.edition, "right")[0]
    answer = mark(teacher, cast.edition, first_note=first.id, last_note=first.id, hands="left")
    assert answer.status_code == 422
    assert "This hand has no notes there" in answer.content.decode()


def test_what_was_typed_is_still_there_after_an_error(cast, teacher):
    answer = mark(teacher, cast.edition, first_measure="99", name="The leap", hands="left")
    assert 'value="The leap"' in answer.content.decode()
    assert 'value="99"' in answer.content.decode()


def test_the_note_of_another_edition_is_not_taken(cast, teacher):
    other = make.edition(piece=cast.edition.piece, music=open_fifths())
    answer = mark(teacher, other, first_note=cast.edition.score.notes[-1].id, last_note="x", hands="both")
    assert answer.status_code == 422


def open_fifths():
    return make.LAENDLER.replace("<note>", '<note id="q">', 1)


def test_a_passage_can_be_named(cast, teacher):
    answer = teacher.post(reverse("name-passage", args=[cast.passage.pk]), {"name": "The turn"})
    assert answer["Location"] == reverse("desk", args=[cast.passage.pk])
    assert Passage.objects.get().name == "The turn"


def test_a_name_too_long_is_refused_and_still_there(cast, teacher):
    answer = teacher.post(reverse("name-passage", args=[cast.passage.pk]), {"name": "x" * 121})
    assert answer.status_code == 422
    assert "x" * 121 in answer.content.decode()


def test_a_passage_taken_away_comes_back_with_undo(cast, teacher):
    passage = cast.passage
    answer = teacher.post(reverse("remove-passage", args=[passage.pk]), follow=True)
    restore = reverse("restore-passage", args=[passage.pk])
    assert f'action="{restore}"' in answer.content.decode()
    assert not Passage.objects.standing().exists()
    teacher.post(restore)
    assert Passage.objects.standing().get() == passage
