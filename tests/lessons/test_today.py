"""Today: the day's lessons in order, and who came."""

from datetime import UTC, datetime, time, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from lessons.models import Attendance, Lesson, Slot
from tests import make
from tests.people import Cast

NOON = datetime(2020, 11, 25, 10, 0, tzinfo=UTC)  # noon in Helsinki


@pytest.fixture
def _noon(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: NOON)


def lesson(cast: Cast, hours: float, name: str = "", **given) -> Lesson:
    student = make.student(studio=cast.studio, name=name) if name else cast.oda
    return make.lesson(student=student, starts_at=NOON + timedelta(hours=hours), **given)


def group(cast: Cast, hours: float) -> list[Lesson]:
    """Oda and Ilmari come together."""
    slot = Slot.objects.create(studio=cast.studio, first_day=NOON.date(), at=time(12), name="Duo")
    begins = NOON + timedelta(hours=hours)
    return [make.lesson(student=one, slot=slot, meant_for=begins, starts_at=begins) for one in (cast.oda, cast.ilmari)]


def test_an_empty_day_says_what_will_stand_here(cast: Cast, logged_in):
    page = logged_in(cast.teacher).get(reverse("today")).content.decode()
    assert "No lesson today" in page
    assert reverse("new-lesson") in page


def test_a_studio_without_students_is_led_to_its_first(cast: Cast, logged_in):
    cast.bruno.delete()
    page = logged_in(cast.other_teacher).get(reverse("today")).content.decode()
    assert reverse("new-student") in page


@pytest.mark.usefixtures("_noon")
def test_the_lessons_stand_in_order_and_the_next_one_is_marked(cast: Cast, logged_in):
    for name, hours in (("Later", 5), ("Over", -3), ("Next", 1)):
        lesson(cast, hours, name)
    meetings = logged_in(cast.teacher).get(reverse("today")).context["meetings"]
    told = [(str(one.lesson.student), one.state, one.number) for one in meetings]
    assert told == [("Over", "over", 1), ("Next", "next", 2), ("Later", "later", 3)]


@pytest.mark.usefixtures("_noon")
def test_while_a_lesson_is_on_none_is_the_next(cast: Cast, logged_in):
    lesson(cast, -0.3, minutes=45)
    lesson(cast, 2, "Later")
    meetings = logged_in(cast.teacher).get(reverse("today")).context["meetings"]
    assert [one.state for one in meetings] == ["now", "later"]


@pytest.mark.usefixtures("_noon")
def test_a_cancelled_lesson_stays_and_is_not_the_next(cast: Cast, logged_in):
    lesson(cast, 1, cancelled_at=NOON, attendance=Attendance.CANCELLED_LATE)
    lesson(cast, 2, "Next")
    answer = logged_in(cast.teacher).get(reverse("today"))
    assert [one.state for one in answer.context["meetings"]] == ["cancelled", "next"]


@pytest.mark.usefixtures("_noon")
def test_those_who_come_together_stand_in_one_line_with_an_attendance_each(cast: Cast, logged_in):
    rows = group(cast, 1)
    answer = logged_in(cast.teacher).get(reverse("today"))
    (meeting,) = answer.context["meetings"]
    assert meeting.name == "Duo"
    assert [str(part.lesson.student) for part in meeting.parts] == ["Ilmari Lindqvist", "Oda Lindqvist"]
    for row in rows:
        assert f'id="attendance-{row.pk}"' in answer.content.decode()


@pytest.mark.usefixtures("_noon")
def test_one_of_a_pair_who_cancelled_does_not_cancel_the_meeting(cast: Cast, logged_in):
    oda, ilmari = group(cast, 1)
    Lesson.objects.filter(pk=ilmari.pk).update(cancelled_at=NOON, attendance="in-time")
    (meeting,) = logged_in(cast.teacher).get(reverse("today")).context["meetings"]
    assert (meeting.state, meeting.lesson) == ("next", oda)


@pytest.mark.usefixtures("_noon")
def test_a_lesson_says_what_was_given_last_time(cast: Cast, logged_in):
    make.assigned(lesson=lesson(cast, -24 * 7), passage=cast.passage)
    lesson(cast, 1)
    page = logged_in(cast.teacher).get(reverse("today")).content.decode()
    assert f"Ländler in E-flat, {cast.passage.where}" in page


@pytest.mark.usefixtures("_noon")
def test_what_was_given_at_a_cancelled_lesson_is_not_last_time(cast: Cast, logged_in):
    make.assigned(lesson=lesson(cast, -24 * 7, cancelled_at=NOON), passage=cast.passage)
    lesson(cast, 1)
    assert "Ländler" not in logged_in(cast.teacher).get(reverse("today")).content.decode()


@pytest.mark.usefixtures("_noon")
def test_ten_more_lessons_add_no_query(cast: Cast, logged_in, count_queries):
    client, url = logged_in(cast.teacher), reverse("today")
    make.assigned(lesson=lesson(cast, -24 * 7), passage=cast.passage)
    lesson(cast, 1)
    before = count_queries(client, url)
    for number in range(10):
        student = make.student(studio=cast.studio, name=f"Student {number}")
        make.assigned(lesson=make.lesson(student=student, starts_at=NOON - timedelta(days=7)), passage=cast.passage)
        make.lesson(student=student, starts_at=NOON + timedelta(minutes=number))
    assert count_queries(client, url) == before <= 12


# Saying who came


def say(client, row: Lesson, attendance: str, **more):
    return client.post(reverse("attendance", args=[row.pk]), {"attendance": attendance, **more})


def test_attendance_said_on_today_leads_back_there_with_an_undo(cast: Cast, logged_in):
    client = logged_in(cast.teacher)
    answer = client.post(
        reverse("attendance", args=[cast.lesson.pk]), {"attendance": "present", "from": "today"}, follow=True
    )
    assert answer.redirect_chain == [(reverse("today"), 302)]
    cast.lesson.refresh_from_db()
    assert cast.lesson.attendance == "present"
    client.post(next(iter(answer.context["messages"])).extra_tags)
    cast.lesson.refresh_from_db()
    assert cast.lesson.attendance == ""


def test_the_same_said_again_is_taken_back(cast: Cast, logged_in):
    client = logged_in(cast.teacher)
    for expected in ("missed", ""):
        say(client, cast.lesson, "missed")
        cast.lesson.refresh_from_db()
        assert cast.lesson.attendance == expected


def test_minutes_that_were_told_later_are_no_taking_back(cast: Cast, logged_in):
    client = logged_in(cast.teacher)
    say(client, cast.lesson, "late")
    say(client, cast.lesson, "late", minutes_late=10)
    cast.lesson.refresh_from_db()
    assert (cast.lesson.attendance, cast.lesson.minutes_late) == ("late", 10)


def test_an_attendance_that_there_is_not_is_not_kept(cast: Cast, logged_in):
    assert say(logged_in(cast.teacher), cast.lesson, "asleep").status_code == 404
    assert say(logged_in(cast.teacher), cast.lesson, "late", minutes_late=-3).status_code == 404


@pytest.mark.usefixtures("_noon")
def test_the_clock_proposes_which_cancellation_it_is(cast: Cast, logged_in):
    lesson(cast, 4)
    lesson(cast, 4 - 24, "Yesterday")
    (meeting,) = logged_in(cast.teacher).get(reverse("today")).context["meetings"]
    assert meeting.parts[0].proposed == Attendance.CANCELLED_LATE
    far = lesson(cast, 72)
    answer = logged_in(cast.teacher).get(reverse("lesson", args=[far.pk]))
    assert answer.context["page"].proposed == Attendance.CANCELLED_IN_TIME


def test_the_desk_of_a_group_keeps_to_its_queries(cast: Cast, logged_in, count_queries):
    rows = group(cast, 1)
    make.assigned(lesson=lesson(cast, -24 * 7), passage=cast.passage)
    assert count_queries(logged_in(cast.teacher), reverse("lesson", args=[rows[0].pk])) <= 12
