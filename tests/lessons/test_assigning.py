"""Giving work: choices, carrying on, order, taking back."""

import pytest
from django.urls import reverse

from lessons import assigning
from lessons.assigning import Choices
from lessons.models import AssignedPassage, Assignment, Lesson
from lessons.models.assignments import ChosenBy
from scores.models import OrnamentChoice
from tests import make
from tests.people import Cast


@pytest.fixture
def later(cast: Cast) -> Lesson:
    return make.lesson(student=cast.oda, starts_at=cast.lesson.starts_at.replace(day=30))


def line(cast: Cast, fingers: str = "2", **given):
    return make.fingering(passage=cast.passage, fingers={cast.passage.first_note: fingers}, **given)


def offered(assigned: AssignedPassage) -> dict[int, str]:
    return dict(assigned.offered.values_list("fingering_id", "chosen_by"))


def test_the_only_fingering_of_a_part_is_chosen(cast: Cast):
    only = line(cast)
    assert offered(assigning.assign_passage(lesson=cast.lesson, passage=cast.passage)) == {only.pk: "teacher"}


def test_several_fingerings_of_a_part_are_left_open(cast: Cast):
    first, second = line(cast), line(cast, "3")
    given = offered(assigning.assign_passage(lesson=cast.lesson, passage=cast.passage))
    assert given == {first.pk: "", second.pk: ""}


def test_a_fingering_that_cannot_be_played_is_not_offered(cast: Cast):
    line(cast, "7")
    playable = line(cast)
    assert offered(assigning.assign_passage(lesson=cast.lesson, passage=cast.passage)) == {playable.pk: "teacher"}


def test_a_fingering_taken_off_the_desk_is_not_offered(cast: Cast):
    line(cast, removed_at=cast.lesson.starts_at)
    assert offered(assigning.assign_passage(lesson=cast.lesson, passage=cast.passage)) == {}


def test_ornaments_fall_as_the_teacher_prefers(cast: Cast):
    OrnamentChoice.objects.create(studio=cast.studio, passage=cast.passage, note="g1", placement="on")
    assigned = assigning.assign_passage(lesson=cast.lesson, passage=cast.passage)
    assert list(assigned.placements.values_list("note", "placement", "chosen_by")) == [("g1", "on", "teacher")]


def test_a_passage_given_twice_is_one(cast: Cast):
    one = assigning.assign_passage(lesson=cast.lesson, passage=cast.passage)
    assert assigning.assign_passage(lesson=cast.lesson, passage=cast.passage) == one
    assert AssignedPassage.objects.count() == 1


def test_a_passage_begins_with_what_this_student_had(cast: Cast, later: Lesson):
    first, second = line(cast), line(cast, "3")
    before = assigning.assign_passage(lesson=cast.lesson, passage=cast.passage)
    choices = Choices({first.pk: "chosen", second.pk: "no"})
    assigning.keep_assigned(
        assigned=before, choices=choices, tempo_now=60, tempo_goal=96, remark="From the end.", show_others=True
    )
    again = assigning.assign_passage(lesson=later, passage=cast.passage)
    assert offered(again) == {first.pk: "teacher"}
    assert (again.tempo_now, again.tempo_goal, again.remark, again.show_others) == (60, 96, "From the end.", True)


def test_another_students_choices_are_not_carried_over(cast: Cast):
    first, second = line(cast), line(cast, "3")
    before = assigning.assign_passage(lesson=cast.lesson, passage=cast.passage)
    choices = Choices({first.pk: "chosen", second.pk: "no"})
    assigning.keep_assigned(assigned=before, choices=choices, tempo_now=60, tempo_goal=96, remark="", show_others=False)
    ravis = assigning.assign_passage(lesson=make.lesson(student=cast.ravi), passage=cast.passage)
    assert offered(ravis) == {first.pk: "", second.pk: ""}


def test_carrying_on_gives_the_same_work_with_its_choices(cast: Cast, later: Lesson):
    first, second = line(cast), line(cast, "3")
    assigned = make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=[first, second])
    assigned.offered.filter(fingering=second).update(chosen_by=ChosenBy.STUDENT)
    assigning.keep_assignment(assignment=assigned.assignment, remark="Sing it first.")
    assert assigning.carry_on(lesson=later, previous=cast.lesson) == 1
    copy = AssignedPassage.objects.get(assignment__lesson=later)
    assert offered(copy) == {first.pk: "", second.pk: "student"}
    assert copy.assignment.remark == "Sing it first."
    assert (copy.tempo_now, copy.tempo_goal) == (60, 88)


def test_carrying_on_twice_adds_nothing(cast: Cast, later: Lesson):
    make.assigned(lesson=cast.lesson, passage=cast.passage)
    assigning.assign_piece(lesson=cast.lesson, piece=make.piece(studio=cast.studio, title="Scales"))
    assert assigning.carry_on(lesson=later, previous=cast.lesson) == 2
    assert assigning.carry_on(lesson=later, previous=cast.lesson) == 0
    assert later.assignments.count() == 2


def test_a_passage_taken_off_the_score_is_not_carried_on(cast: Cast, later: Lesson):
    make.assigned(lesson=cast.lesson, passage=cast.passage)
    cast.passage.removed_at = cast.lesson.starts_at
    cast.passage.save()
    assert assigning.carry_on(lesson=later, previous=cast.lesson) == 0


def test_what_the_student_chose_stays_hers_while_it_is_open(cast: Cast):
    first, second = line(cast), line(cast, "3")
    assigned = make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=[first, second])
    assigned.offered.filter(fingering=second).update(chosen_by=ChosenBy.STUDENT)
    fields = {"tempo_now": 60, "tempo_goal": 88, "remark": "", "show_others": False}
    assigning.keep_assigned(assigned=assigned, choices=Choices({first.pk: "open", second.pk: "open"}), **fields)
    assert offered(assigned) == {first.pk: "", second.pk: "student"}
    assigning.keep_assigned(assigned=assigned, choices=Choices({first.pk: "chosen", second.pk: "open"}), **fields)
    assert offered(assigned) == {first.pk: "teacher", second.pk: ""}


def test_passages_change_places(cast: Cast):
    rows = [
        make.assigned(lesson=cast.lesson, passage=make.passage(edition=cast.edition), position=place)
        for place in range(3)
    ]
    assigning.move_assigned(assigned=rows[2], up=True)
    order = list(rows[0].assignment.passages.values_list("pk", flat=True))
    assert order == [rows[0].pk, rows[2].pk, rows[1].pk]


def test_at_the_end_of_its_piece_a_passage_takes_the_piece_along(cast: Cast):
    first = make.assigned(lesson=cast.lesson, passage=cast.passage)
    other = make.edition(piece=make.piece(studio=cast.studio, title="Another"))
    second = assigning.assign_passage(lesson=cast.lesson, passage=make.passage(edition=other))
    assigning.move_assigned(assigned=second, up=True)
    pieces = list(cast.lesson.assignments.values_list("pk", flat=True))
    assert pieces == [second.assignment_id, first.assignment_id]


def test_what_was_taken_out_comes_back_with_its_practice(cast: Cast):
    assigned = make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=[line(cast)], remark="Slowly.")
    entry = make.entry(student=cast.oda, assigned=assigned)
    token = assigning.remove_assigned(assigned=assigned)
    assert not Assignment.objects.exists()
    entry.refresh_from_db()
    assert entry.assigned is None, "the log keeps the entry"
    assert assigning.restore(studio=cast.studio, token=token) == cast.lesson
    back = AssignedPassage.objects.get()
    assert (back.passage, back.remark, back.tempo_now, len(offered(back))) == (cast.passage, "Slowly.", 60, 1)
    entry.refresh_from_db()
    assert entry.assigned == back


def test_a_teacher_next_door_cannot_bring_it_back(cast: Cast, logged_in):
    token = assigning.remove_assigned(assigned=cast.assigned)
    assert logged_in(cast.other_teacher).post(reverse("restore-work", args=[token])).status_code == 404
    assert not AssignedPassage.objects.exists()
