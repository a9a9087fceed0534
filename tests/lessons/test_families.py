"""What students and guardians see."""

from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from lessons.families import Week, bare_week, newest_work, week_page
from lessons.models import Lesson, PlacementChoice
from studio.models import Student
from tests import make
from tests.html import assert_clean
from tests.people import Cast

MONDAY = datetime(2020, 11, 23, 14, 0, tzinfo=UTC)
LATER = MONDAY + timedelta(days=1)


def shown(student: Student, *, at: datetime, width: int = 358) -> Week:
    lesson = newest_work(Lesson.objects.filter(student=student), at=at)
    return week_page(lesson, width=width) if lesson else bare_week(student, at=at)


@pytest.fixture
def grace(cast: Cast) -> str:
    """The id of the grace note in the passage."""
    return next(note.id for note in cast.edition.score.notes if note.is_grace)


def test_the_week_shows_the_last_lesson_that_gave_work(cast: Cast):
    make.assigned(lesson=make.lesson(student=cast.oda, starts_at=MONDAY - timedelta(days=7)), passage=cast.passage)
    assigned = make.assigned(lesson=make.lesson(student=cast.oda, starts_at=MONDAY), passage=cast.passage)
    make.lesson(student=cast.oda, starts_at=MONDAY + timedelta(days=7))
    week = shown(cast.oda, at=LATER)
    assert [given.assigned for given in week.given] == [assigned]
    assert week.coming_at == MONDAY + timedelta(days=7)


def test_a_lesson_that_has_not_begun_shows_nothing_yet(cast: Cast):
    make.assigned(lesson=make.lesson(student=cast.oda, starts_at=MONDAY), passage=cast.passage)
    assert shown(cast.oda, at=MONDAY - timedelta(hours=1)).given == ()


def test_a_sheet_given_before_its_lesson_shows_that_lessons_work(cast: Cast):
    lesson = make.lesson(student=cast.oda, starts_at=MONDAY)
    assigned = make.assigned(lesson=lesson, passage=cast.passage)
    make.handout(lesson=lesson)
    assert [given.assigned for given in shown(cast.oda, at=MONDAY - timedelta(hours=1)).given] == [assigned]


def test_the_chosen_fingers_stand_on_the_notes(cast: Cast):
    assigned = make.assigned(lesson=make.lesson(student=cast.oda), passage=cast.passage, fingerings=[cast.fingering])
    assigned.offered.update(chosen_by="teacher")
    [given] = shown(cast.oda, at=LATER).given
    assert f'data-note="{cast.passage.first_note}"' in given.work.music[0].svg
    assert given.work.options[0].is_chosen
    assert given.questions == ()


def test_what_is_left_open_is_asked(cast: Cast, grace: str):
    lines = [make.fingering(passage=cast.passage, fingers={cast.passage.first_note: digit}) for digit in "12"]
    assigned = make.assigned(lesson=make.lesson(student=cast.oda), passage=cast.passage, fingerings=lines)
    PlacementChoice.objects.create(studio=cast.studio, assigned=assigned, note=grace)
    [given] = shown(cast.oda, at=LATER).given
    assert [(question.field, len(question.options)) for question in given.questions] == [
        ("fingering", 2),
        ("placement", 2),
    ]
    assert [option.label for option in given.questions[0].options] == ["I", "II"]


def test_music_is_engraved_anew_for_a_narrow_column(cast: Cast):
    make.assigned(lesson=make.lesson(student=cast.oda), passage=cast.passage)
    narrow, wide = (shown(cast.oda, at=LATER, width=width).given[0].work.music for width in (340, 720))
    assert len(narrow) > len(wide)
    assert max(system.width for system in narrow) <= 341


def test_a_student_sees_her_week_and_the_page_is_clean(cast: Cast, logged_in):
    make.assigned(lesson=make.lesson(student=cast.oda), passage=cast.passage, fingerings=[cast.fingering])
    html = logged_in(cast.oda.user).get(reverse("this-week")).content.decode()
    assert_clean(html)
    assert "Ländler in E-flat" in html


def test_a_guardian_sees_only_her_children(cast: Cast, logged_in):
    html = logged_in(cast.birger.user).get(reverse("children")).content.decode()
    assert "Oda Lindqvist" in html
    assert "Ilmari Lindqvist" in html
    assert "Ravi" not in html
    assert logged_in(cast.sunita.user).get(reverse("children")).url == reverse("child", args=[cast.ravi.pk])


def test_before_the_first_lesson_the_page_teaches(cast: Cast, logged_in):
    html = logged_in(cast.oda.user).get(reverse("this-week")).content.decode()
    assert "After the next lesson" in html


@pytest.mark.parametrize("column", ["", "x", "-5", "99999"])
def test_an_odd_column_width_is_no_matter(cast: Cast, logged_in, column: str):
    client = logged_in(cast.oda.user)
    client.cookies["column"] = column
    assert client.get(reverse("this-week")).status_code == 200


def test_more_work_and_more_entries_add_no_query(cast: Cast, logged_in, django_assert_max_num_queries):
    lesson = make.lesson(student=cast.oda)
    client = logged_in(cast.oda.user)
    for _ in range(6):
        passage = make.passage(edition=cast.edition)
        line = make.fingering(passage=passage, fingers={passage.first_note: "2"})
        make.assigned(lesson=lesson, passage=passage, fingerings=[line])
        make.entry(student=cast.oda, day=timezone.localdate())
    client.get(reverse("this-week"))
    with django_assert_max_num_queries(12):
        client.get(reverse("this-week"))


def test_whoever_scans_the_code_of_a_handout_comes_to_a_page_of_her_own(cast: Cast, logged_in):
    for user, page in ((cast.sunita.user, reverse("child", args=[cast.ravi.pk])), (cast.teacher, reverse("today"))):
        answer = logged_in(user).get(reverse("this-week"), follow=True)
        assert (answer.status_code, answer.request["PATH_INFO"]) == (200, page)
