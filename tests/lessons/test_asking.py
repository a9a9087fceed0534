"""Families ask, the rules or the teacher decide. What follows from notice and policy is common practice."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.core.signing import BadSignature

from lessons import asking, planning
from lessons.credits import balance_of
from lessons.models import Absence, Asked, Attendance, BusyTime, FreeHours, Holiday, Notice, NoticeWish, Policy
from lessons.scheduling import SlotPlan, make_slot
from studio.models import Term
from tests import make

AT = datetime(2021, 2, 1, 6, tzinfo=UTC)  # a Monday, 8 o'clock in Helsinki
BEGIN = datetime(2021, 2, 3, 13, tzinfo=UTC)  # Wednesday, 15:00 in Helsinki
FREE = datetime(2021, 2, 4, 13, tzinfo=UTC)
CANCEL, MOVE = Asked.Kind.CANCEL, Asked.Kind.MOVE


@pytest.fixture
def policy(cast):
    return Policy.objects.create(studio=cast.studio, may_cancel=True, may_move=True, notice_hours=24)


@pytest.fixture
def lesson(cast):
    return make.lesson(student=cast.oda, starts_at=BEGIN)


def ask(lesson, by, kind=CANCEL, at=AT, **given):
    return asking.ask(lesson=lesson, by=by, kind=kind, at=at, **given)


def told(cast, to):
    return sorted(row.content["what"] for row in Notice.objects.filter(studio=cast.studio, to=to))


# By rule


def test_cancelled_in_time_by_rule_a_make_up_lesson_is_owed(cast, policy, lesson):
    asked, token = ask(lesson, cast.birger.user)
    lesson.refresh_from_db()
    assert (asked.answer, asked.by_rule, bool(token)) == ("granted", True, True)
    assert lesson.attendance == Attendance.CANCELLED_IN_TIME
    assert lesson.cancelled_at == AT
    assert balance_of(cast.oda) == 1
    assert told(cast, "ines@example.org") == ["by rule"]
    assert told(cast, "birger@example.org") == ["cancelled"]


def test_at_the_last_minute_of_the_notice_it_is_in_time_and_a_minute_later_the_teacher_is_asked(cast, policy):
    for minutes, by_rule in ((0, True), (1, False)):
        lesson = make.lesson(student=cast.oda, starts_at=BEGIN)
        asked, _ = ask(lesson, cast.birger.user, at=BEGIN - timedelta(hours=24) + timedelta(minutes=minutes))
        assert asked.by_rule is by_rule


def test_moved_by_rule_to_a_listed_time(cast, policy, lesson):
    asked, _ = ask(lesson, cast.birger.user, MOVE, wanted=FREE, listed=True)
    lesson.refresh_from_db()
    assert (asked.by_rule, lesson.starts_at) == (True, FREE)
    assert told(cast, "birger@example.org") == ["moved"]


@pytest.mark.parametrize(
    ("changes", "kind", "why"),
    [
        ({"may_cancel": False}, CANCEL, "not allowed"),
        ({"may_move": False}, MOVE, "not allowed"),
        ({"notice_hours": 72}, CANCEL, "too late"),
        ({"changes_a_term": 0}, CANCEL, "too often"),
    ],
)
def test_what_the_policy_does_not_let_families_do_waits_for_the_teacher(cast, policy, lesson, changes, kind, why):
    Policy.objects.filter(pk=policy.pk).update(**changes)
    row = asking.with_asking(type(lesson).objects.filter(pk=lesson.pk)).get()
    assert asking.ruling(row, by=cast.birger.user, kind=kind, at=AT).why == why
    asked, token = ask(lesson, cast.birger.user, kind, wanted=FREE if kind == MOVE else None, listed=kind == MOVE)
    lesson.refresh_from_db()
    assert (asked.answer, token, lesson.cancelled_at, lesson.starts_at) == ("", "", None, BEGIN)
    assert told(cast, "ines@example.org") == ["asked"]


def test_a_student_who_has_a_guardian_decides_herself_only_where_the_policy_says_so(cast, policy):
    first, second = (make.lesson(student=cast.oda, starts_at=BEGIN + timedelta(days=n)) for n in (0, 1))
    assert ask(first, cast.oda.user)[0].by_rule is False
    Policy.objects.update(students_too=True)
    assert ask(second, cast.oda.user)[0].by_rule is True


def test_a_student_without_guardians_decides_herself(cast, policy, lesson):
    cast.oda.guardians.clear()
    assert ask(lesson, cast.oda.user)[0].by_rule is True


def test_the_count_is_that_of_the_term_which_holds_the_lesson(cast, policy):
    Policy.objects.update(changes_a_term=1)
    Term.objects.create(studio=cast.studio, name="Spring", first_day=date(2021, 1, 11), last_day=date(2021, 2, 10))
    days = (BEGIN, BEGIN + timedelta(days=7), datetime(2021, 7, 1, 12, tzinfo=UTC))
    lessons = [make.lesson(student=cast.oda, starts_at=day) for day in days]
    assert ask(lessons[0], cast.birger.user)[0].by_rule is True
    assert ask(lessons[1], cast.birger.user)[0].by_rule is False, "10 February still lies in the term"
    assert ask(lessons[2], cast.birger.user)[0].by_rule is True, "July lies in none, and in the other half of the year"


def test_without_terms_the_half_of_the_year_counts(cast):
    assert asking.term_around(cast.studio, date(2021, 6, 30)) == (date(2021, 1, 1), date(2021, 6, 30))
    assert asking.term_around(cast.studio, date(2021, 7, 1)) == (date(2021, 7, 1), date(2021, 12, 31))


def test_a_pair_lesson_is_cancelled_for_one_but_moved_only_by_the_teacher(cast, policy):
    plan = SlotPlan([cast.oda, cast.ravi], date(2021, 2, 3), time(15), 45, "FREQ=WEEKLY;COUNT=2")
    slot, _ = make_slot(studio=cast.studio, plan=plan, at=AT)
    hers = slot.lessons.filter(student=cast.oda).order_by("starts_at")[0]
    assert asking.times_for(asking.with_asking(slot.lessons.filter(pk=hers.pk)).get(), at=AT) == []
    asked, _ = ask(hers, cast.birger.user, MOVE, wanted=FREE)
    assert asked.by_rule is False
    asking.grant(asked=asked, by=cast.teacher, at=AT)
    assert {row.starts_at for row in slot.lessons.filter(meant_for=hers.meant_for)} == {FREE}
    other = slot.lessons.filter(student=cast.oda).order_by("starts_at")[1]
    assert ask(other, cast.birger.user)[0].by_rule is True
    assert slot.lessons.get(meant_for=other.meant_for, student=cast.ravi).cancelled_at is None


# Free times


def test_the_times_shown_lie_in_everyones_hours_and_touch_nothing(cast, policy, lesson):
    for student, weekday, begins, ends in ((None, 3, 14, 18), (None, 2, 14, 16), (cast.oda, 3, 15, 17)):
        FreeHours.objects.create(
            studio=cast.studio, student=student, weekday=weekday, begins=time(begins), ends=time(ends)
        )
    make.lesson(student=cast.ravi, starts_at=FREE, minutes=60)  # Thursday 15:00–16:00
    row = asking.with_asking(type(lesson).objects.filter(pk=lesson.pk)).get()
    times = asking.times_for(row, at=AT)
    assert times[0][0] == date(2021, 2, 4)
    assert [f"{one:%H:%M}" for one in times[0][1]] == ["16:00"], "16:15 lies within half an hour of it"
    assert {day.weekday() for day, _ in times} == {3}, "Oda can come on Thursdays only"


def test_no_time_is_shown_on_holidays_while_she_is_away_or_within_the_notice(cast, policy, lesson):
    Holiday.objects.create(studio=cast.studio, name="x", first_day=date(2021, 2, 4), last_day=date(2021, 2, 4))
    Absence.objects.create(studio=cast.studio, student=cast.oda, first_day=date(2021, 2, 5), last_day=date(2021, 2, 6))
    row = asking.with_asking(type(lesson).objects.filter(pk=lesson.pk)).get()
    days = {day for day, _ in asking.times_for(row, at=AT, by_rule=True)}
    assert not days & {date(2021, 2, day) for day in (1, 4, 5, 6)}
    assert date(2021, 2, 2) in days


def test_a_time_taken_meanwhile_is_refused_and_nothing_changes(cast, policy, lesson):
    make.lesson(student=cast.ravi, starts_at=FREE)
    with pytest.raises(asking.TimeTaken):
        ask(lesson, cast.birger.user, MOVE, wanted=FREE, listed=True)
    lesson.refresh_from_db()
    assert (lesson.starts_at, Asked.objects.count()) == (BEGIN, 0)


def test_another_time_that_was_typed_waits_even_where_it_is_free(cast, policy, lesson):
    assert ask(lesson, cast.birger.user, MOVE, wanted=FREE)[0].answer == ""


@pytest.mark.parametrize("state", ["begun", "cancelled", "asked"])
def test_nothing_is_asked_about_a_lesson_that_has_begun_is_cancelled_or_asked_about(cast, lesson, state):
    at = BEGIN if state == "begun" else AT
    if state == "cancelled":
        planning.cancel_lesson(lesson=lesson, attendance="teacher", at=AT, by=cast.teacher)
    elif state == "asked":
        ask(lesson, cast.birger.user)
    with pytest.raises(asking.NotAnyMore):
        ask(lesson, cast.birger.user, at=at)


# The teacher


def test_whether_it_is_in_time_goes_by_when_it_was_asked(cast, policy, lesson):
    Policy.objects.update(may_cancel=False)
    asked, _ = ask(lesson, cast.birger.user, at=BEGIN - timedelta(hours=25))
    asking.grant(asked=asked, by=cast.teacher, at=BEGIN - timedelta(hours=1))
    lesson.refresh_from_db()
    assert lesson.attendance == Attendance.CANCELLED_IN_TIME


def test_late_the_teacher_may_grant_it_as_late_or_as_if_in_time(cast, policy):
    late = BEGIN - timedelta(hours=2)
    for given, said, owed in (("", Attendance.CANCELLED_LATE, 0), ("in-time", Attendance.CANCELLED_IN_TIME, 1)):
        lesson = make.lesson(student=cast.oda, starts_at=BEGIN)
        asked, _ = ask(lesson, cast.birger.user, at=late)
        asking.grant(asked=asked, by=cast.teacher, at=late, attendance=given)
        lesson.refresh_from_db()
        assert (lesson.attendance, balance_of(cast.oda)) == (said, owed)


def test_a_wanted_time_that_is_taken_meanwhile_is_granted_only_in_spite_of_it(cast, lesson):
    asked, _ = ask(lesson, cast.birger.user, MOVE, wanted=FREE)
    make.lesson(student=cast.ravi, starts_at=FREE + timedelta(minutes=30))
    with pytest.raises(asking.TimeTaken):
        asking.grant(asked=asked, by=cast.teacher, at=AT)
    asking.grant(asked=asked, by=cast.teacher, at=AT, anyway=True)
    lesson.refresh_from_db()
    assert lesson.starts_at == FREE


def test_the_teacher_grants_another_time_than_was_wanted(cast, lesson):
    asked, _ = ask(lesson, cast.birger.user, MOVE, remark="some afternoon")
    with pytest.raises(asking.TimeTaken):
        asking.grant(asked=asked, by=cast.teacher, at=AT)
    token = asking.grant(asked=asked, by=cast.teacher, at=AT, to=FREE)
    asked.refresh_from_db()
    assert asked.wanted == FREE
    asking.undo(by=cast.teacher, token=token, at=AT)
    asked.refresh_from_db()
    assert (asked.answer, asked.wanted) == ("", None)


def test_refused_with_a_word_the_family_is_told_and_the_lesson_stays(cast, lesson):
    asked, _ = ask(lesson, cast.birger.user)
    asking.refuse(asked=asked, by=cast.teacher, at=AT, why="The recital is near.")
    lesson.refresh_from_db()
    asked.refresh_from_db()
    assert (asked.answer, asked.why, lesson.cancelled_at) == ("refused", "The recital is near.", None)
    assert told(cast, "birger@example.org") == ["refused"]
    with pytest.raises(asking.Answered):
        asking.grant(asked=asked, by=cast.teacher, at=AT)


def test_withdrawn_the_mail_to_the_teacher_that_waits_is_not_sent(cast, lesson):
    asked, _ = ask(lesson, cast.birger.user)
    asking.withdraw(asked=asked, at=AT)
    assert told(cast, "ines@example.org") == []
    assert ask(lesson, cast.birger.user)[0].answer == "", "it can be asked again"


def test_a_teacher_who_wants_no_mails_gets_none(cast, lesson):
    NoticeWish.objects.create(studio=cast.studio, user=cast.teacher, changes=False)
    ask(lesson, cast.birger.user)
    assert told(cast, "ines@example.org") == []


# Undo


def test_what_the_rules_granted_is_undone_and_does_not_count(cast, policy, lesson):
    asked, token = ask(lesson, cast.birger.user)
    asking.undo(by=cast.birger.user, token=token, at=AT)
    lesson.refresh_from_db()
    asked.refresh_from_db()
    assert (lesson.cancelled_at, asked.answer, balance_of(cast.oda)) == (None, "withdrawn", 0)
    assert told(cast, "ines@example.org") == []
    with pytest.raises(Asked.DoesNotExist):
        asking.undo(by=cast.birger.user, token=token, at=AT)


@pytest.mark.parametrize("kind", [CANCEL, MOVE])
def test_a_family_does_not_get_back_a_time_that_was_given_away(cast, policy, lesson, kind):
    given = {"wanted": FREE, "listed": True} if kind == MOVE else {}
    _, token = ask(lesson, cast.birger.user, kind, **given)
    make.lesson(student=cast.ravi, starts_at=BEGIN)
    with pytest.raises(asking.TimeTaken):
        asking.undo(by=cast.birger.user, token=token, at=AT)
    lesson.refresh_from_db()
    assert (lesson.starts_at == FREE) if kind == MOVE else lesson.cancelled_at


def test_an_answer_is_undone_by_who_gave_it_only(cast, lesson):
    asked, _ = ask(lesson, cast.birger.user)
    token = asking.grant(asked=asked, by=cast.teacher, at=AT)
    with pytest.raises(Asked.DoesNotExist):
        asking.undo(by=cast.birger.user, token=token, at=AT)
    with pytest.raises(BadSignature):
        asking.undo(by=cast.teacher, token=token + "x", at=AT)
    asking.undo(by=cast.teacher, token=token, at=AT)
    lesson.refresh_from_db()
    asked.refresh_from_db()
    assert (lesson.cancelled_at, asked.answer) == (None, "")


def test_a_busy_time_stands_against_a_move_by_rule(cast, policy, lesson):
    BusyTime.objects.create(
        studio=cast.studio, source="x", uid="x", starts_at=FREE, ends_at=FREE + timedelta(minutes=10)
    )
    with pytest.raises(asking.TimeTaken):
        ask(lesson, cast.birger.user, MOVE, wanted=FREE, listed=True)
