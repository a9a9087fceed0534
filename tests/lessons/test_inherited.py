"""What was written where the music stands first, given to a student where it comes again."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from lessons import assigning, choosing
from lessons.handouts.choices import choices_of
from lessons.handouts.gathering import gather
from lessons.models.assignments import ChosenBy
from scores import noting
from scores.inheriting import here, leave_out
from scores.models import Edition, OrnamentChoice
from tests import make
from tests.people import Cast
from tests.scores.rondino import RONDINO
from tests.scores.test_inheriting import NOW, RUN, fingered, fresh, notes_of, passage


@pytest.fixture
def rondino(cast: Cast) -> Edition:
    return make.edition(piece=make.piece(studio=cast.studio, title="Rondino"), music=RONDINO, name="rondino.musicxml")


def given(cast: Cast, one):
    return assigning.assign_passage(lesson=make.lesson(student=cast.oda), passage=fresh(one))


def fingers_at(assigned, edition: Edition, first: int, last: int) -> list[str]:
    fingers = choices_of(assigned).fingers
    return [fingers.get(note.id, "") for note in notes_of(edition, first, last)]


def test_the_one_line_that_stands_there_is_chosen_with_the_fingers_on_its_notes(cast: Cast, rondino: Edition):
    line = fingered(rondino, 1, 2)
    assigned = given(cast, passage(rondino, 5, 6))
    assert [(row.fingering_id, row.chosen_by) for row in assigned.offered.all()] == [(line.pk, ChosenBy.TEACHER)]
    assert fingers_at(assigned, rondino, 5, 6) == list(RUN)


def test_the_handout_says_where_the_fingers_come_from(cast: Cast, rondino: Edition):
    line = fingered(rondino, 1, 2)
    noting.write_cue(passage=line.passage, text="float", measure=1)
    assigned = given(cast, passage(rondino, 7, 8))
    (work,) = gather(assigned.assignment.lesson).works
    remarks = [remark.text for remark in work.remarks]
    assert "Fingers from measures 1–2, a fifth higher. lightly" in remarks
    assert "float (= 1–2)" in remarks


def test_the_teachers_page_says_where_a_line_comes_from(cast: Cast, logged_in, rondino: Edition):
    fingered(rondino, 1, 2)
    assigned = given(cast, passage(rondino, 7, 8))
    words = logged_in(cast.teacher).get(reverse("assigned", args=[assigned.pk])).content.decode()
    assert "From measures 1–2, a fifth higher." in words
    assert "black keys fall elsewhere" in words


def test_a_student_sees_the_fingers_of_the_first_place_on_her_page(cast: Cast, logged_in, rondino: Edition):
    fingered(rondino, 1, 2)
    given(cast, passage(rondino, 5, 6))
    words = logged_in(cast.oda.user).get(reverse("this-week")).content.decode()
    assert "Fingers from measures 1–2. lightly" in words


def test_an_ornament_falls_as_it_was_said_where_the_music_stands_first(cast: Cast, rondino: Edition):
    source = passage(rondino, 1, 2)
    turned = next(note for note in rondino.score.notes if note.ornaments)
    OrnamentChoice.objects.create(studio=source.studio, passage=source, note=turned.id, placement="on")
    assigned = given(cast, passage(rondino, 5, 6))
    (row,) = assigned.placements.all()
    assert (rondino.score.by_id[row.note].measure, row.placement) == (5, "on")


def test_an_own_and_an_inherited_line_of_one_part_are_both_left_open(cast: Cast, rondino: Edition):
    fingered(rondino, 1, 2)
    own = fingered(rondino, 5, 6, "234543" + "432")
    assigned = given(cast, own.passage)
    assert {row.chosen_by for row in assigned.offered.all()} == {ChosenBy.NOBODY}
    assert len(assigned.offered.all()) == 2


def test_a_student_chooses_between_an_own_and_an_inherited_line(cast: Cast, rondino: Edition):
    line = fingered(rondino, 1, 2)
    own = fingered(rondino, 5, 6, "234543" + "432")
    assigned = given(cast, own.passage)
    for pk, digits in ((line.pk, RUN), (own.pk, "234543432")):
        choosing.choose_fingering(assigned=assigned, offered=assigned.offered.get(fingering_id=pk))
        assert assigned.offered.filter(chosen_by=ChosenBy.STUDENT).count() == 1
        assert fingers_at(assigned, rondino, 5, 6) == list(digits)


def test_what_was_given_stays_when_the_place_follows_no_more(cast: Cast, rondino: Edition):
    fingered(rondino, 1, 2)
    place = passage(rondino, 5, 6)
    assigned = given(cast, place)
    leave_out(note=here(fresh(place)).fingerings[0], at=NOW)
    again = type(assigned).objects.get(pk=assigned.pk)
    assert fingers_at(again, rondino, 5, 6) == list(RUN)


def test_a_change_of_the_source_reaches_the_sheet_not_yet_given(cast: Cast, rondino: Edition):
    line = fingered(rondino, 1, 2)
    assigned = given(cast, passage(rondino, 5, 6))
    noting.keep_fingers(fingering=line, fingers={**line.fingers, notes_of(rondino, 1, 1)[0].id: "2"})
    again = type(assigned).objects.get(pk=assigned.pk)
    assert fingers_at(again, rondino, 5, 6)[0] == "2"


def test_taken_out_and_put_back_it_is_still_offered(cast: Cast, rondino: Edition):
    line = fingered(rondino, 1, 2)
    assigned = given(cast, passage(rondino, 5, 6))
    token = assigning.remove_assigned(assigned=assigned)
    lesson = assigning.restore(studio=cast.studio, token=token)
    (back,) = lesson.assignments.get().passages.all()
    assert [row.fingering_id for row in back.offered.all()] == [line.pk]


def test_ten_more_notes_elsewhere_add_no_query_to_a_handout(cast: Cast, rondino: Edition, django_assert_num_queries):
    line = fingered(rondino, 1, 2)
    lesson = given(cast, passage(rondino, 5, 6)).assignment.lesson
    with CaptureQueriesContext(connection) as before:
        gather(lesson)
    for number in range(10):
        noting.write_cue(passage=line.passage, text=f"cue {number}", measure=0)
    with django_assert_num_queries(len(before)):
        gather(lesson)
