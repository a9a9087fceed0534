"""Attendance, and the make-up lessons that come of it. What follows from each attendance is common practice."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core import signing
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from lessons import credits, planning
from lessons.attending import (
    CreditSpent,
    book_make_up,
    credits_of,
    forget_credits,
    mark_attendance,
    policy_of,
    proposed_cancellation,
    undo_attendance,
)
from lessons.making_up import bring_back, take_out
from lessons.models import Attendance, Consequence, CreditEntry, Lesson, Policy
from tests import make
from tests.people import Cast, gather

NOW = datetime(2020, 11, 20, 10, 0, tzinfo=UTC)  # a Friday; the cast's lesson is on the Monday after, 14:00 UTC
LATER = datetime(2020, 12, 7, 14, 0, tzinfo=UTC)


def say(cast: Cast, attendance: str, lesson: Lesson | None = None, *, at: datetime = NOW, **more) -> str:
    return mark_attendance(lesson=lesson or cast.lesson, attendance=attendance, at=at, by=cast.teacher, **more)


def kinds(cast: Cast) -> list[tuple[str, int]]:
    return list(cast.oda.credit_entries.order_by("pk").values_list("kind", "lessons"))


def balance(cast: Cast) -> int:
    return credits.balance_of(cast.oda)


@pytest.mark.parametrize(
    ("attendance", "owed"),
    [
        (Attendance.PRESENT, 0),
        (Attendance.LATE, 0),
        (Attendance.CANCELLED_IN_TIME, 1),
        (Attendance.CANCELLED_LATE, 0),
        (Attendance.MISSED, 0),
        (Attendance.TEACHER_CANCELLED, 0),
    ],
)
def test_by_the_usual_policy_only_a_cancellation_in_time_is_owed(cast: Cast, attendance: Attendance, owed: int):
    say(cast, attendance)
    assert balance(cast) == owed


def test_the_studios_own_rule_goes_before_the_usual_one(cast: Cast):
    Policy.objects.create(studio=cast.studio, rules={Attendance.TEACHER_CANCELLED: Consequence.CREDIT})
    say(cast, Attendance.TEACHER_CANCELLED)
    assert balance(cast) == 1


def test_the_notice_is_counted_in_hours_before_the_lesson(cast: Cast):
    policy = Policy(studio=cast.studio, notice_hours=24)
    begins = cast.lesson.starts_at
    a_day = timedelta(hours=24)
    assert proposed_cancellation(cast.lesson, policy, at=begins - a_day) == Attendance.CANCELLED_IN_TIME
    late = begins - a_day + timedelta(seconds=1)
    assert proposed_cancellation(cast.lesson, policy, at=late) == Attendance.CANCELLED_LATE
    assert proposed_cancellation(cast.lesson, policy, at=begins + a_day) == Attendance.CANCELLED_LATE


def test_the_same_said_twice_writes_one_line(cast: Cast):
    assert say(cast, Attendance.CANCELLED_IN_TIME)
    assert say(cast, Attendance.CANCELLED_IN_TIME) == ""
    assert kinds(cast) == [("earned", 1)]


def test_a_correction_is_a_line_of_its_own_and_nothing_is_edited(cast: Cast):
    say(cast, Attendance.CANCELLED_IN_TIME)
    before = CreditEntry.objects.values().get()
    say(cast, Attendance.PRESENT)
    assert kinds(cast) == [("earned", 1), ("corrected", -1)]
    assert CreditEntry.objects.values().first() == before
    say(cast, Attendance.CANCELLED_IN_TIME)
    assert kinds(cast) == [("earned", 1), ("corrected", -1), ("corrected", 1)]
    assert balance(cast) == 1


def test_a_cancelled_lesson_keeps_its_row_and_counts_as_a_change(cast: Cast):
    say(cast, Attendance.CANCELLED_LATE)
    cast.lesson.refresh_from_db()
    assert (cast.lesson.cancelled_at, cast.lesson.sequence) == (NOW, 1)
    assert not Lesson.objects.held().exists()
    say(cast, Attendance.PRESENT)
    cast.lesson.refresh_from_db()
    assert (cast.lesson.cancelled_at, cast.lesson.sequence) == (None, 2)


def test_minutes_are_kept_for_one_who_came_late_only(cast: Cast):
    say(cast, Attendance.LATE, minutes_late=10)
    cast.lesson.refresh_from_db()
    assert cast.lesson.minutes_late == 10
    say(cast, Attendance.PRESENT, minutes_late=10)
    cast.lesson.refresh_from_db()
    assert cast.lesson.minutes_late is None


def test_undo_says_again_what_was_said_before(cast: Cast):
    say(cast, Attendance.LATE, minutes_late=5)
    token = say(cast, Attendance.CANCELLED_IN_TIME)
    undo_attendance(studio=cast.studio, token=token, at=NOW, by=cast.teacher)
    cast.lesson.refresh_from_db()
    assert (cast.lesson.attendance, cast.lesson.minutes_late, cast.lesson.cancelled_at) == ("late", 5, None)
    assert balance(cast) == 0


def test_undo_is_not_for_another_studio_and_not_forged(cast: Cast):
    token = say(cast, Attendance.MISSED)
    with pytest.raises(Lesson.DoesNotExist):
        undo_attendance(studio=cast.next_door, token=token, at=NOW, by=None)
    with pytest.raises(signing.BadSignature):
        undo_attendance(studio=cast.studio, token="made:up:here", at=NOW, by=None)


# Make-up lessons


def booked(cast: Cast) -> Lesson:
    """A lesson booked with what Oda's cancelled lesson earned."""
    say(cast, Attendance.CANCELLED_IN_TIME)
    credit = credits_of(cast.oda, NOW).get()
    return book_make_up(credit=credit, starts_at=LATER, minutes=45, at=NOW, by=cast.teacher)


def test_a_make_up_lesson_uses_the_credit_and_names_the_lesson(cast: Cast):
    lesson = booked(cast)
    assert lesson.makes_up_for == cast.lesson
    assert kinds(cast) == [("earned", 1), ("used", -1)]
    assert not credits_of(cast.oda, NOW).exists()


def test_a_credit_is_used_once(cast: Cast):
    booked(cast)
    credit = CreditEntry.objects.get(kind="earned")
    with pytest.raises(CreditSpent):
        book_make_up(credit=credit, starts_at=LATER, minutes=45, at=NOW, by=cast.teacher)
    assert Lesson.objects.count() == 2, "the lesson that could not be booked is not planned either"


def test_a_credit_is_not_another_students(cast: Cast):
    say(cast, Attendance.CANCELLED_IN_TIME)
    credit = credits_of(cast.oda, NOW).get()
    with pytest.raises(CreditSpent):
        book_make_up(credit=credit, student=cast.ravi, starts_at=LATER, minutes=45, at=NOW, by=cast.teacher)


def test_the_oldest_credit_comes_first(cast: Cast):
    second = make.lesson(student=cast.oda, starts_at=LATER)
    say(cast, Attendance.CANCELLED_IN_TIME, second, at=NOW)
    say(cast, Attendance.CANCELLED_IN_TIME, at=NOW - timedelta(days=2))
    assert [credit.lesson for credit in credits_of(cast.oda, NOW)] == [cast.lesson, second]


def test_a_make_up_lesson_cancelled_in_time_gives_its_credit_back_and_earns_no_second(cast: Cast):
    lesson = booked(cast)
    say(cast, Attendance.CANCELLED_IN_TIME, lesson)
    assert kinds(cast) == [("earned", 1), ("used", -1), ("corrected", 1)]
    say(cast, Attendance.TEACHER_CANCELLED, lesson)
    assert balance(cast) == 1
    say(cast, Attendance.PRESENT, lesson)
    assert kinds(cast)[-1] == ("used", -1)
    assert balance(cast) == 0


def test_a_make_up_lesson_cancelled_late_stays_used(cast: Cast):
    say(cast, Attendance.CANCELLED_LATE, booked(cast))
    assert balance(cast) == 0


def test_a_make_up_lesson_whose_credit_went_elsewhere_is_an_ordinary_lesson_when_it_is_held_after_all(cast: Cast):
    first = booked(cast)
    say(cast, Attendance.TEACHER_CANCELLED, first)
    credit = credits_of(cast.oda, NOW).get()
    book_make_up(credit=credit, starts_at=LATER + timedelta(days=1), minutes=45, at=NOW, by=cast.teacher)
    say(cast, Attendance.PRESENT, first)
    first.refresh_from_db()
    assert first.makes_up_for is None
    assert balance(cast) == 0


def test_when_the_missed_lesson_was_held_after_all_its_make_up_is_an_ordinary_lesson(cast: Cast):
    lesson = booked(cast)
    say(cast, Attendance.PRESENT)
    lesson.refresh_from_db()
    assert lesson.makes_up_for is None
    assert balance(cast) == 0
    say(cast, Attendance.CANCELLED_IN_TIME, lesson)
    assert balance(cast) == 1, "as an ordinary lesson it earns its own"


def test_taking_a_make_up_lesson_out_opens_its_credit_again(cast: Cast):
    lesson = booked(cast)
    credit = forget_credits(lesson=lesson, at=NOW, by=cast.teacher)
    lesson.delete()
    assert credits_of(cast.oda, NOW).get() == credit
    assert balance(cast) == 1


def test_a_make_up_lesson_that_was_taken_out_by_mistake_comes_back_as_one(cast: Cast):
    lesson = booked(cast)
    token = take_out(lesson=lesson, at=NOW, by=cast.teacher)
    assert balance(cast) == 1
    back = bring_back(studio=cast.studio, token=token, at=NOW, by=cast.teacher)
    assert back.makes_up_for == cast.lesson
    assert balance(cast) == 0


@pytest.mark.parametrize("said", [Attendance.MISSED, Attendance.CANCELLED_IN_TIME])
def test_what_was_said_of_a_lesson_comes_back_with_it(cast: Cast, said: Attendance):
    say(cast, said)
    cast.lesson.refresh_from_db()
    owed = balance(cast)
    token = take_out(lesson=cast.lesson, at=NOW, by=cast.teacher)
    assert balance(cast) == 0
    back = bring_back(studio=cast.studio, token=token, at=NOW, by=cast.teacher)
    assert (back.attendance, back.cancelled_at) == (said, cast.lesson.cancelled_at)
    assert balance(cast) == owed


def test_it_comes_back_as_an_ordinary_lesson_where_its_credit_went_meanwhile(cast: Cast):
    token = take_out(lesson=booked(cast), at=NOW, by=cast.teacher)
    credits.correct(student=cast.oda, lessons=-1, at=NOW, by=cast.teacher, remark="")
    back = bring_back(studio=cast.studio, token=token, at=NOW, by=cast.teacher)
    assert back.makes_up_for is None
    assert balance(cast) == 0


def test_a_make_up_lesson_that_holds_work_is_not_taken_out_and_its_credit_stays_used(cast: Cast):
    lesson = booked(cast)
    make.assigned(lesson=lesson, passage=cast.passage)
    with pytest.raises(planning.StillHolds):
        take_out(lesson=lesson, at=NOW, by=cast.teacher)
    assert balance(cast) == 0


# Expiry


def test_a_credit_can_be_used_on_its_last_day_and_not_on_the_next(cast: Cast):
    Policy.objects.create(studio=cast.studio, credit_days=30)
    say(cast, Attendance.CANCELLED_IN_TIME)
    credit = CreditEntry.objects.get()
    after = {
        "credit": credit,
        "starts_at": datetime(2020, 12, 29, 13, 0, tzinfo=UTC),
        "minutes": 45,
        "by": cast.teacher,
    }
    with pytest.raises(credits.CreditSpent):
        book_make_up(at=datetime(2020, 12, 21, 10, 0, tzinfo=UTC), **after)
    assert book_make_up(at=datetime(2020, 12, 20, 10, 0, tzinfo=UTC), **after).makes_up_for == cast.lesson


def test_a_credit_holds_as_many_days_as_the_policy_says_and_lapses_once(cast: Cast):
    Policy.objects.create(studio=cast.studio, credit_days=30)
    say(cast, Attendance.CANCELLED_IN_TIME)
    assert CreditEntry.objects.get().expires_on == date(2020, 12, 20)
    last_evening = datetime(2020, 12, 20, 21, 59, tzinfo=UTC)  # 23:59 in Helsinki
    assert credits_of(cast.oda, last_evening).exists()
    assert credits.lapse(cast.studio, last_evening) == ""
    midnight = last_evening + timedelta(minutes=1)
    assert not credits_of(cast.oda, midnight).exists()
    assert credits.lapse(cast.studio, midnight) == "1 make-up lesson lapsed"
    assert credits.lapse(cast.studio, midnight) == ""
    assert kinds(cast) == [("earned", 1), ("lapsed", -1)]


def test_a_credit_without_an_end_does_not_lapse(cast: Cast):
    Policy.objects.create(studio=cast.studio, credit_days=None)
    say(cast, Attendance.CANCELLED_IN_TIME)
    assert credits.lapse(cast.studio, NOW + timedelta(days=4000)) == ""
    assert balance(cast) == 1


def test_a_lapsed_credit_books_nothing(cast: Cast):
    say(cast, Attendance.CANCELLED_IN_TIME)
    credit = CreditEntry.objects.get()
    with pytest.raises(CreditSpent):
        book_make_up(credit=credit, starts_at=LATER, minutes=45, at=NOW + timedelta(days=91), by=cast.teacher)


def test_the_teacher_gives_and_takes_back_with_a_word(cast: Cast):
    credits.correct(student=cast.oda, lessons=1, at=NOW, by=cast.teacher, remark="for the snow day")
    credits.correct(student=cast.oda, lessons=-1, at=NOW, by=cast.teacher, remark="it was held after all")
    with pytest.raises(CreditSpent):
        credits.correct(student=cast.oda, lessons=-1, at=NOW, by=cast.teacher, remark="")
    assert [line.balance for line in credits.ledger(cast.oda.credit_entries.all())] == [1, 0]


def test_a_studio_without_a_policy_has_the_usual_one(cast: Cast):
    assert policy_of(cast.studio).notice_hours == 24


# Whatever happens in whatever order: the sum is the balance, it is never below nought, and a replay changes nothing.

SAID = st.sampled_from([*Attendance])
STEP = st.one_of(
    st.tuples(st.just("say"), st.integers(0, 2), SAID),
    st.tuples(st.just("book"), st.integers(0, 2), st.none()),
    st.tuples(st.just("lapse"), st.integers(0, 120), st.none()),
    st.tuples(st.just("correct"), st.sampled_from([1, -1]), st.none()),
    st.tuples(st.just("forget"), st.integers(0, 5), st.none()),
)


class TheLedger(TestCase):
    @settings(max_examples=60, deadline=None)
    @given(st.lists(STEP, max_size=14))
    def test_never_falls_below_nought_and_a_replay_changes_nothing(self, steps):
        cast = gather()
        for number in range(3):
            make.lesson(student=cast.oda, starts_at=LATER + timedelta(days=number))
        at = NOW
        for what, number, said in steps:
            at += timedelta(hours=5)
            self.take(cast, what, number, said, at)
            self.holds(cast)
            if what in ("say", "lapse"):
                before = kinds(cast)
                self.take(cast, what, number, said, at)
                assert kinds(cast) == before

    def take(self, cast: Cast, what: str, number: int, said: str | None, at: datetime) -> None:
        lessons = list(cast.oda.lessons.order_by("pk"))
        lesson = lessons[number % len(lessons)]
        if what == "say":
            say(cast, said, lesson, at=at)
        elif what == "book":
            credit = credits_of(cast.oda, at).first()
            if credit:
                book_make_up(credit=credit, starts_at=LATER, minutes=30, at=at, by=cast.teacher)
        elif what == "lapse":
            credits.lapse(cast.studio, at + timedelta(days=number))
        elif what == "forget" and len(lessons) > 3:
            forget_credits(lesson=lessons[-1], at=at, by=cast.teacher)
            lessons[-1].delete()
        elif what == "correct":
            try:
                credits.correct(student=cast.oda, lessons=number, at=at, by=cast.teacher, remark="")
            except CreditSpent:
                assert not credits_of(cast.oda, at).exists()

    def holds(self, cast: Cast) -> None:
        lines = credits.ledger(cast.oda.credit_entries.all())
        assert all(line.balance >= 0 for line in lines)
        assert (lines[-1].balance if lines else 0) == balance(cast)
        for root in cast.oda.credit_entries.filter(of=None):
            assert credits.left_of(root) in (0, 1)
        assert sum(credits.left_of(root) for root in cast.oda.credit_entries.filter(of=None)) == balance(cast)
