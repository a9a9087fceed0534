"""The pages of the calendar: moving and cancelling, weekly lessons, days without lessons, free hours."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone

from lessons import planning, scheduling
from lessons.models import Absence, BusyTime, FreeHours, Holiday, Lesson, Slot, Timetable
from lessons.scheduling import SlotPlan
from studio.models import Term
from tests import make
from tests.html import assert_clean
from tests.people import Cast

HELSINKI = ZoneInfo("Europe/Helsinki")
# A Wednesday; noon in Helsinki.
NOW = datetime(2020, 11, 4, 10, 0, tzinfo=UTC)
THURSDAY = datetime(2020, 11, 5, 13, 0, tzinfo=UTC)  # 15:00 in Helsinki


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: NOW)


@pytest.fixture
def teacher(cast: Cast, logged_in):
    return logged_in(cast.teacher)


def slot_of(cast: Cast, *students, **given) -> Slot:
    fields = {"first_day": date(2020, 11, 5), "at": time(15), "minutes": 45, "rule": "FREQ=WEEKLY;COUNT=6"}
    plan = SlotPlan(**{"students": students or [cast.oda], **fields, **given})
    return scheduling.make_slot(studio=cast.studio, plan=plan, at=NOW)[0]


def said(answer) -> str:
    return " ".join(str(message) for message in answer.context["messages"])


def undo_of(answer) -> str:
    return [message.extra_tags for message in answer.context["messages"] if message.extra_tags][-1]


# The week and the day


def test_the_week_shows_lessons_busy_times_holidays_and_who_is_away(cast: Cast, teacher):
    make.lesson(student=cast.oda, starts_at=THURSDAY)
    BusyTime.objects.create(
        studio=cast.studio,
        source="a",
        uid="b",
        label="Choir",
        starts_at=THURSDAY,
        ends_at=THURSDAY + timedelta(hours=2),
    )
    days = {"first_day": date(2020, 11, 6), "last_day": date(2020, 11, 6)}
    Holiday.objects.create(studio=cast.studio, name="All Souls", **days)
    Absence.objects.create(studio=cast.studio, student=cast.ravi, **days)
    page = teacher.get(reverse("week")).content.decode()
    for words in ("Oda Lindqvist", "Choir", "All Souls", "not here: Ravi Menon", "you are taken then: Choir"):
        assert words in page
    assert_clean(page)


def test_the_lesson_that_is_on_is_marked_and_a_cancelled_one_struck(cast: Cast, teacher):
    make.lesson(student=cast.oda, starts_at=NOW - timedelta(minutes=10))
    make.lesson(student=cast.ravi, starts_at=NOW + timedelta(hours=3), cancelled_at=NOW, attendance="teacher")
    blocks = teacher.get(reverse("day")).context["page"].days[0].blocks
    assert [block.state for block in blocks] == ["now", "cancelled"]
    assert [block.can_move for block in blocks] == [True, False]


def test_two_who_come_together_are_one_block(cast: Cast, teacher):
    slot_of(cast, cast.oda, cast.ravi, name="Four hands")
    blocks = teacher.get(reverse("day"), {"on": "2020-11-05"}).context["page"].days[0].blocks
    assert [(block.name, block.detail) for block in blocks] == [("Four hands", "Oda, Ravi")]


def test_lessons_at_once_stand_side_by_side(cast: Cast, teacher):
    for student in (cast.oda, cast.ravi):
        make.lesson(student=student, starts_at=THURSDAY)
    make.lesson(student=cast.ilmari, starts_at=THURSDAY + timedelta(hours=2))
    blocks = teacher.get(reverse("day"), {"on": "2020-11-05"}).context["page"].days[0].blocks
    assert [(block.lane, block.lanes) for block in blocks] == [(0, 2), (1, 2), (0, 1)]
    assert blocks[0].clashes == ["overlaps with Ravi Menon, 15:00–15:45"]


def test_beyond_what_is_laid_out_the_week_shows_what_is_expected(cast: Cast, teacher):
    slot_of(cast, rule="FREQ=WEEKLY")
    page = teacher.get(reverse("week"), {"from": "2021-07-01"}).context["page"]
    assert page.is_beyond
    assert [block.kind for block in page.days[3].blocks] == ["expected"]
    assert page.days[3].blocks[0].begins == "15:00"


def test_a_block_leads_to_its_lesson_and_to_another_time(cast: Cast, teacher):
    lesson = make.lesson(student=cast.oda, starts_at=THURSDAY)
    page = teacher.get(reverse("week")).content.decode()
    assert f'href="{reverse("lesson", args=[lesson.pk])}"' in page
    assert f'href="{reverse("change-lesson", args=[lesson.pk])}"' in page


@pytest.mark.parametrize("name", ["week", "day"])
def test_ten_more_of_everything_add_no_query(cast: Cast, teacher, count_queries, name: str):
    before = count_queries(teacher, reverse(name))
    for number in range(10):
        student = make.student(studio=cast.studio, name=f"Student {number}")
        make.guardian(students=[student], name=f"Guardian {number}", email=f"g{number}@example.org")
        slot_of(cast, student, name=f"Slot {number}", first_day=date(2020, 11, 4), at=time(9 + number))
        days = {"first_day": date(2020, 11, 4), "last_day": date(2020, 11, 5)}
        Absence.objects.create(studio=cast.studio, student=cast.ravi, **days)
        Holiday.objects.create(studio=cast.studio, name="Off", **days)
        times = {"starts_at": NOW, "ends_at": NOW + timedelta(hours=1)}
        BusyTime.objects.create(studio=cast.studio, source="a", uid=str(number), **times)
    assert count_queries(teacher, reverse(name)) == before <= 12


# Another time


def move(teacher, lesson: Lesson, **given):
    data = {"day": "2020-11-06", "time": "15:00", "minutes": 30, "where": "studio", "place": "", **given}
    return teacher.post(reverse("change-lesson", args=[lesson.pk]), data, follow=True)


def test_the_page_of_another_time_needs_few_queries_for_a_pair_among_much_else(cast: Cast, teacher, count_queries):
    pair = slot_of(cast, cast.oda, cast.ravi).lessons.all()[0]
    url = reverse("change-lesson", args=[pair.pk])
    before = count_queries(teacher, url)
    for number in range(10):
        make.lesson(student=cast.oda, starts_at=THURSDAY + timedelta(hours=number))
    assert count_queries(teacher, url) == before <= 12


def test_a_lesson_moves_without_losing_its_notes_and_goes_back(cast: Cast, teacher):
    lesson = make.lesson(student=cast.oda, starts_at=THURSDAY, notes="Sing it.")
    answer = move(teacher, lesson)
    lesson.refresh_from_db()
    assert (lesson.starts_at, lesson.minutes, lesson.notes) == (THURSDAY + timedelta(days=1), 30, "Sing it.")
    teacher.post(undo_of(answer))
    lesson.refresh_from_db()
    assert (lesson.starts_at, lesson.minutes) == (THURSDAY, 45)


def test_a_lesson_of_someone_who_left_can_still_be_moved(cast: Cast, teacher):
    lesson = make.lesson(student=cast.oda, starts_at=THURSDAY)
    cast.oda.left_on = date(2020, 11, 1)
    cast.oda.save()
    move(teacher, lesson)
    lesson.refresh_from_db()
    assert lesson.starts_at == THURSDAY + timedelta(days=1)


def test_a_lesson_moved_onto_itself_is_told_so(cast: Cast, teacher):
    lesson = make.lesson(student=cast.oda, starts_at=THURSDAY)
    answer = teacher.post(reverse("move-lesson", args=[lesson.pk]), {"to": "2020-11-05T15:00"}, follow=True)
    assert "stands there already" in said(answer)


def test_a_time_that_is_not_on_the_clock_is_refused_and_nothing_typed_is_lost(cast: Cast, teacher):
    # In Helsinki 03:00 becomes 04:00 on 28 March 2021.
    lesson = make.lesson(student=cast.oda, starts_at=THURSDAY)
    answer = move(teacher, lesson, day="2021-03-28", time="03:30", place="hall")
    assert answer.status_code == 422
    assert "clocks are put forward" in answer.content.decode()
    assert 'value="hall"' in answer.content.decode()


def test_what_stands_in_the_way_is_told_with_three_free_times(cast: Cast, teacher):
    lesson = make.lesson(student=cast.oda, starts_at=THURSDAY)
    make.lesson(student=cast.ilmari, starts_at=THURSDAY + timedelta(days=1), minutes=60)
    answer = teacher.get(reverse("check-time", args=[lesson.pk]), {"to": "2020-11-06T15:30"})
    assert list(answer.context["tried"].against) == [
        "overlaps with Ilmari Lindqvist, 15:00–16:00",
        "one family at two lessons at once: Ilmari Lindqvist, 15:00–16:00",
    ]
    nearest = [f"{start.astimezone(HELSINKI):%a %H:%M}" for start in answer.context["tried"].nearest]
    assert nearest == ["Fri 16:00", "Fri 16:15", "Fri 16:30"]
    page = move(teacher, lesson, time="15:30")
    assert "overlaps with Ilmari Lindqvist" in said(page), "it is told, and the teacher decides"


def test_only_trying_a_time_moves_nothing(cast: Cast, teacher):
    lesson = make.lesson(student=cast.oda, starts_at=THURSDAY)
    answer = move(teacher, lesson, **{"try": "1"})
    lesson.refresh_from_db()
    assert lesson.starts_at == THURSDAY
    assert "Nothing stands in the way." in answer.content.decode()


def test_a_way_home_that_is_too_short_a_holiday_and_hours_are_told(cast: Cast, teacher):
    lesson = make.lesson(student=cast.oda, starts_at=THURSDAY, where="home", minutes=30)
    make.lesson(student=cast.ravi, starts_at=THURSDAY + timedelta(days=1))
    Holiday.objects.create(studio=cast.studio, name="Off", first_day=date(2020, 11, 6), last_day=date(2020, 11, 6))
    FreeHours.objects.create(studio=cast.studio, student=cast.oda, weekday=4, begins=time(12), ends=time(13))
    FreeHours.objects.create(studio=cast.studio, weekday=4, begins=time(9), ends=time(13))
    answer = teacher.get(reverse("check-time", args=[lesson.pk]), {"to": "2020-11-06T14:20"})
    assert list(answer.context["tried"].against) == [
        "only 10 minutes on the way between this and Ravi Menon, 15:00–15:45",
        "the studio is closed that day",
        "outside your free hours",
        "outside the free hours of Oda Lindqvist",
    ]


def test_no_free_time_is_offered_in_the_past_or_on_a_closed_day(cast: Cast, teacher):
    lesson = make.lesson(student=cast.oda, starts_at=THURSDAY)
    Holiday.objects.create(studio=cast.studio, name="Off", first_day=date(2020, 11, 5), last_day=date(2020, 11, 30))
    tried = teacher.get(reverse("check-time", args=[lesson.pk]), {"to": "2020-11-04T08:00"}).context["tried"]
    assert tried.nearest
    assert all(start >= NOW and start.astimezone(HELSINKI).date() == date(2020, 11, 4) for start in tried.nearest)


@pytest.mark.parametrize("to", ["", "tomorrow", "2020-02-31T10:00", "9999-01-01T10:00", "0001-01-01T00:00"])
def test_a_lesson_is_not_moved_to_what_is_no_time(cast: Cast, teacher, to: str):
    lesson = make.lesson(student=cast.oda, starts_at=THURSDAY)
    assert teacher.post(reverse("move-lesson", args=[lesson.pk]), {"to": to}).status_code == 404
    assert teacher.get(reverse("check-time", args=[lesson.pk]), {"to": to}).status_code == 200
    assert teacher.get(reverse("change-lesson", args=[lesson.pk]), {"to": to}).status_code == 200


def test_moving_leads_back_to_no_strange_place(cast: Cast, teacher):
    lesson = make.lesson(student=cast.oda, starts_at=THURSDAY)
    data = {"to": "2020-11-06T15:00", "back": "https://elsewhere.example/"}
    assert teacher.post(reverse("move-lesson", args=[lesson.pk]), data)["Location"].startswith("/week/")


def test_a_cancelled_lesson_can_take_place_after_all(cast: Cast, teacher):
    lesson = make.lesson(student=cast.oda, starts_at=THURSDAY)
    answer = teacher.post(reverse("cancel-lesson", args=[lesson.pk]), {"attendance": "teacher"}, follow=True)
    lesson.refresh_from_db()
    assert (lesson.attendance, lesson.cancelled_at) == ("teacher", NOW)
    assert "This lesson is cancelled" in teacher.get(reverse("change-lesson", args=[lesson.pk])).content.decode()
    teacher.post(undo_of(answer))
    lesson.refresh_from_db()
    assert (lesson.attendance, lesson.cancelled_at) == ("", None)
    assert teacher.post(reverse("cancel-lesson", args=[lesson.pk]), {"attendance": "present"}).status_code == 404


# Weekly lessons


def fields(cast: Cast, **given) -> dict[str, object]:
    return {
        "students": [cast.oda.pk],
        "first_day": "2020-11-05",
        "at": "15:00",
        "minutes": 45,
        "repeats": "weekly",
        "ends": "never",
        "where": "studio",
        **given,
    }


def test_the_page_of_weekly_lessons_teaches_what_they_are(cast: Cast, teacher):
    page = teacher.get(reverse("slots")).content.decode()
    assert "written down once" in page
    assert_clean(page)


def test_a_weekly_lesson_is_made_and_taken_back(cast: Cast, teacher):
    answer = teacher.post(reverse("new-slot"), fields(cast), follow=True)
    assert "26 lessons are laid out" in said(answer)
    assert "every week on Thursday" in answer.content.decode()
    teacher.post(undo_of(answer))
    assert not Lesson.objects.exists()


@pytest.mark.parametrize(
    ("given", "rule"),
    [
        ({"repeats": "fortnightly"}, "FREQ=WEEKLY;INTERVAL=2"),
        ({"repeats": "monthly"}, "FREQ=MONTHLY;BYDAY=1TH"),
        ({"repeats": "monthly", "first_day": "2020-11-30"}, "FREQ=MONTHLY;BYDAY=-1MO"),
        ({"repeats": "once"}, ""),
        ({"ends": "day", "until": "2020-12-31"}, "FREQ=WEEKLY;UNTIL=20201231"),
        ({"ends": "count", "count": 10}, "FREQ=WEEKLY;COUNT=10"),
        ({"repeats": "typed", "rule": "rrule:freq=monthly;bymonthday=-1"}, "FREQ=MONTHLY;BYMONTHDAY=-1"),
    ],
)
def test_the_form_says_rules_as_the_standard_does(cast: Cast, teacher, given, rule: str):
    teacher.post(reverse("new-slot"), fields(cast, **given))
    assert Slot.objects.get().rule == rule


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"students": []}, "students", "needs a student"),
        ({"ends": "day"}, "until", "Until which day?"),
        ({"ends": "day", "until": "2020-11-01"}, "until", "before the first"),
        ({"ends": "count"}, "count", "After how many"),
        ({"in_terms": "on"}, "in_terms", "No terms"),
        ({"repeats": "typed", "rule": ""}, "rule", "no part of a rule"),
        ({"repeats": "typed", "rule": "FREQ=HOURLY"}, "rule", "time of day"),
        ({"repeats": "typed", "rule": "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30"}, "rule", "never falls"),
        ({"repeats": "typed", "rule": "FREQ=MONTHLY;BYDAY=5MO;BYMONTHDAY=1"}, "rule", "never falls"),
        ({"minutes": -30}, "minutes", "greater than or equal to 5"),
        ({"first_day": "9999-12-31"}, "first_day", "too far away"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(cast: Cast, teacher, given, field: str, words: str):
    answer = teacher.post(reverse("new-slot"), fields(cast, place="hall", **given))
    assert answer.status_code == 422
    assert words in str(answer.context["form"].errors[field])
    assert 'value="hall"' in answer.content.decode()
    assert not Slot.objects.exists()


def test_a_slot_on_the_31st_says_what_it_is(cast: Cast, teacher):
    answer = teacher.post(
        reverse("new-slot"), fields(cast, repeats="typed", rule="FREQ=MONTHLY;BYMONTHDAY=31"), follow=True
    )
    assert "every month on day 31" in answer.content.decode()
    assert [lesson.starts_at.month for lesson in Lesson.objects.order_by("starts_at")] == [12, 1, 3]


def test_lessons_that_stand_in_the_way_are_told_after_making_a_slot(cast: Cast, teacher):
    make.lesson(student=cast.ravi, starts_at=THURSDAY + timedelta(weeks=1, minutes=30))
    answer = teacher.post(reverse("new-slot"), fields(cast), follow=True)
    assert "12 November: overlaps with Ravi Menon, 15:30–16:15" in said(answer)


def test_a_change_keeps_the_past_and_can_be_undone(cast: Cast, teacher, monkeypatch):
    slot = slot_of(cast)
    monkeypatch.setattr(timezone, "now", lambda: NOW + timedelta(days=9))
    page = teacher.get(reverse("change-slot", args=[slot.pk]))
    assert page.context["form"].initial["first_day"] == date(2020, 11, 19)
    assert_clean(page.content.decode())
    data = fields(cast, first_day="2020-11-24", at="17:00")
    answer = teacher.post(reverse("change-slot", args=[slot.pk]), data, follow=True)
    assert "24 November" in said(answer)
    hours = [lesson.starts_at.astimezone(HELSINKI).hour for lesson in Lesson.objects.order_by("starts_at")]
    assert hours[:4] == [15, 15, 15, 17]
    teacher.post(undo_of(answer))
    assert {lesson.starts_at.astimezone(HELSINKI).hour for lesson in Lesson.objects.all()} == {15}


def test_a_form_that_was_opened_before_another_change_makes_no_second_lesson(cast: Cast, teacher, monkeypatch):
    slot = slot_of(cast)
    monkeypatch.setattr(timezone, "now", lambda: NOW + timedelta(days=9))
    known = teacher.get(reverse("change-slot", args=[slot.pk])).context["form"]["known"].value()
    data = fields(cast, first_day="2020-11-24", at="17:00", known=known)
    assert teacher.post(reverse("change-slot", args=[slot.pk]), data).status_code == 302
    answer = teacher.post(reverse("change-slot", args=[slot.pk]), data)
    assert answer.status_code == 422
    assert "changed in another window" in answer.content.decode()
    assert Slot.objects.count() == 2


def test_what_stays_because_it_holds_something_is_told(cast: Cast, teacher):
    slot = slot_of(cast)
    Lesson.objects.filter(pk=slot.lessons.last().pk).update(notes="Bring the duet.")
    answer = teacher.post(reverse("end-slot", args=[slot.pk]), {"last": "2020-11-12"}, follow=True)
    assert "These lessons stay" in said(answer)
    assert "Oda Lindqvist, 10 December, 15:00" in said(answer)
    assert Lesson.objects.count() == 3


def test_ten_more_weekly_lessons_add_no_query(cast: Cast, teacher, count_queries):
    slot_of(cast)
    before = count_queries(teacher, reverse("slots"))
    for number in range(10):
        slot_of(cast, cast.oda, cast.ravi, at=time(8 + number))
    assert count_queries(teacher, reverse("slots")) == before <= 12


# Days


def test_a_holiday_is_made_changed_and_taken_out(cast: Cast, teacher):
    slot_of(cast)
    data = {"holiday-name": "Off", "holiday-first_day": "2020-11-09", "holiday-last_day": "2020-11-13"}
    answer = teacher.post(reverse("new-holiday"), data, follow=True)
    assert "Lessons lifted out: 1." in said(answer)
    holiday = Holiday.objects.get()
    change = {"name": "Off", "first_day": "2020-11-09", "last_day": "2020-11-20"}
    teacher.post(reverse("change-holiday", args=[holiday.pk]), change)
    assert Lesson.objects.count() == 4
    answer = teacher.post(reverse("remove-holiday", args=[holiday.pk]), follow=True)
    assert Lesson.objects.count() == 6
    teacher.post(undo_of(answer))
    assert (Lesson.objects.count(), Holiday.objects.get().name) == (4, "Off")


@pytest.mark.parametrize("kind", ["holiday", "term"])
def test_days_that_end_before_they_begin_are_refused(cast: Cast, teacher, kind: str):
    data = {"name": "Off", "first_day": "2020-11-13", "last_day": "2020-11-09"}
    answer = teacher.post(reverse(f"new-{kind}"), data)
    assert answer.status_code == 422
    assert "lies before the first" in answer.content.decode()
    assert not Holiday.objects.exists()
    assert not Term.objects.exists()


def test_an_absence_lifts_lessons_out_and_taken_out_brings_them_back(cast: Cast, teacher):
    slot_of(cast)
    url = reverse("absences", args=[cast.oda.pk])
    assert "local law decides" in teacher.get(url).content.decode()
    teacher.post(url, {"first_day": "2020-11-09", "last_day": "2020-11-13", "reason": ""})
    assert Lesson.objects.count() == 5
    answer = teacher.post(reverse("remove-absence", args=[Absence.objects.get().pk]), follow=True)
    assert Lesson.objects.count() == 6
    teacher.post(undo_of(answer))
    assert Lesson.objects.count() == 5


def test_the_time_on_the_way_is_kept(cast: Cast, teacher):
    teacher.post(reverse("keep-travel"), {"travel_minutes": 40})
    assert Timetable.objects.get().travel_minutes == 40
    assert teacher.post(reverse("keep-travel"), {"travel_minutes": 9999}).status_code == 422


# Free hours, and finding a time


def test_free_hours_are_typed_as_a_line_a_day(cast: Cast, teacher):
    url = reverse("students-free-hours", args=[cast.oda.pk])
    teacher.post(url, {"day0": "15-18:30, 19–20", "day5": "10-12"})
    assert list(FreeHours.objects.values_list("student", "weekday", "begins", "ends")) == [
        (cast.oda.pk, 0, time(15), time(18, 30)),
        (cast.oda.pk, 0, time(19), time(20)),
        (cast.oda.pk, 5, time(10), time(12)),
    ]
    assert 'value="15:00–18:30, 19:00–20:00"' in teacher.get(url).content.decode()


def test_hours_that_do_not_read_are_refused_and_the_others_stay_typed(cast: Cast, teacher):
    url = reverse("free-hours")
    answer = teacher.post(url, {"day0": "18-15", "day1": "afternoon", "day2": "25-26", "day3": "9-12"})
    assert answer.status_code == 422
    page = answer.content.decode()
    for words in ("ends before it begins", "does not read as hours", "not on the clock", 'value="9-12"'):
        assert words in page
    assert not FreeHours.objects.exists()


def test_a_guardian_writes_her_childs_hours_and_nobody_elses(cast: Cast, logged_in):
    guardian = logged_in(cast.birger.user)
    guardian.post(reverse("students-free-hours", args=[cast.ilmari.pk]), {"day0": "15-16"})
    assert FreeHours.objects.get().student == cast.ilmari
    assert guardian.post(reverse("students-free-hours", args=[cast.ravi.pk]), {"day0": "15-16"}).status_code == 404


def test_a_free_time_is_where_all_hours_meet_and_nothing_stands(cast: Cast, teacher):
    for student, begins, ends in ((None, time(9), time(17)), (cast.oda, time(15), time(18))):
        FreeHours.objects.create(studio=cast.studio, student=student, weekday=3, begins=begins, ends=ends)
    make.lesson(student=cast.ravi, starts_at=THURSDAY, minutes=45)
    asked = {"students": cast.oda.pk, "minutes": 45, "where": "studio", "first": "2020-11-04"}
    answer = teacher.get(reverse("find-time"), asked)
    found = answer.context["found"]
    days = [(day, [(f"{one.begin:%H:%M}", f"{one.end:%H:%M}") for one in free]) for day, free in found.days]
    assert days == [(date(2020, 11, 5), [("15:45", "17:00")]), (date(2020, 11, 12), [("15:00", "17:00")])]
    assert [start.weeks for start in found.days[0][1][0].starts] == [12, 12, 12]
    assert_clean(answer.content.decode())


def test_a_free_time_is_planned_once_or_every_week(cast: Cast, teacher):
    data = {
        "students": [cast.oda.pk],
        "minutes": 45,
        "where": "online",
        "to": "2020-11-05T15:00:00+02:00",
        "how": "once",
    }
    answer = teacher.post(reverse("plan-found"), data, follow=True)
    assert Lesson.objects.get().starts_at == THURSDAY
    teacher.post(undo_of(answer))
    assert not Lesson.objects.exists()
    teacher.post(reverse("plan-found"), data | {"how": "weekly"})
    assert (Slot.objects.get().rule, Slot.objects.get().at, Lesson.objects.count()) == ("FREQ=WEEKLY", time(15), 26)


def test_finding_a_time_needs_no_more_queries_for_more_students(cast: Cast, teacher, count_queries):
    def url(*students) -> str:
        asked = "&".join(f"students={student.pk}" for student in students)
        return f"{reverse('find-time')}?{asked}&minutes=45&where=studio&first=2020-11-04"

    before = count_queries(teacher, url(cast.oda))
    for number in range(10):
        slot_of(cast, make.student(studio=cast.studio, name=f"S{number}"), at=time(8 + number))
        FreeHours.objects.create(studio=cast.studio, student=cast.ravi, weekday=3, begins=time(9), ends=time(17))
    assert count_queries(teacher, url(cast.oda, cast.ravi, cast.ilmari)) == before <= 12


def test_a_move_of_the_studio_next_door_is_not_undone_here(cast: Cast, logged_in):
    lesson = make.lesson(student=cast.oda, starts_at=THURSDAY)
    token = planning.move_lesson(lesson=lesson, starts_at=THURSDAY + timedelta(days=1), at=NOW)
    assert logged_in(cast.other_teacher).post(reverse("undo-move", args=[token])).status_code == 404
