"""What a new measurement of a hand changes in the work that a student has."""

from datetime import UTC, date, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from lessons.measured_again import changed_work
from lessons.models.assignments import ChosenBy
from tests import make
from tests.people import Cast
from tests.scores.test_judging import MEDIUM, whole_line

NOW = datetime(2020, 11, 25, 9, 0, tzinfo=UTC)
NARROW = {**MEDIUM, "pairs": {"1-2": [3, 3]}}  # A major third between thumb and second finger is beyond it.


@pytest.fixture
def lines(cast: Cast):
    """Two lines that part at the chord: line I takes it with thumb and second finger, line II with 2 and 4."""
    return [
        make.fingering(passage=cast.passage, fingers=whole_line(cast, *fingers)) for fingers in (("1", "2"), ("2", "4"))
    ]


def measure(cast: Cast, day: date, **reach) -> None:
    make.hand(student=cast.oda, measured_on=day, **reach)


def measured_twice(cast: Cast) -> None:
    measure(cast, date(2020, 9, 1), **MEDIUM)
    measure(cast, date(2020, 11, 20), **NARROW)


def test_a_changed_least_costly_line_is_told_with_the_one_that_is_played(cast: Cast, lines):
    assigned = make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=lines)
    assigned.offered.filter(fingering=lines[0]).update(chosen_by=ChosenBy.TEACHER)
    measured_twice(cast)
    [told] = changed_work(cast.oda, at=NOW)
    assert told.assigned == assigned
    assert told.change.before.numeral == "I"
    assert told.change.now.key != told.change.before.key
    assert told.plays == "I"


def test_nothing_is_told_of_a_hand_measured_once(cast: Cast, lines):
    make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=lines)
    measure(cast, date(2020, 9, 1), **NARROW)
    assert changed_work(cast.oda, at=NOW) == []


def test_nothing_is_told_when_the_same_line_stays_least_costly(cast: Cast, lines):
    make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=lines)
    measure(cast, date(2020, 9, 1), **MEDIUM)
    measure(cast, date(2020, 11, 20), **MEDIUM)
    assert changed_work(cast.oda, at=NOW) == []


def test_nothing_is_told_of_a_line_that_is_chosen_already(cast: Cast, lines):
    assigned = make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=lines)
    measured_twice(cast)
    assert changed_work(cast.oda, at=NOW)[0].change.now.fingering == lines[1]
    assigned.offered.filter(fingering=lines[1]).update(chosen_by=ChosenBy.STUDENT)
    assert changed_work(cast.oda, at=NOW) == []


def test_only_the_newest_work_counts(cast: Cast, lines):
    make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=lines)
    later = make.lesson(student=cast.oda, starts_at=datetime(2020, 11, 24, 14, 0, tzinfo=UTC))
    make.assigned(lesson=later, passage=make.passage(edition=cast.edition, hands="left"))
    measured_twice(cast)
    assert changed_work(cast.oda, at=NOW) == []


def test_the_teacher_reads_it_on_the_students_page_in_few_queries(cast: Cast, lines, logged_in):
    make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=lines)
    measured_twice(cast)
    teacher = logged_in(cast.teacher)
    with CaptureQueriesContext(connection) as queries:
        page = teacher.get(reverse("student", args=[cast.oda.pk])).content.decode()
    assert "Since the right hand was measured on 20 November 2020" in page
    assert f"{reverse('desk', args=[cast.passage.pk])}?student={cast.oda.pk}#hands" in page
    assert len(queries) <= 12
