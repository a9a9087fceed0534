"""What a family hears of an assigned passage."""

import io

import mido
import pytest
from django.urls import reverse

from lessons.models import PlacementChoice
from scores.models import OrnamentChoice
from tests import make
from tests.people import Cast


@pytest.fixture
def row(cast: Cast):
    passage = make.passage(edition=cast.edition, hands="both")
    return make.assigned(lesson=cast.lesson, passage=passage, tempo_now=54, tempo_goal=80)


def grace_of(row) -> str:
    return next(note.id for note in row.passage.edition.score.notes if note.is_grace)


def placement_heard(client, row) -> str:
    data = client.get(reverse("assigned-sounding", kwargs={"pk": row.pk})).json()
    return next(one["placement"] for one in data["ornaments"] if one["key"] == grace_of(row))


def test_a_students_own_placement_goes_before_her_teachers(cast: Cast, row, logged_in):
    oda = logged_in(cast.oda.user)
    OrnamentChoice.objects.create(studio=cast.studio, passage=row.passage, note=grace_of(row), placement="before")
    assert placement_heard(oda, row) == "before"
    choice = PlacementChoice.objects.create(
        studio=cast.studio, assigned=row, note=grace_of(row), placement="on", chosen_by="student"
    )
    assert placement_heard(oda, row) == "on"
    choice.placement = choice.chosen_by = ""
    choice.save()
    assert placement_heard(oda, row) == "before"


def test_an_ornament_is_written_out_for_the_tempo_to_reach(cast: Cast, row, logged_in):
    oda = logged_in(cast.oda.user)

    def grace_length() -> str:
        data = oda.get(reverse("assigned-sounding", kwargs={"pk": row.pk})).json()
        return next(length for _, length, key, hand, note, *_ in data["notes"] if note == grace_of(row))

    at_goal = grace_length()
    row.tempo_now = 20
    row.save()
    assert grace_length() == at_goal
    row.tempo_goal = 200
    row.save()
    assert grace_length() != at_goal


def test_her_midi_file_has_her_tempo_and_her_choices(cast: Cast, row, logged_in):
    answer = logged_in(cast.birger.user).get(reverse("assigned-midi", kwargs={"pk": row.pk}))
    read = mido.MidiFile(file=io.BytesIO(answer.content))
    assert [event.tempo for event in read.tracks[0] if event.type == "set_tempo"] == [round(60e6 / 54)]
    assert [track.name for track in read.tracks[1:]] == ["Right hand", "Left hand"]


def test_a_tempo_that_nobody_plays_at_leads_home_with_a_word(cast: Cast, row, logged_in):
    answer = logged_in(cast.oda.user).get(reverse("assigned-midi", kwargs={"pk": row.pk}), {"tempo": "0"}, follow=True)
    assert answer.redirect_chain[0] == (reverse("home"), 302)
    assert "between 20 and 300" in answer.content.decode()
