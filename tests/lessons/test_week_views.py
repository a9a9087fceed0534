"""Today and the week."""

from datetime import UTC, datetime, timedelta

from django.urls import reverse
from django.utils import timezone

from tests import make
from tests.people import Cast


def at(hour_offset: float) -> datetime:
    return timezone.now() + timedelta(hours=hour_offset)


def test_an_empty_day_says_what_will_stand_here(cast: Cast, logged_in):
    page = logged_in(cast.teacher).get(reverse("today")).content.decode()
    assert "No lesson today" in page
    assert reverse("new-lesson") in page


def test_a_studio_without_students_is_led_to_its_first(cast: Cast, logged_in):
    cast.bruno.delete()
    page = logged_in(cast.other_teacher).get(reverse("today")).content.decode()
    assert reverse("new-student") in page


def test_the_next_lesson_stands_first_and_what_is_over_last(cast: Cast, logged_in, monkeypatch):
    noon = datetime(2020, 11, 25, 10, 0, tzinfo=UTC)  # noon in Helsinki
    monkeypatch.setattr(timezone, "now", lambda: noon)
    for name, hours in (("Later", 5), ("Over", -3), ("Next", 1)):
        make.lesson(student=make.student(studio=cast.studio, name=name), starts_at=noon + timedelta(hours=hours))
    context = logged_in(cast.teacher).get(reverse("today")).context
    assert [str(lesson.student) for lesson in context["coming"]] == ["Next", "Later"]
    assert [str(lesson.student) for lesson in context["past"]] == ["Over"]


def test_a_lesson_that_is_going_on_is_not_over(cast: Cast, logged_in, monkeypatch):
    now = datetime(2020, 11, 25, 10, 0, tzinfo=UTC)
    monkeypatch.setattr(timezone, "now", lambda: now)
    lesson = make.lesson(student=cast.oda, starts_at=now - timedelta(minutes=20), minutes=45)
    assert logged_in(cast.teacher).get(reverse("today")).context["coming"] == [lesson]


def test_times_are_told_in_the_studios_zone(cast: Cast, logged_in):
    make.lesson(student=cast.oda, starts_at=datetime(2020, 11, 23, 14, 0, tzinfo=UTC))
    page = logged_in(cast.teacher).get(reverse("week"), {"from": "2020-11-23"}).content.decode()
    assert "16:00" in page
    assert "14:00" not in page


def test_a_lesson_late_in_the_evening_stands_under_its_local_day(cast: Cast, logged_in):
    # 22:30 UTC on Monday is half past midnight on Tuesday in Helsinki.
    lesson = make.lesson(student=cast.oda, starts_at=datetime(2020, 11, 23, 22, 30, tzinfo=UTC))
    days = logged_in(cast.teacher).get(reverse("week"), {"from": "2020-11-23"}).context["days"]
    assert [day.lessons for day in days[:2]] == [[], [lesson]]


def test_the_week_leads_to_the_one_before_and_after(cast: Cast, logged_in):
    page = logged_in(cast.teacher).get(reverse("week"), {"from": "2020-11-25"}).content.decode()
    assert "?from=2020-11-16" in page
    assert "?from=2020-11-30" in page


def test_a_week_that_is_no_day_is_this_week(cast: Cast, logged_in):
    for asked in ("2020-02-31", "tomorrow", "9999-99-99", ""):
        context = logged_in(cast.teacher).get(reverse("week"), {"from": asked}).context
        assert context["monday"] == context["this_week"]


def test_the_lessons_of_another_studio_are_not_there(cast: Cast, logged_in):
    make.lesson(student=cast.bruno, starts_at=datetime(2020, 11, 23, 14, 0, tzinfo=UTC))
    page = logged_in(cast.teacher).get(reverse("week"), {"from": "2020-11-23"}).content.decode()
    assert "Bruno" not in page


def test_ten_more_lessons_add_no_query(cast: Cast, logged_in, count_queries):
    client = logged_in(cast.teacher)
    for name in ("today", "week"):
        make.lesson(student=cast.oda, starts_at=at(0))
        before = count_queries(client, reverse(name))
        for minute in range(10):
            make.lesson(student=cast.ravi, starts_at=at(minute / 60))
        assert count_queries(client, reverse(name)) == before <= 12


def test_the_next_lesson_says_what_was_given_last_time(cast: Cast, logged_in):
    make.assigned(lesson=make.lesson(student=cast.oda, starts_at=at(-24 * 7)), passage=cast.passage)
    make.lesson(student=cast.oda, starts_at=at(0))
    page = logged_in(cast.teacher).get(reverse("today")).content.decode()
    assert f"Ländler in E-flat, {cast.passage.where}" in page
