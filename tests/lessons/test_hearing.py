"""Quick marks on what was given last time."""

from datetime import UTC, datetime

from django.urls import reverse

from lessons import assigning, hearing
from lessons.models import AssignedPassage, Lesson, Mark, OfferedFingering
from tests import make
from tests.people import Cast


def next_lesson(cast: Cast) -> Lesson:
    cast.assigned  # noqa: B018 — given at the lesson before
    return make.lesson(student=cast.oda, starts_at=datetime(2020, 11, 30, 14, tzinfo=UTC))


def work(lesson: Lesson) -> list[AssignedPassage]:
    return list(AssignedPassage.objects.filter(assignment__lesson=lesson))


def test_carried_on_it_stands_in_this_lessons_work_at_the_tempo_reached(cast: Cast):
    lesson = next_lesson(cast)
    hearing.mark(lesson=lesson, assigned=cast.assigned, kind="carry", tempo=72)
    (row,) = work(lesson)
    assert (row.passage, row.tempo_now, row.tempo_goal) == (cast.passage, 72, 88)
    assert OfferedFingering.objects.filter(assigned=row).count() == 1, "with its choices"


def test_without_a_tempo_it_carries_on_where_it_was(cast: Cast):
    lesson = next_lesson(cast)
    hearing.mark(lesson=lesson, assigned=cast.assigned, kind="carry")
    assert work(lesson)[0].tempo_now == 60


def test_carried_on_twice_it_stands_there_once(cast: Cast):
    lesson = next_lesson(cast)
    for tempo in (66, 72):
        hearing.mark(lesson=lesson, assigned=cast.assigned, kind="carry", tempo=tempo)
    assert [row.tempo_now for row in work(lesson)] == [72]
    assert Mark.objects.count() == 1


def test_what_is_done_is_learned_on_that_day_and_leaves_the_work(cast: Cast):
    lesson = next_lesson(cast)
    hearing.mark(lesson=lesson, assigned=cast.assigned, kind="carry")
    marked = hearing.mark(lesson=lesson, assigned=cast.assigned, kind="done", tempo=88)
    assert work(lesson) == []
    assert [(mark.lesson, mark.tempo) for mark in hearing.learned(cast.oda)] == [(lesson, 88)]
    assigning.restore(studio=cast.studio, token=marked.undo)
    assert len(work(lesson)) == 1


def test_what_is_set_aside_or_done_is_not_carried_on_with_the_rest(cast: Cast):
    other = make.passage(edition=cast.edition, name="the end")
    make.assigned(lesson=cast.lesson, passage=other)
    lesson = next_lesson(cast)
    hearing.mark(lesson=lesson, assigned=cast.assigned, kind="aside")
    assigning.carry_on(lesson=lesson, previous=cast.lesson)
    assert [row.passage for row in work(lesson)] == [other]


def test_a_mark_taken_back_takes_the_passage_out_again(cast: Cast):
    lesson = next_lesson(cast)
    hearing.mark(lesson=lesson, assigned=cast.assigned, kind="carry")
    assert hearing.unmark(lesson=lesson, assigned=cast.assigned).undo
    assert work(lesson) == []
    assert not Mark.objects.exists()


def test_work_that_comes_back_keeps_its_marks(cast: Cast):
    lesson = next_lesson(cast)
    hearing.mark(lesson=lesson, assigned=cast.assigned, kind="done", tempo=80)
    assigning.restore(studio=cast.studio, token=assigning.remove_assigned(assigned=cast.assigned))
    assert [(mark.lesson, mark.tempo) for mark in hearing.learned(cast.oda)] == [(lesson, 80)]


# The view


def press(client, lesson: Lesson, cast: Cast, **data):
    return client.post(
        reverse("mark", kwargs={"pk": lesson.pk, "assigned": cast.assigned.pk}), data, headers={"HX-Request": "true"}
    )


def test_one_press_answers_with_the_row_and_the_work(cast: Cast, logged_in):
    lesson = next_lesson(cast)
    page = press(logged_in(cast.teacher), lesson, cast, kind="carry", tempo="76").content.decode()
    assert f'id="heard-{cast.assigned.pk}"' in page
    assert 'hx-swap-oob="outerHTML"' in page
    assert "76 → 88" in page


def test_the_same_pressed_again_is_taken_back(cast: Cast, logged_in):
    lesson, client = next_lesson(cast), logged_in(cast.teacher)
    press(client, lesson, cast, kind="done")
    press(client, lesson, cast, kind="done")
    assert not Mark.objects.exists()


def test_a_tempo_that_nobody_plays_is_refused_with_a_word(cast: Cast, logged_in):
    lesson = next_lesson(cast)
    answer = press(logged_in(cast.teacher), lesson, cast, kind="carry", tempo="999")
    assert answer.status_code == 422
    assert "300" in answer.content.decode()
    assert not Mark.objects.exists()


def test_another_students_work_is_not_marked_at_this_lesson(cast: Cast, logged_in):
    lesson = make.lesson(student=cast.ravi, starts_at=datetime(2020, 11, 30, 14, tzinfo=UTC))
    assert press(logged_in(cast.teacher), lesson, cast, kind="done").status_code == 404
