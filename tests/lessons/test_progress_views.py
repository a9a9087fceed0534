"""The pages of progress: one student, one passage, all students."""

from datetime import date, datetime, time, timedelta

import pytest
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from lxml import html

from lessons import repertoire
from lessons.logs import log_of, period_of
from lessons.models import AssignedPassage, PracticeEntry
from lessons.overview import FIRST, MOST_SAID, overview_of
from lessons.progress import MOST_MINUTES, Rules
from lessons.progress_page import months_between, share_shown, tempo_shown, timeline_shown, weeks_shown
from studio.models import Student
from tests import make
from tests.people import Cast


def text_of(page: HttpResponse) -> str:
    """What stands on a page, without its tags."""
    return " ".join("".join(html.fromstring(page.content.decode()).itertext()).split())


def ago(days: int) -> date:
    return timezone.localdate() - timedelta(days=days)


def given(student: Student, passage, days: int, **fields) -> AssignedPassage:
    """The passage, given at a lesson so many days ago."""
    starts_at = timezone.make_aware(datetime.combine(ago(days), time(12)))
    return make.assigned(lesson=make.lesson(student=student, starts_at=starts_at), passage=passage, **fields)


def practised(row: AssignedPassage, days: int, **fields) -> PracticeEntry:
    usual = {"tempo": 60, "clean_runs": 1, "tries": 4}
    student = row.assignment.lesson.student
    return make.entry(student=student, assigned=row, day=ago(days), **{**usual, **fields})


def looks(cast: Cast, student: Student) -> list[str]:
    [line] = overview_of([student], today=timezone.localdate())
    return [look.why for look in line.looks]


# What the log is turned into


def test_the_log_counts_from_the_first_lesson_that_gave_the_same_tempos(cast: Cast):
    for days, now in ((30, 50), (20, 60), (10, 60), (3, 60)):
        given(cast.oda, cast.passage, days, tempo_now=now)
    [work] = log_of(cast.teacher, cast.oda, period_of(12, timezone.localdate())).works
    assert work.since == ago(20)
    assert [tempo for _, tempo in work.given] == [50, 60, 60, 60]
    assert work.lessons == (ago(3), ago(10), ago(20), ago(30))


def test_entries_of_all_lessons_that_gave_a_passage_are_its_own(cast: Cast):
    old, new = (given(cast.oda, cast.passage, days) for days in (30, 3))
    practised(old, 25), practised(new, 1)
    [work] = log_of(cast.teacher, cast.oda, period_of(12, timezone.localdate())).works
    assert [entry.day for entry in work.entries] == [ago(25), ago(1)]


def test_what_was_taken_out_or_lies_ahead_is_not_drawn(cast: Cast):
    row = given(cast.oda, cast.passage, 5)
    practised(row, 1, removed_at=timezone.now()), practised(row, -2), practised(row, 400)
    log = log_of(cast.teacher, cast.oda, period_of(12, timezone.localdate()))
    assert log.entries == ()


def test_a_row_that_the_log_would_refuse_is_left_out(cast: Cast):
    row = given(cast.oda, cast.passage, 5)
    practised(row, 1, minutes=MOST_MINUTES + 1), practised(row, 1, tempo=900), practised(row, 1, minutes=7)
    log = log_of(cast.teacher, cast.oda, period_of(12, timezone.localdate()))
    assert [entry.minutes for entry in log.entries] == [7]


def test_nobody_sees_the_entries_of_another_student(cast: Cast):
    practised(given(cast.ravi, cast.passage, 5), 1)
    row = given(cast.oda, cast.passage, 5)
    practised(row, 1, minutes=9)
    period = period_of(12, timezone.localdate())
    for user in (cast.teacher, cast.oda.user, cast.birger.user):
        assert [entry.minutes for entry in log_of(user, cast.oda, period).entries] == [9]
    assert log_of(cast.oda.user, cast.ravi, period).entries == ()
    assert log_of(cast.sunita.user, cast.oda, period).works == ()


# The page of a student


@pytest.mark.parametrize("who", ["teacher", "student", "guardian"])
def test_the_page_has_pictures_with_sentences_and_tables(cast: Cast, logged_in, who: str):
    row = given(cast.oda, cast.passage, 5)
    practised(row, 2, clean_runs=3, minutes=11), practised(row, 1, clean_runs=None, tries=None, minutes=8)
    user = {"teacher": cast.teacher, "student": cast.oda.user, "guardian": cast.birger.user}[who]
    page = logged_in(user).get(reverse("students-progress", args=[cast.oda.pk]))
    words = text_of(page)
    assert "Of 1 passage, 1 has practice written down in these weeks." in words
    assert "Practice was written down on 2 days, 19 minutes in all and at most 11 on one day." in words
    assert "3 of 4 tries were clean, which is 75 %." in words
    assert page.content.count(b"<svg") == 2 * 4, "each for a phone and for a desk"
    assert page.content.count(b"<details") >= 4
    assert "pain that lasts belongs to a clinician" in words


def test_an_empty_page_says_what_will_stand_there(cast: Cast, logged_in):
    words = text_of(logged_in(cast.oda.user).get(reverse("students-progress", args=[cast.oda.pk])))
    assert "It begins with the practice log." in words


def test_names_that_look_like_markup_are_words_in_picture_and_table(cast: Cast, logged_in):
    cast.edition.piece.title = "<script>x</script> & y"
    cast.edition.piece.save()
    practised(given(cast.oda, cast.passage, 5), 1)
    page = logged_in(cast.teacher).get(reverse("students-progress", args=[cast.oda.pk]))
    assert b"<script>x" not in page.content
    assert page.content.count(b"&lt;script&gt;x") >= 3


@pytest.mark.parametrize("weeks", ["0", "9999999", "x", "-1", "１２"])
def test_a_period_that_is_not_offered_is_the_usual_one(cast: Cast, logged_in, weeks: str):
    page = logged_in(cast.teacher).get(reverse("students-progress", args=[cast.oda.pk]), {"weeks": weeks})
    assert (page.status_code, page.context["weeks"]) == (200, 12)


def test_a_passage_has_its_own_page_with_the_suggestion_and_its_reason(cast: Cast, logged_in):
    row = given(cast.oda, cast.passage, 5, tempo_now=60, tempo_goal=88)
    practised(row, 2, clean_runs=4, tries=4)
    page = logged_in(cast.oda.user).get(reverse("passage-progress", args=[cast.oda.pk, cast.passage.pk]))
    assert page.context["advice"].next.tempo == 63, "the mark after 60 on the metronome's scale"
    assert page.context["why"] in text_of(page)
    assert "To reach: 88 quarters a minute." in text_of(page)


def test_a_passage_that_was_never_given_has_no_page(cast: Cast, logged_in):
    address = reverse("passage-progress", args=[cast.oda.pk, cast.passage.pk])
    assert logged_in(cast.teacher).get(address).status_code == 404


@pytest.mark.parametrize("number", [2**31, 2**63, 10**30])
def test_a_number_that_no_row_can_have_is_not_found(cast: Cast, logged_in, number: int):
    client = logged_in(cast.teacher)
    for address in (f"/students/{cast.oda.pk}/progress/{number}/", f"/students/{number}/progress/"):
        assert client.get(address).status_code == 404


def test_a_lesson_that_is_only_planned_shows_nothing_to_the_family(cast: Cast, logged_in):
    given(cast.oda, cast.passage, -3)
    address = reverse("passage-progress", args=[cast.oda.pk, cast.passage.pk])
    assert [logged_in(user).get(address).status_code for user in (cast.oda.user, cast.birger.user)] == [404, 404]


def test_without_tempos_nothing_is_suggested(cast: Cast, logged_in):
    practised(given(cast.oda, cast.passage, 5, tempo_now=None, tempo_goal=None), 1)
    for name, args in (("students-progress", [cast.oda.pk]), ("passage-progress", [cast.oda.pk, cast.passage.pk])):
        assert "nothing is suggested" in text_of(logged_in(cast.teacher).get(reverse(name, args=args)))


def test_tables_and_sentences_tell_the_same_as_the_rows(cast: Cast):
    row = given(cast.oda, cast.passage, 5)
    practised(row, 3, tempo=60, clean_runs=1, tries=4), practised(row, 3, tempo=66, clean_runs=3, tries=4)
    practised(row, 1, tempo=72, clean_runs=None, tries=None)
    period = period_of(12, timezone.localdate())
    log = log_of(cast.teacher, cast.oda, period)
    [work] = log.works
    shown = tempo_shown(work, period, work.advice(timezone.localdate()))
    assert [row[1:] for row in shown.rows] == [("72", "–", "–"), ("66", "4", "8")]
    assert share_shown(log.entries, period).sentence == "4 of 8 tries were clean, which is 50 %."
    assert sum(int(row[3]) for row in weeks_shown(log).rows) == sum(entry.minutes for entry in log.entries)


def test_the_repertoire_has_a_line_for_each_piece_with_a_day(cast: Cast):
    given(cast.oda, cast.passage, 5)
    other, wish = (make.piece(studio=cast.studio, title=title) for title in ("Study", "Dream"))
    fields = {"status": "learned", "begun_on": date(2020, 1, 1), "learned_on": date(2020, 6, 1)}
    repertoire.say_status(student=cast.oda, piece=other, fields=fields)
    repertoire.say_status(student=cast.oda, piece=wish, fields={"status": "wished"})
    shown = timeline_shown(repertoire.entries_of(cast.oda, at=timezone.now()), timezone.localdate())
    assert shown.sentence == "2 pieces since January 2020, the oldest first."
    assert "Study (learned)" in shown.wide
    assert "Dream" not in shown.wide
    assert len(shown.rows) == 3, "what is wished for stands in the table"


def test_a_repertoire_without_days_has_no_picture(cast: Cast):
    assert timeline_shown([], timezone.localdate()) is None


def test_months_are_named_for_two_years_and_years_beyond():
    assert [day for day, _ in months_between(date(2025, 11, 1), date(2026, 1, 9))] == [
        date(2025, 11, 1),
        date(2025, 12, 1),
        date(2026, 1, 1),
    ]
    assert [words for _, words in months_between(date(2020, 3, 1), date(2023, 1, 9))] == [
        "2020",
        "2021",
        "2022",
        "2023",
    ]


# All students


def test_who_is_stuck_stands_above_who_reached_the_tempo_and_who_did_neither(cast: Cast):
    stuck, reached, quiet = cast.ravi, cast.oda, cast.ilmari
    row = given(stuck, cast.passage, 40)
    given(stuck, cast.passage, 4)
    for days in range(0, 36, 4):
        practised(row, days, clean_runs=5, tries=9)
    practised(given(reached, cast.passage, 5, tempo_now=88, tempo_goal=88), 1, tempo=88, clean_runs=4, tries=4)
    practised(given(quiet, cast.passage, 5), 1, clean_runs=5, tries=9)
    lines = overview_of([quiet, reached, stuck], today=timezone.localdate())
    assert [line.student for line in lines] == [stuck, reached, quiet]
    assert [line.rank for line in lines] == [FIRST["plateau"], FIRST["reached"], len(FIRST)]
    assert all(look.why for line in lines for look in line.looks)


def test_a_student_who_wrote_nothing_for_two_weeks_is_named_once(cast: Cast):
    for passage in (cast.passage, make.passage(edition=cast.edition, hands="left")):
        row = given(cast.oda, passage, 20)
        practised(row, 16)
    assert looks(cast, cast.oda) == ["Nothing has been written down for 16 days."]


def test_work_that_was_given_and_never_logged_is_told(cast: Cast):
    given(cast.oda, cast.passage, 15)
    assert looks(cast, cast.oda) == ["Work was given 15 days ago, and nothing has been written down since."]


def test_nobody_is_asked_after_before_two_weeks_are_over(cast: Cast):
    given(cast.oda, cast.passage, Rules().away_days - 1)
    assert looks(cast, cast.oda) == []


def test_a_very_long_day_brings_the_caution(cast: Cast):
    practised(given(cast.oda, cast.passage, 5), 1, minutes=200, clean_runs=5, tries=9)
    assert any("pain that lasts belongs to a clinician" in why for why in looks(cast, cast.oda))


def test_an_overview_shows_a_few_and_says_how_many_more(cast: Cast, logged_in):
    notes = cast.edition.score.in_measures(0, 0)
    for number in range(MOST_SAID + 2):
        passage = make.passage(edition=cast.edition, first=notes[0].id, last=notes[0].id, name=f"place {number}")
        row = given(cast.oda, passage, 6, tempo_now=60, tempo_goal=88)
        practised(row, 2, clean_runs=0), practised(row, 1, clean_runs=0)
    words = text_of(logged_in(cast.teacher).get(reverse("progress-of-all")))
    assert words.count("back to 58") == MOST_SAID
    assert "and 2 more" in words


def test_students_who_left_and_those_next_door_are_not_in_the_overview(cast: Cast, logged_in):
    cast.ravi.left_on = ago(1)
    cast.ravi.save()
    words = text_of(logged_in(cast.teacher).get(reverse("progress-of-all")))
    assert "Oda Lindqvist" in words
    assert "Ravi Menon" not in words
    assert "Bruno Tavares" not in words


# Queries


def fill(cast: Cast) -> None:
    """One more of everything that the pages show."""
    student = make.student(studio=cast.studio, name="Someone new")
    piece = make.piece(studio=cast.studio, title=f"Piece {Student.objects.count()}")
    passage = make.passage(edition=make.edition(piece=piece))
    for one in (student, cast.oda):
        for number in range(3):
            practised(given(one, passage, 9 - number), number)
            practised(given(one, cast.passage, 9 - number), number)


@pytest.mark.parametrize("name", ["students-progress", "passage-progress", "progress-of-all"])
def test_ten_more_of_everything_add_no_query(cast: Cast, logged_in, count_queries, name: str):
    fill(cast)
    args = {"students-progress": [cast.oda.pk], "passage-progress": [cast.oda.pk, cast.passage.pk]}.get(name, [])
    client, address = logged_in(cast.teacher), reverse(name, args=args)
    before = count_queries(client, address)
    for _ in range(10):
        fill(cast)
    assert count_queries(client, address) == before <= 12
