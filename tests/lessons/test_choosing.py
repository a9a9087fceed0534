"""What a student may choose of what the teacher left open."""

import pytest
from django.urls import reverse

from lessons.choosing import NotOpen, choose_fingering, choose_placement
from lessons.models import OfferedFingering, PlacementChoice
from lessons.models.assignments import ChosenBy
from tests import make
from tests.people import Cast


@pytest.fixture
def options(cast: Cast) -> list[OfferedFingering]:
    """Three lines for the same stretch, all left open."""
    first = cast.passage.first_note
    lines = [make.fingering(passage=cast.passage, fingers={first: finger}) for finger in ("1", "2", "3")]
    assigned = make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=lines)
    return list(assigned.offered.all())


def test_choosing_one_leaves_the_others_of_its_part(cast: Cast, options: list[OfferedFingering]):
    assigned = options[0].assigned
    choose_fingering(assigned=assigned, offered=options[1])
    choose_fingering(assigned=assigned, offered=options[2])
    assert [row.chosen_by for row in assigned.offered.all()] == ["", "", "student"]


def test_what_the_teacher_chose_is_not_open(cast: Cast, options: list[OfferedFingering]):
    options[0].chosen_by = ChosenBy.TEACHER
    options[0].save()
    with pytest.raises(NotOpen):
        choose_fingering(assigned=options[0].assigned, offered=options[1])


def test_the_other_hands_choice_stands_for_itself(cast: Cast, options: list[OfferedFingering]):
    other = make.fingering(passage=cast.passage, fingers={}, side="left")
    assigned = options[0].assigned
    row = OfferedFingering.objects.create(studio=cast.studio, assigned=assigned, fingering=other, chosen_by="teacher")
    choose_fingering(assigned=assigned, offered=options[0])
    row.refresh_from_db()
    assert row.chosen_by == ChosenBy.TEACHER


def test_a_placement_left_open_can_be_chosen_and_changed(cast: Cast):
    row = PlacementChoice.objects.create(studio=cast.studio, assigned=cast.assigned, note="g1")
    for placement in ("before", "on"):
        choose_placement(assigned=cast.assigned, note="g1", placement=placement)
        row.refresh_from_db()
        assert (row.placement, row.chosen_by) == (placement, ChosenBy.STUDENT)


def test_a_placement_that_was_not_offered_cannot_be_chosen(cast: Cast):
    with pytest.raises(NotOpen):
        choose_placement(assigned=cast.assigned, note="elsewhere", placement="on")


def test_a_student_chooses_on_her_page(cast: Cast, logged_in, options: list[OfferedFingering]):
    url = reverse("choose", args=[options[0].assigned_id])
    answer = logged_in(cast.oda.user).post(url, {"fingering": options[1].fingering_id})
    assert answer.url.startswith(reverse("this-week"))
    options[1].refresh_from_db()
    assert options[1].chosen_by == ChosenBy.STUDENT


@pytest.mark.parametrize(
    "data",
    [{}, {"fingering": "0"}, {"fingering": "x"}, {"fingering": "9" * 30}, {"note": "g", "placement": "sideways"}],
)
def test_an_odd_choice_changes_nothing_and_is_answered(cast: Cast, logged_in, options, data):
    answer = logged_in(cast.oda.user).post(reverse("choose", args=[options[0].assigned_id]), data)
    assert answer.status_code == 302
    assert not OfferedFingering.objects.exclude(chosen_by="").exists()
