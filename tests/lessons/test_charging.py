"""What attendance and policy make of a lesson, in money. The policy's usual rules: common practice."""

from datetime import UTC, date, datetime, time
from fractions import Fraction

import pytest
from django.core.management import call_command

from lessons import attending, charging, credits
from lessons.models import Attendance, Holiday, Lesson, Policy, Slot
from studio.models import Billing, Charge, Term
from studio.tuition.balances import state_of
from tests import make
from tests.studio.tuition.make_tuition import SEPTEMBER, enrolment, plan

MONDAY = datetime(2020, 9, 7, 14, 0, tzinfo=UTC)
LATER = date(2020, 9, 30)
SEPTEMBER_2020 = (date(2020, 9, 1), date(2020, 9, 30))


def per_lesson(cast, **given):
    return enrolment(cast.oda, by=plan(cast.studio, per="lesson", minor=3000), **given)


def charged(cast, at: date = LATER) -> list[int]:
    return [charge.minor for charge in charging.charge_due(studio=cast.studio, at=at).charges]


@pytest.mark.parametrize(
    ("attendance", "amounts"),
    [
        (Attendance.UNSAID, []),
        (Attendance.PRESENT, [3000]),
        (Attendance.LATE, [3000]),
        (Attendance.CANCELLED_IN_TIME, [3000]),  # a make-up lesson is owed for it
        (Attendance.CANCELLED_LATE, [3000]),
        (Attendance.MISSED, [3000]),
        (Attendance.TEACHER_CANCELLED, []),
    ],
)
def test_the_usual_policy_turns_attendance_into_charges(cast, attendance: str, amounts: list[int]):
    per_lesson(cast)
    make.lesson(student=cast.oda, starts_at=MONDAY, attendance=attendance)
    assert charged(cast) == amounts


def test_the_studios_own_policy_has_the_word(cast):
    per_lesson(cast)
    Policy.objects.create(studio=cast.studio, rules={"present": "charge", "missed": "neither"})
    make.lesson(student=cast.oda, starts_at=MONDAY, attendance=Attendance.MISSED)
    assert charged(cast) == []


def test_a_make_up_lesson_is_not_charged_again(cast):
    per_lesson(cast)
    lost = make.lesson(student=cast.oda, starts_at=MONDAY)
    attending.mark_attendance(lesson=lost, attendance="in-time", at=MONDAY, by=None)
    [credit] = credits.credits_of(cast.oda, MONDAY)
    make_up = make.lesson(student=cast.oda, starts_at=MONDAY.replace(day=9), attendance=Attendance.PRESENT)
    Lesson.objects.filter(pk=make_up.pk).update(makes_up_for=lost)
    assert charged(cast) == [3000]
    assert Charge.objects.get().about == f"lesson-{lost.pk}"
    assert credit.lesson == lost


def test_a_lesson_booked_with_a_credit_is_not_charged_again(cast):
    per_lesson(cast)
    lost = make.lesson(student=cast.oda, starts_at=MONDAY)
    attending.mark_attendance(lesson=lost, attendance="in-time", at=MONDAY, by=None)
    [credit] = credits.credits_of(cast.oda, MONDAY)
    make_up = make.lesson(student=cast.oda, starts_at=MONDAY.replace(day=9), attendance=Attendance.PRESENT)
    credits.use(credit=credit, lesson=make_up, day=date(2020, 9, 9), by=None)
    assert charged(cast) == [3000]
    assert Charge.objects.get().about == f"lesson-{lost.pk}"
    credits.give_back(lesson=make_up, day=date(2020, 9, 9), by=None)
    assert charged(cast) == [3000]


def test_an_attendance_said_anew_makes_an_adjusting_entry(cast):
    row = per_lesson(cast)
    lesson = make.lesson(student=cast.oda, starts_at=MONDAY)
    attending.mark_attendance(lesson=lesson, attendance="present", at=MONDAY, by=None)
    assert charged(cast) == [3000]
    attending.mark_attendance(lesson=lesson, attendance="teacher", at=MONDAY, by=None)
    assert charged(cast) == [-3000]
    assert charged(cast) == []
    assert state_of(row.account, on=LATER).minor == 0


def test_a_lesson_late_in_the_evening_is_charged_on_the_studios_day(cast):
    """22:30 UTC is half past one of the next day in Helsinki in summer."""
    per_lesson(cast)
    make.lesson(student=cast.oda, starts_at=datetime(2020, 9, 7, 22, 30, tzinfo=UTC), attendance=Attendance.PRESENT)
    assert charged(cast, at=date(2020, 9, 7)) == []
    assert charged(cast, at=date(2020, 9, 8)) == [3000]
    assert Charge.objects.get().day == date(2020, 9, 8)


def slot(student, weekday: int = 0, **given) -> Slot:
    """From the first Monday of September 2020, or so many days later."""
    row = Slot.objects.create(
        studio=student.studio, first_day=date(2020, 9, 7 + weekday), at=time(17), rule="FREQ=WEEKLY", **given
    )
    row.students.add(student)
    return row


def test_a_month_by_lesson_days_counts_the_students_weekdays(cast):
    """September 2020 has four Mondays: 7, 14, 21, 28. From the 15th on two of four; with a holiday on the 21st one of
    three."""
    by = plan(cast.studio, divided="lessons")
    row = enrolment(cast.oda, by=by, first_day=date(2020, 9, 15))
    part = (date(2020, 9, 15), date(2020, 9, 30))
    assert charging.by_lesson_days(cast.studio)(row, SEPTEMBER_2020, part) == Fraction(16, 30)  # no slot: by days
    slot(cast.oda)
    assert charging.by_lesson_days(cast.studio)(row, SEPTEMBER_2020, part) == Fraction(1, 2)
    Holiday.objects.create(studio=cast.studio, name="Autumn", first_day=date(2020, 9, 20), last_day=date(2020, 9, 22))
    assert charging.by_lesson_days(cast.studio)(row, SEPTEMBER_2020, part) == Fraction(1, 3)
    assert charged(cast) == [2667]


def test_a_slot_that_begins_later_or_has_ended_leaves_the_share_of_a_month_as_it_was(cast):
    """Mondays from the 15th on are two of four, as above; Wednesdays, which she had in spring and has again from
    November on, would make it four of nine."""
    row = enrolment(cast.oda, by=plan(cast.studio, divided="lessons"), first_day=date(2020, 9, 15))
    part = (date(2020, 9, 15), date(2020, 9, 30))
    slot(cast.oda)
    Slot.objects.create(
        studio=cast.studio, first_day=date(2020, 4, 1), at=time(17), rule="FREQ=WEEKLY;UNTIL=20200624"
    ).students.add(cast.oda)
    Slot.objects.create(studio=cast.studio, first_day=date(2020, 11, 4), at=time(17), rule="FREQ=WEEKLY").students.add(
        cast.oda
    )
    assert charging.by_lesson_days(cast.studio)(row, SEPTEMBER_2020, part) == Fraction(1, 2)


def test_a_slot_in_terms_counts_the_days_of_terms(cast):
    """Mondays in the term from the 14th: 14, 21, 28; from the 22nd on one of three."""
    row = enrolment(cast.oda, first_day=date(2020, 9, 22))
    slot(cast.oda, in_terms=True)
    Term.objects.create(studio=cast.studio, name="Autumn", first_day=date(2020, 9, 14), last_day=date(2020, 12, 1))
    part = (date(2020, 9, 22), date(2020, 9, 30))
    assert charging.by_lesson_days(cast.studio)(row, SEPTEMBER_2020, part) == Fraction(1, 3)


def test_a_rule_with_two_weekdays_counts_both(cast):
    row = slot(cast.oda)
    row.rule = "FREQ=WEEKLY;BYDAY=TU,TH"
    assert charging.weekdays_of(row) == {1, 3}


def test_the_daily_job_charges_and_says_so_once(cast, capsys):
    row = enrolment(cast.oda, first_day=SEPTEMBER)
    Billing.objects.create(studio=cast.studio)
    now = datetime(2020, 9, 30, 21, 30, tzinfo=UTC)  # the first of October in Helsinki
    assert charging.due(cast.studio, now) == "2 charges, €160.00 in all"
    assert charging.due(cast.studio, now) == ""
    assert state_of(row.account, on=LATER).minor == 8000


def test_a_studio_that_wants_to_look_first_is_not_charged_by_the_job(cast):
    enrolment(cast.oda)
    Billing.objects.create(studio=cast.studio, by_itself=False)
    assert charging.due(cast.studio, MONDAY) == ""
    assert not Charge.objects.exists()


def test_the_command_that_the_clock_calls_writes_charges(cast, capsys):
    enrolment(cast.oda, first_day=date.today().replace(day=1))
    call_command("due")
    assert Charge.objects.count() == 1
    assert "tuition" in capsys.readouterr().out


def test_lessons_that_wait_for_their_attendance_are_counted(cast):
    per_lesson(cast)
    make.lesson(student=cast.oda, starts_at=MONDAY)
    make.lesson(student=cast.ravi, starts_at=MONDAY)
    assert charging.preview(studio=cast.studio, at=LATER).unsaid == 1
    assert charging.preview(studio=cast.studio, at=date(2020, 9, 6)).unsaid == 0
