"""Planning lessons: times in the studio's zone, and taking a lesson out."""

from datetime import UTC, date, datetime, time

import pytest
from django.core import signing

from lessons import planning
from lessons.models import Lesson
from lessons.scheduling import SlotPlan, make_slot
from studio.models import Student
from tests import make
from tests.people import Cast


def test_a_time_of_day_is_that_of_the_studios_zone():
    # Helsinki is UTC+2 in winter and UTC+3 in summer.
    assert planning.moment(date(2020, 12, 1), time(15), "Europe/Helsinki") == datetime(2020, 12, 1, 13, tzinfo=UTC)
    assert planning.moment(date(2020, 7, 1), time(15), "Europe/Helsinki") == datetime(2020, 7, 1, 12, tzinfo=UTC)


def test_an_hour_that_summer_time_leaves_out_is_refused():
    # In the European Union the clocks go from 01:00 UTC on the last Sunday of March: in Helsinki 03:00 becomes 04:00.
    with pytest.raises(planning.NoSuchTime):
        planning.moment(date(2020, 3, 29), time(3, 30), "Europe/Helsinki")
    assert planning.moment(date(2020, 3, 29), time(4), "Europe/Helsinki") == datetime(2020, 3, 29, 1, tzinfo=UTC)


def test_a_new_lesson_begins_a_week_after_the_last_at_the_same_time_of_day(cast: Cast):
    # 19 October is in summer time, 26 October is not: the hour on the wall stays.
    make.lesson(student=cast.oda, starts_at=datetime(2020, 10, 19, 12, tzinfo=UTC), minutes=30, place="the school")
    usual = planning.usual_time(cast.oda, at=datetime(2020, 10, 20, tzinfo=UTC), zone="Europe/Helsinki")
    assert usual == {
        "day": date(2020, 10, 26),
        "time": time(15),
        "minutes": 30,
        "where": "studio",
        "place": "the school",
    }


def test_after_a_long_pause_the_new_lesson_is_not_in_the_past(cast: Cast):
    make.lesson(student=cast.oda, starts_at=datetime(2020, 6, 1, 12, tzinfo=UTC))
    usual = planning.usual_time(cast.oda, at=datetime(2020, 9, 2, 9, tzinfo=UTC), zone="Europe/Helsinki")
    assert usual["day"] == date(2020, 9, 7)
    assert usual["day"].weekday() == date(2020, 6, 1).weekday()


def test_who_comes_every_week_as_it_is_has_no_day_proposed_half_a_year_ahead(cast: Cast):
    at = datetime(2020, 10, 20, tzinfo=UTC)
    plan = SlotPlan(students=(cast.oda,), first_day=date(2020, 10, 19), at=time(15), minutes=30, rule="FREQ=WEEKLY")
    make_slot(studio=cast.studio, plan=plan, at=at)
    usual = planning.usual_time(cast.oda, at=at, zone="Europe/Helsinki")
    assert "day" not in usual
    assert (usual["time"], usual["minutes"]) == (time(15), 30)


def test_the_next_lesson_is_planned_once_however_often_it_is_asked_for(cast: Cast):
    lesson = make.lesson(student=cast.oda, starts_at=datetime(2020, 10, 19, 12, tzinfo=UTC))
    at = datetime(2020, 10, 20, tzinfo=UTC)
    following = planning.plan_following(lesson=lesson, at=at, zone="Europe/Helsinki")
    assert following is not None
    assert following.starts_at == datetime(2020, 10, 26, 13, tzinfo=UTC)  # an hour later in UTC: summer time is over
    assert planning.plan_following(lesson=lesson, at=at, zone="Europe/Helsinki") is None
    assert cast.oda.lessons.count() == 2


def test_a_lesson_that_nothing_hangs_on_comes_back_as_it_was(cast: Cast):
    lesson = make.lesson(student=cast.oda, place="at home", notes="Sing.", private_notes="Ask about the piano.")
    before = Lesson.objects.filter(pk=lesson.pk).values("student", "starts_at", "minutes", "place", "notes")[0]
    token = planning.remove_lesson(lesson=lesson)
    assert not Lesson.objects.exists()
    back = planning.restore_lesson(studio=cast.studio, token=token)
    assert Lesson.objects.filter(pk=back.pk).values(*before)[0] == before
    assert back.private_notes == "Ask about the piano."


def test_bringing_back_twice_makes_one_lesson(cast: Cast):
    token = planning.remove_lesson(lesson=make.lesson(student=cast.oda))
    planning.restore_lesson(studio=cast.studio, token=token)
    planning.restore_lesson(studio=cast.studio, token=token)
    assert Lesson.objects.count() == 1


def test_another_studio_cannot_bring_a_lesson_back(cast: Cast):
    token = planning.remove_lesson(lesson=make.lesson(student=cast.oda))
    with pytest.raises(Student.DoesNotExist):
        planning.restore_lesson(studio=cast.next_door, token=token)


def test_a_forged_token_brings_nothing_back(cast: Cast):
    with pytest.raises(signing.BadSignature):
        planning.restore_lesson(studio=cast.studio, token="made:up:here")


def test_a_lesson_with_work_is_not_taken_out_unasked(cast: Cast):
    make.entry(student=cast.oda, assigned=cast.assigned)
    with pytest.raises(planning.StillHolds) as held:
        planning.remove_lesson(lesson=cast.lesson)
    assert held.value.counts == {"pieces": 1, "passages": 1, "entries": 1, "handouts": 0}
    assert planning.remove_lesson(lesson=cast.lesson, with_all=True) == ""
    assert cast.oda.practice.count() == 1, "the log stays"
