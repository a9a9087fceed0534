"""What families may see of the teaching."""

from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from lessons.access import assigned_of
from tests import make
from tests.people import Cast

LAST_MONDAY = datetime(2020, 11, 23, 14, 0, tzinfo=UTC)


@pytest.fixture
def planned(cast: Cast):
    """A passage that Oda is to get at a lesson tomorrow."""
    lesson = make.lesson(student=cast.oda, starts_at=timezone.now() + timedelta(days=1))
    return make.assigned(lesson=lesson, passage=cast.passage, fingerings=[cast.fingering])


def test_work_that_is_still_being_planned_is_the_teachers_alone(cast: Cast, planned):
    assert list(assigned_of(cast.teacher)) == [planned]
    for user in (cast.oda.user, cast.birger.user):
        assert not assigned_of(user).exists()


def test_work_of_a_lesson_that_has_begun_is_the_familys_too(cast: Cast, planned):
    planned.assignment.lesson.starts_at = LAST_MONDAY
    planned.assignment.lesson.save()
    for user in (cast.oda.user, cast.birger.user):
        assert list(assigned_of(user)) == [planned]
    assert not assigned_of(cast.ravi.user).exists()


def test_work_on_a_handout_is_the_familys_before_the_lesson(cast: Cast, planned):
    make.handout(lesson=planned.assignment.lesson)
    for user in (cast.oda.user, cast.birger.user):
        assert list(assigned_of(user)) == [planned]
    assert not assigned_of(cast.sunita.user).exists()


def test_a_planned_passage_is_neither_read_nor_chosen_nor_logged_by_a_family(cast: Cast, logged_in, planned):
    client = logged_in(cast.oda.user)
    assert client.get(reverse("assigned-music", args=[planned.pk])).status_code == 404
    answer = client.post(reverse("choose", args=[planned.pk]), {"fingering": cast.fingering.pk})
    assert answer.status_code == 404
    assert planned.offered.get().chosen_by == ""
    assert not client.get(reverse("new-entry", args=[cast.oda.pk])).context["form"].fields["assigned"].queryset
