"""Today and the week."""

from datetime import UTC, datetime, timedelta

from django.urls import reverse
from django.utils import timezone

from tests import make
from tests.people import Cast


def at(hour_offset: float) -> datetime:
    return timezone.now() + timedelta(hours=hour_offset)


def test_times_are_told_in_the_studios_zone(cast: Cast, logged_in):
    make.lesson(student=cast.oda, starts_at=datetime(2020, 11, 23, 14, 0, tzinfo=UTC))
    page = logged_in(cast.teacher).get(reverse("week"), {"from": "2020-11-23"}).content.decode()
    assert "16:00" in page
    assert "14:00" not in page


def test_a_lesson_late_in_the_evening_stands_under_its_local_day(cast: Cast, logged_in):
    # 22:30 UTC on Monday is half past midnight on Tuesday in Helsinki.
    lesson = make.lesson(student=cast.oda, starts_at=datetime(2020, 11, 23, 22, 30, tzinfo=UTC))
    page = logged_in(cast.teacher).get(reverse("week"), {"from": "2020-11-23"}).context["page"]
    assert [[block.lesson for block in day.blocks] for day in page.days[:2]] == [[], [lesson]]


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
    for name in ("week",):
        make.lesson(student=cast.oda, starts_at=at(0))
        before = count_queries(client, reverse(name))
        for minute in range(10):
            make.lesson(student=cast.ravi, starts_at=at(minute / 60))
        assert count_queries(client, reverse(name)) == before <= 12
