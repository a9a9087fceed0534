"""Weekly lessons: laid out as rows, changed from a week on, ended, taken out and brought back; days without lessons."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core import signing

from lessons import planning, scheduling
from lessons.attending import mark_attendance
from lessons.laying_out import lay_out, lay_out_ahead
from lessons.models import Absence, Holiday, Lesson, Notice, Slot
from lessons.recurrence import BadRule
from lessons.scheduling import SlotPlan
from studio.models import Term
from tests import make
from tests.people import Cast

# A Wednesday in winter time; Helsinki is two hours ahead of UTC.
NOW = datetime(2020, 11, 4, 10, 0, tzinfo=UTC)
HELSINKI = ZoneInfo("Europe/Helsinki")


def plan(*students, **given) -> SlotPlan:
    fields = {"first_day": date(2020, 11, 5), "at": time(15), "minutes": 45, "rule": "FREQ=WEEKLY;COUNT=6"}
    return SlotPlan(**{"students": students, **fields, **given})


def made(cast: Cast, *students, at: datetime = NOW, **given) -> Slot:
    return scheduling.make_slot(studio=cast.studio, plan=plan(*(students or [cast.oda]), **given), at=at)[0]


def days_of(student) -> list[str]:
    """The student's lessons that are not cancelled, as local days and times."""
    rows = student.lessons.held().order_by("starts_at")
    return [f"{row.starts_at.astimezone(HELSINKI):%d.%m. %H:%M}" for row in rows]


# Laying out


def test_a_slot_becomes_lessons_half_a_year_ahead(cast: Cast):
    made(cast, rule="FREQ=WEEKLY")
    rows = cast.oda.lessons.order_by("starts_at")
    assert rows.count() == 26
    assert rows.first().starts_at == datetime(2020, 11, 5, 13, 0, tzinfo=UTC)
    assert rows.last().starts_at == datetime(2021, 4, 29, 12, 0, tzinfo=UTC), "summer time by then"


def test_laying_out_again_changes_nothing(cast: Cast):
    made(cast, rule="FREQ=WEEKLY")
    before = list(Lesson.objects.order_by("pk").values())
    laid = lay_out(cast.studio, at=NOW)
    assert (laid.made, laid.removed, list(laid.kept)) == (0, 0, [])
    assert list(Lesson.objects.order_by("pk").values()) == before


def test_as_time_goes_on_the_clock_lays_out_more(cast: Cast):
    made(cast, rule="FREQ=WEEKLY")
    assert lay_out_ahead(cast.studio, NOW + timedelta(weeks=3)) == "3 lessons laid out"
    assert lay_out_ahead(cast.studio, NOW + timedelta(weeks=3)) == ""


def test_the_past_is_not_laid_out(cast: Cast):
    made(cast, first_day=date(2020, 9, 3), rule="FREQ=WEEKLY;UNTIL=20201119")
    assert days_of(cast.oda) == ["05.11. 15:00", "12.11. 15:00", "19.11. 15:00"]


def test_everyone_of_a_pair_has_a_lesson_and_one_who_left_has_none(cast: Cast):
    cast.ravi.left_on = date(2020, 10, 1)
    cast.ravi.save()
    made(cast, cast.oda, cast.ilmari, cast.ravi, rule="FREQ=WEEKLY;COUNT=2")
    assert days_of(cast.oda) == days_of(cast.ilmari) == ["05.11. 15:00", "12.11. 15:00"]
    assert days_of(cast.ravi) == []


def test_laying_out_leaves_another_studio_alone(cast: Cast):
    made(cast)
    lay_out(cast.next_door, at=NOW)
    assert Lesson.objects.filter(studio=cast.next_door).count() == 0
    assert cast.oda.lessons.count() == 6


def test_a_rule_that_never_falls_makes_no_slot(cast: Cast):
    with pytest.raises(BadRule):
        made(cast, rule="FREQ=MONTHLY;BYDAY=5MO;BYMONTHDAY=1")
    assert not Slot.objects.exists()


def test_the_first_day_is_that_of_the_first_lesson(cast: Cast):
    assert made(cast, rule="FREQ=WEEKLY;BYDAY=TU").first_day == date(2020, 11, 10)


# Days without lessons


def test_a_holiday_lifts_lessons_out_and_taken_out_brings_them_back(cast: Cast):
    made(cast)
    row = Holiday(studio=cast.studio, name="Week off", first_day=date(2020, 11, 9), last_day=date(2020, 11, 20))
    assert scheduling.keep_days(row=row, at=NOW).removed == 2
    assert days_of(cast.oda) == ["05.11. 15:00", "26.11. 15:00", "03.12. 15:00", "10.12. 15:00"]
    _, token = scheduling.remove_days(row=row, at=NOW)
    assert cast.oda.lessons.count() == 6
    scheduling.restore_days(studio=cast.studio, token=token, at=NOW)
    scheduling.restore_days(studio=cast.studio, token=token, at=NOW)
    assert (cast.oda.lessons.count(), Holiday.objects.count()) == (4, 1)


def test_a_lesson_that_holds_something_stays_through_a_holiday_and_is_told(cast: Cast):
    made(cast)
    second, third = cast.oda.lessons.order_by("starts_at")[1:3]
    make.assigned(lesson=second, passage=cast.passage)
    planning.move_lesson(lesson=third, starts_at=third.starts_at + timedelta(hours=1), at=NOW)
    row = Holiday(studio=cast.studio, name="Week off", first_day=date(2020, 11, 9), last_day=date(2020, 11, 20))
    laid = scheduling.keep_days(row=row, at=NOW)
    assert (laid.removed, [lesson.pk for lesson in laid.kept]) == (0, [second.pk, third.pk])
    assert cast.oda.lessons.count() == 6


@pytest.mark.parametrize("field", ["notes", "private_notes"])
def test_a_lesson_with_words_in_it_is_never_taken_away(cast: Cast, field: str):
    slot = made(cast)
    kept = cast.oda.lessons.order_by("starts_at")[2]
    Lesson.objects.filter(pk=kept.pk).update(**{field: "Sing it."})
    assert [lesson.pk for lesson in scheduling.remove_slot(slot=slot, at=NOW).kept] == [kept.pk]
    assert list(cast.oda.lessons.all()) == [kept]


def test_an_absence_lifts_out_the_lessons_of_one_student(cast: Cast):
    made(cast, cast.oda, cast.ilmari, rule="FREQ=WEEKLY;COUNT=2")
    row = Absence(studio=cast.studio, student=cast.oda, first_day=date(2020, 11, 12), last_day=date(2020, 11, 12))
    scheduling.keep_days(row=row, at=NOW)
    assert days_of(cast.oda) == ["05.11. 15:00"]
    assert days_of(cast.ilmari) == ["05.11. 15:00", "12.11. 15:00"]


def test_a_slot_in_terms_only_follows_the_terms(cast: Cast):
    term = Term(studio=cast.studio, name="Autumn", first_day=date(2020, 11, 1), last_day=date(2020, 11, 15))
    scheduling.keep_days(row=term, at=NOW)
    made(cast, in_terms=True)
    assert days_of(cast.oda) == ["05.11. 15:00", "12.11. 15:00"]
    term.last_day = date(2020, 11, 20)
    scheduling.keep_days(row=term, at=NOW)
    assert days_of(cast.oda) == ["05.11. 15:00", "12.11. 15:00", "19.11. 15:00"]


def test_the_lesson_of_today_that_has_begun_stays_when_a_holiday_comes(cast: Cast):
    made(cast, first_day=date(2020, 11, 4), at=datetime(2020, 11, 4, 6, 0, tzinfo=UTC))
    begun = datetime(2020, 11, 4, 13, 20, tzinfo=UTC)
    row = Holiday(studio=cast.studio, name="Off", first_day=date(2020, 11, 4), last_day=date(2020, 11, 11))
    scheduling.keep_days(row=row, at=begun)
    assert days_of(cast.oda)[0] == "04.11. 15:00"


# Changing


def test_a_change_from_a_week_on_leaves_the_past_alone(cast: Cast):
    slot = made(cast, at=datetime(2020, 11, 4, tzinfo=UTC))
    later = NOW + timedelta(weeks=2)
    changed = plan(cast.oda, first_day=date(2020, 11, 24), at=time(16, 30), rule="FREQ=WEEKLY;COUNT=3", minutes=60)
    now, laid, _ = scheduling.change_slot(slot=slot, plan=changed, at=later)
    assert now.follows == slot
    assert days_of(cast.oda) == [
        *("05.11. 15:00", "12.11. 15:00", "19.11. 15:00"),
        *("24.11. 16:30", "01.12. 16:30", "08.12. 16:30"),
    ]
    assert list(cast.oda.lessons.order_by("starts_at").values_list("minutes", flat=True)) == [45, 45, 45, 60, 60, 60]
    slot.refresh_from_db()
    assert slot.rule == "FREQ=WEEKLY;UNTIL=20201122"
    assert list(laid.kept) == []


def test_lessons_move_along_with_all_that_is_in_them(cast: Cast):
    slot = made(cast)
    third, fourth = cast.oda.lessons.order_by("starts_at")[2:4]
    make.assigned(lesson=third, passage=cast.passage)
    planning.move_lesson(lesson=fourth, starts_at=fourth.starts_at + timedelta(hours=3), at=NOW)
    changed = plan(cast.oda, first_day=date(2020, 11, 10), at=time(9), rule="FREQ=WEEKLY;COUNT=5")
    scheduling.change_slot(slot=slot, plan=changed, at=NOW)
    third.refresh_from_db()
    fourth.refresh_from_db()
    assert third.starts_at == datetime(2020, 11, 17, 7, 0, tzinfo=UTC)
    assert third.assignments.count() == 1
    assert fourth.starts_at == datetime(2020, 11, 26, 16, 0, tzinfo=UTC), "moved by hand: it keeps its own time"
    assert fourth.meant_for == datetime(2020, 11, 24, 7, 0, tzinfo=UTC)


def test_a_cancelled_lesson_stays_cancelled_when_the_slot_changes(cast: Cast):
    slot = made(cast)
    second = cast.oda.lessons.order_by("starts_at")[1]
    mark_attendance(lesson=second, attendance="teacher", at=NOW, by=cast.teacher)
    scheduling.change_slot(slot=slot, plan=plan(cast.oda, at=time(17)), at=NOW)
    assert days_of(cast.oda) == ["05.11. 17:00", *(f"{day} 17:00" for day in ("19.11.", "26.11.", "03.12.", "10.12."))]
    second.refresh_from_db()
    assert second.cancelled_at is not None


def test_a_slot_without_a_past_is_changed_in_place(cast: Cast):
    slot = made(cast)
    now, _, _ = scheduling.change_slot(slot=slot, plan=plan(cast.oda, at=time(17)), at=NOW)
    assert (now.pk, Slot.objects.count(), now.sequence) == (slot.pk, 1, 1)


def test_a_slot_that_moves_by_a_week_keeps_its_lessons_apart(cast: Cast):
    # Each lesson's new time is another's old one.
    slot = made(cast, rule="FREQ=DAILY;COUNT=10")
    scheduling.change_slot(
        slot=slot, plan=plan(cast.oda, first_day=date(2020, 11, 6), rule="FREQ=DAILY;COUNT=10"), at=NOW
    )
    assert len(days_of(cast.oda)) == len(set(days_of(cast.oda))) == 10
    assert days_of(cast.oda)[0] == "06.11. 15:00"


def test_a_change_can_be_undone(cast: Cast):
    slot = made(cast, at=datetime(2020, 11, 4, tzinfo=UTC))
    before = days_of(cast.oda)
    later = NOW + timedelta(weeks=2)
    changed = plan(cast.oda, first_day=date(2020, 11, 24), at=time(16, 30), rule="FREQ=WEEKLY;COUNT=3")
    now, _, token = scheduling.change_slot(slot=slot, plan=changed, at=later)
    scheduling.undo_slot(studio=cast.studio, token=token, at=later)
    assert days_of(cast.oda) == before
    now.refresh_from_db()
    assert now.removed_at is not None


def test_a_change_in_place_can_be_undone_with_its_students(cast: Cast):
    slot = made(cast)
    _, _, token = scheduling.change_slot(slot=slot, plan=plan(cast.oda, cast.ravi, at=time(17)), at=NOW)
    assert len(days_of(cast.ravi)) == 6
    scheduling.undo_slot(studio=cast.studio, token=token, at=NOW)
    assert days_of(cast.ravi) == []
    assert days_of(cast.oda)[0] == "05.11. 15:00"


def test_of_two_windows_that_change_a_slot_the_second_is_refused(cast: Cast):
    slot = made(cast)
    stale = Slot.objects.get(pk=slot.pk)
    later = NOW + timedelta(days=9)
    scheduling.change_slot(slot=slot, plan=plan(cast.oda, first_day=date(2020, 11, 24), at=time(17)), at=later)
    with pytest.raises(scheduling.ChangedSince):
        scheduling.change_slot(slot=stale, plan=plan(cast.oda, first_day=date(2020, 11, 24), at=time(18)), at=later)
    assert Slot.objects.count() == 2


def test_what_was_changed_again_is_not_undone(cast: Cast):
    slot = made(cast)
    slot, _, token = scheduling.change_slot(slot=slot, plan=plan(cast.oda, at=time(17)), at=NOW)
    scheduling.change_slot(slot=slot, plan=plan(cast.oda, at=time(18)), at=NOW)
    with pytest.raises(scheduling.ChangedSince):
        scheduling.undo_slot(studio=cast.studio, token=token, at=NOW)
    assert days_of(cast.oda)[0] == "05.11. 18:00"


def test_another_studio_undoes_nothing(cast: Cast):
    _, token = scheduling.end_slot(slot=made(cast), last=date(2020, 11, 12), at=NOW)
    with pytest.raises(Slot.DoesNotExist):
        scheduling.undo_slot(studio=cast.next_door, token=token, at=NOW)
    with pytest.raises(signing.BadSignature):
        scheduling.undo_slot(studio=cast.studio, token="made:up", at=NOW)


def test_a_slot_ends_with_a_day_and_goes_on_when_that_is_undone(cast: Cast):
    slot = made(cast)
    laid, token = scheduling.end_slot(slot=slot, last=date(2020, 11, 12), at=NOW)
    assert laid.removed == 4
    assert days_of(cast.oda) == ["05.11. 15:00", "12.11. 15:00"]
    scheduling.undo_slot(studio=cast.studio, token=token, at=NOW)
    assert cast.oda.lessons.count() == 6


def test_a_slot_that_is_taken_out_leaves_what_was_and_comes_back(cast: Cast):
    slot = made(cast, at=datetime(2020, 11, 4, tzinfo=UTC))
    later = NOW + timedelta(weeks=2)
    scheduling.remove_slot(slot=slot, at=later)
    assert days_of(cast.oda) == ["05.11. 15:00", "12.11. 15:00"]
    scheduling.restore_slot(slot=slot, at=later)
    assert cast.oda.lessons.count() == 6


def test_who_answers_for_the_student_is_told_once_of_a_changed_slot(cast: Cast):
    slot = made(cast)
    assert not Notice.objects.exists()
    scheduling.change_slot(slot=slot, plan=plan(cast.oda, at=time(17)), at=NOW)
    assert sorted(Notice.objects.values_list("to", flat=True)) == ["birger@example.org", "oda@example.org"]


def test_of_those_who_come_together_each_is_told_of_a_changed_slot(cast: Cast):
    slot = made(cast, cast.oda, cast.ravi)
    scheduling.change_slot(slot=slot, plan=plan(cast.oda, cast.ravi, at=time(17)), at=NOW)
    told = ["birger@example.org", "oda@example.org", "ravi@example.org", "sunita@example.org"]
    assert sorted(Notice.objects.values_list("to", flat=True)) == told


# Single lessons


def test_a_lesson_of_a_slot_that_is_taken_out_is_not_laid_out_again(cast: Cast):
    made(cast)
    second = cast.oda.lessons.order_by("starts_at")[1]
    token = planning.remove_lesson(lesson=second)
    lay_out(cast.studio, at=NOW)
    assert "12.11. 15:00" not in days_of(cast.oda)
    planning.restore_lesson(studio=cast.studio, token=token)
    lay_out(cast.studio, at=NOW)
    assert days_of(cast.oda).count("12.11. 15:00") == 1


def test_a_lesson_moves_with_all_who_come_to_it_and_goes_back(cast: Cast):
    made(cast, cast.oda, cast.ilmari)
    first = cast.oda.lessons.order_by("starts_at")[0]
    token = planning.move_lesson(lesson=first, starts_at=first.starts_at + timedelta(days=1), minutes=60, at=NOW)
    assert days_of(cast.oda)[0] == days_of(cast.ilmari)[0] == "06.11. 15:00"
    lay_out(cast.studio, at=NOW)
    assert cast.oda.lessons.count() == 6, "a moved lesson is still the slot's"
    planning.undo_move(studio=cast.studio, token=token, at=NOW)
    assert days_of(cast.ilmari)[0] == "05.11. 15:00"
    assert cast.ilmari.lessons.order_by("starts_at")[0].minutes == 45


def test_a_lesson_moved_onto_itself_stays_and_nobody_is_told(cast: Cast):
    lesson = make.lesson(student=cast.oda, starts_at=NOW + timedelta(days=2))
    assert planning.move_lesson(lesson=lesson, starts_at=lesson.starts_at, at=NOW) == ""
    assert not Notice.objects.exists()


def test_a_move_that_was_moved_on_is_not_undone(cast: Cast):
    lesson = make.lesson(student=cast.oda, starts_at=NOW + timedelta(days=2))
    token = planning.move_lesson(lesson=lesson, starts_at=NOW + timedelta(days=3), at=NOW)
    planning.move_lesson(lesson=lesson, starts_at=NOW + timedelta(days=4), at=NOW)
    with pytest.raises(planning.ChangedSince):
        planning.undo_move(studio=cast.studio, token=token, at=NOW)


def test_a_teacher_cancels_for_all_who_come_and_a_student_for_herself(cast: Cast):
    made(cast, cast.oda, cast.ilmari)
    first, second = cast.oda.lessons.order_by("starts_at")[:2]
    planning.cancel_lesson(lesson=first, attendance="teacher", at=NOW, by=cast.teacher)
    planning.cancel_lesson(lesson=second, attendance="in-time", at=NOW, by=cast.teacher)
    assert days_of(cast.oda)[0] == "19.11. 15:00"
    assert days_of(cast.ilmari)[0] == "12.11. 15:00"
    first.refresh_from_db()
    planning.uncancel_lesson(lesson=first, at=NOW, by=cast.teacher)
    assert days_of(cast.oda)[0] == days_of(cast.ilmari)[0] == "05.11. 15:00"


def test_two_who_come_together_once_are_one_meeting(cast: Cast):
    rows = planning.plan_meeting(
        students=[cast.oda, cast.ravi], starts_at=NOW + timedelta(days=2), minutes=60, where="online"
    )
    assert planning.mates(rows[0]).count() == 2
    lay_out(cast.studio, at=NOW)
    assert Lesson.objects.count() == 2


def test_what_was_set_by_hand_stays_when_the_slot_changes(cast: Cast):
    slot = made(cast)
    second = cast.oda.lessons.order_by("starts_at")[1]
    planning.move_lesson(lesson=second, starts_at=second.starts_at, minutes=90, at=NOW)
    scheduling.change_slot(slot=slot, plan=plan(cast.oda, minutes=60, place="hall"), at=NOW)
    assert list(cast.oda.lessons.order_by("starts_at").values_list("minutes", "place")) == [
        *((60, "hall"), (90, "hall")),
        *[(60, "hall")] * 4,
    ]
