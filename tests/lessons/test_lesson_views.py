"""One lesson's page: planning, notes, taking out."""

from datetime import UTC, datetime

from django.urls import reverse

from lessons.models import Lesson
from tests import make
from tests.people import Cast

FIELDS = {"day": "2020-12-01", "time": "15:00", "minutes": "30", "place": "at home"}


def test_a_lesson_is_planned_where_the_form_says_and_told_what_stands_in_its_way(cast: Cast, logged_in):
    client, fields = logged_in(cast.teacher), {**FIELDS, "student": cast.oda.pk, "where": "online"}
    client.post(reverse("new-lesson"), fields, follow=True)
    first = Lesson.objects.get()
    assert first.where == "online"
    answer = client.post(reverse("new-lesson"), {**fields, "student": cast.ravi.pk}, follow=True)
    said = [str(message) for message in answer.context["messages"]]
    assert any("overlaps with Oda Lindqvist" in words for words in said)
    undo = next(message.extra_tags for message in answer.context["messages"] if message.extra_tags)
    client.post(undo)
    assert list(Lesson.objects.all()) == [first]


def test_a_planned_lesson_is_in_the_studios_time(cast: Cast, logged_in):
    answer = logged_in(cast.teacher).post(reverse("new-lesson"), {**FIELDS, "student": cast.oda.pk})
    lesson = Lesson.objects.get()
    assert answer["Location"] == reverse("lesson", args=[lesson.pk])
    assert lesson.starts_at == datetime(2020, 12, 1, 13, 0, tzinfo=UTC)
    assert (lesson.minutes, lesson.place, lesson.studio) == (30, "at home", cast.studio)


def test_a_new_lesson_offers_next_week_at_the_same_time(cast: Cast, logged_in):
    make.lesson(student=cast.oda, starts_at=datetime(2096, 11, 23, 14, 30, tzinfo=UTC), minutes=60)
    form = logged_in(cast.teacher).get(reverse("new-lesson"), {"student": cast.oda.pk}).context["form"]
    page = str(form)
    assert 'value="2096-11-30"' in page
    assert 'value="16:30"' in page
    assert 'value="60"' in page


def test_what_was_typed_is_not_lost_when_the_form_fails(cast: Cast, logged_in):
    answer = logged_in(cast.teacher).post(reverse("new-lesson"), {**FIELDS, "student": cast.oda.pk, "minutes": "2"})
    assert answer.status_code == 422
    assert 'value="at home"' in answer.content.decode()
    assert not Lesson.objects.exists()


def test_an_hour_that_does_not_exist_is_explained(cast: Cast, logged_in):
    fields = {**FIELDS, "student": cast.oda.pk, "day": "2027-03-28", "time": "03:30"}
    answer = logged_in(cast.teacher).post(reverse("new-lesson"), fields)
    assert answer.status_code == 422
    assert "clocks are put forward" in answer.content.decode()


def test_a_student_of_another_studio_cannot_be_chosen(cast: Cast, logged_in):
    answer = logged_in(cast.teacher).post(reverse("new-lesson"), {**FIELDS, "student": cast.bruno.pk})
    assert answer.status_code == 422


def test_taking_a_lesson_out_offers_to_bring_it_back(cast: Cast, logged_in):
    lesson, client = make.lesson(student=cast.oda), logged_in(cast.teacher)
    page = client.post(reverse("remove-lesson", args=[lesson.pk]), follow=True)
    assert not Lesson.objects.exists()
    undo = next(iter(page.context["messages"])).extra_tags
    client.post(undo)
    assert Lesson.objects.get().student == cast.oda


def test_a_lesson_with_work_says_what_goes_with_it_first(cast: Cast, logged_in):
    make.entry(student=cast.oda, assigned=cast.assigned)
    url, client = reverse("remove-lesson", args=[cast.lesson.pk]), logged_in(cast.teacher)
    page = client.post(url).content.decode()
    assert "1 passage" in page
    assert "stays in the log" in page
    assert Lesson.objects.filter(pk=cast.lesson.pk).exists()
    client.post(url, {"with_all": "1"})
    assert not Lesson.objects.filter(pk=cast.lesson.pk).exists()


def test_last_times_practice_stands_beside_what_was_given(cast: Cast, logged_in):
    make.entry(student=cast.oda, assigned=cast.assigned, remark="the jump is easy now", clean_runs=3, tries=5)
    lesson = make.lesson(student=cast.oda, starts_at=datetime(2020, 11, 30, 14, tzinfo=UTC))
    page = logged_in(cast.teacher).get(reverse("lesson", args=[lesson.pk])).content.decode()
    assert "the jump is easy now" in page
    assert "3 of 5" in page


def test_entries_taken_out_of_the_log_are_not_counted(cast: Cast, logged_in):
    make.entry(student=cast.oda, assigned=cast.assigned, minutes=20, removed_at=datetime(2020, 11, 24, tzinfo=UTC))
    lesson = make.lesson(student=cast.oda, starts_at=datetime(2020, 11, 30, 14, tzinfo=UTC))
    context = logged_in(cast.teacher).get(reverse("lesson", args=[lesson.pk])).context
    assert context["page"].before[0].passages[0].minutes == 0


def test_ten_more_rows_of_everything_add_no_query(cast: Cast, logged_in, count_queries):
    lesson = make.lesson(student=cast.oda, starts_at=datetime(2020, 11, 30, 14, tzinfo=UTC))
    client, url = logged_in(cast.teacher), reverse("lesson", args=[lesson.pk])
    make.entry(student=cast.oda, assigned=cast.assigned)
    make.assigned(lesson=lesson, passage=cast.passage, fingerings=[cast.fingering])
    before = count_queries(client, url)
    for number in range(10):
        passage = make.passage(edition=cast.edition, name=f"passage {number}")
        make.assigned(lesson=lesson, passage=passage, fingerings=[make.fingering(passage=passage, fingers={})])
        make.entry(student=cast.oda, assigned=make.assigned(lesson=cast.lesson, passage=passage))
    assert count_queries(client, url) == before <= 12
