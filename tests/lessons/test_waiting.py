"""The waiting list: freed times, whom they fit, and who accepts first. What fits is worked out by hand."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.core.signing import BadSignature

from lessons import asking_mails, planning, scheduling, waiting
from lessons.asking import TimeTaken
from lessons.credits import balance_of
from lessons.freed import freed_times
from lessons.models import Absence, BusyTime, FreeHours, Holiday, Lesson, Notice, Offer, Waiting
from lessons.waiting import OfferOver
from tests import make

AT = datetime(2021, 2, 1, 6, tzinfo=UTC)  # a Monday, 8 o'clock in Helsinki
BEGIN = datetime(2021, 2, 4, 14, 30, tzinfo=UTC)  # Thursday, 16:30 in Helsinki


@pytest.fixture
def freed(cast):
    """Ravi's lesson on Thursday, 16:30–17:15, is cancelled; Oda and Ilmari wait."""
    lesson = make.lesson(student=cast.ravi, starts_at=BEGIN)
    planning.cancel_lesson(lesson=lesson, attendance="in-time", at=AT, by=cast.teacher)
    waiting.put_on(student=cast.oda, minutes=45, at=AT - timedelta(days=9))
    waiting.put_on(student=cast.ilmari, minutes=30, at=AT - timedelta(days=2))
    return lesson


def look(cast, at=AT):
    return freed_times(cast.studio, waiting.waiting_list(cast.studio, today=at.date()), at=at)


def fits(cast, at=AT):
    return [
        (
            f"{one.begin:%a %H:%M}–{one.end:%H:%M}",
            [(fit.waiting.student.name[:2], f"{fit.starts_at:%H:%M}") for fit in one.fits],
        )
        for one in look(cast, at)
    ]


def offer_all(cast):
    one = look(cast)[0]
    keys = [fit.waiting.student_id for fit in one.fits]
    return waiting.offer_time(studio=cast.studio, freed=one, students=keys, at=AT)


def test_a_cancelled_lesson_frees_its_time_for_those_whom_it_fits_the_longest_waiting_first(cast, freed):
    assert fits(cast) == [("Thu 16:30–17:15", [("Od", "14:30"), ("Il", "14:30")])]
    assert look(cast)[0].who == ("Ravi Menon",)


def test_who_left_the_time_is_not_offered_it(cast, freed):
    waiting.put_on(student=cast.ravi, minutes=30, at=AT)
    assert [name for name, _ in fits(cast)[0][1]] == ["Od", "Il"]


@pytest.mark.parametrize(
    ("begins", "ends", "start"),
    [(time(16), time(17), None), (time(16, 30), time(18), "14:30"), (time(17), time(18), None)],
)
def test_free_hours_must_hold_the_whole_lesson(cast, freed, begins, ends, start):
    FreeHours.objects.create(studio=cast.studio, student=cast.oda, weekday=3, begins=begins, ends=ends)
    assert dict(fits(cast)[0][1]).get("Od") == start


def test_a_shorter_lesson_begins_where_the_hours_begin(cast, freed):
    FreeHours.objects.create(studio=cast.studio, student=cast.ilmari, weekday=3, begins=time(16, 45), ends=time(20))
    assert dict(fits(cast)[0][1])["Il"] == "14:45"


def test_who_is_away_whose_last_day_is_over_or_who_has_left_does_not_fit(cast, freed):
    Absence.objects.create(studio=cast.studio, student=cast.oda, first_day=date(2021, 2, 4), last_day=date(2021, 2, 4))
    Waiting.objects.filter(student=cast.ilmari).update(until=date(2021, 2, 3))
    assert fits(cast) == [("Thu 16:30–17:15", [])]


def test_a_brother_at_another_lesson_does_not_hinder_but_her_own_lesson_does(cast, freed):
    make.lesson(student=cast.oda, starts_at=BEGIN + timedelta(minutes=45), where="home")  # 15 minutes away, from 17:15
    assert [name for name, _ in fits(cast)[0][1]] == ["Il"], "Ilmari's half hour leaves time for the way"


def test_what_is_planned_there_by_now_or_closed_is_not_free(cast, freed):
    BusyTime.objects.create(
        studio=cast.studio, source="x", uid="x", starts_at=BEGIN, ends_at=BEGIN + timedelta(minutes=15)
    )
    assert fits(cast) == [("Thu 16:45–17:15", [("Il", "14:45")])]
    Holiday.objects.create(studio=cast.studio, name="x", first_day=date(2021, 2, 4), last_day=date(2021, 2, 4))
    assert fits(cast) == []


def test_two_cancelled_lessons_in_a_row_are_one_long_time(cast, freed):
    second = make.lesson(student=cast.ravi, starts_at=BEGIN + timedelta(minutes=45), minutes=30)
    planning.cancel_lesson(lesson=second, attendance="teacher", at=AT, by=cast.teacher)
    assert [one[0] for one in fits(cast)] == ["Thu 16:30–17:45"]


def test_a_moved_lesson_of_a_weekly_one_frees_its_time(cast):
    plan = scheduling.SlotPlan([cast.ravi], date(2021, 2, 4), time(16, 30), 45, "FREQ=WEEKLY")
    slot, _ = scheduling.make_slot(studio=cast.studio, plan=plan, at=AT)
    assert fits(cast) == []
    lesson = slot.lessons.order_by("starts_at")[0]
    planning.move_lesson(lesson=lesson, starts_at=BEGIN + timedelta(days=1), at=AT)
    assert fits(cast) == [("Thu 16:30–17:15", [])]


def test_a_weekly_lesson_that_ends_frees_its_time_every_week(cast):
    plan = scheduling.SlotPlan([cast.ravi], date(2021, 1, 7), time(16, 30), 45, "FREQ=WEEKLY")
    slot, _ = scheduling.make_slot(studio=cast.studio, plan=plan, at=AT - timedelta(days=30))
    scheduling.end_slot(slot=slot, last=date(2021, 2, 11), at=AT)
    Holiday.objects.create(studio=cast.studio, name="x", first_day=date(2021, 2, 18), last_day=date(2021, 2, 18))
    waiting.put_on(student=cast.oda, minutes=45, at=AT)
    (one,) = look(cast)
    assert (one.weekly, one.begin.date()) == (True, date(2021, 2, 25)), "18 February is a holiday"
    offers = waiting.offer_time(studio=cast.studio, freed=one, students=[cast.oda.pk], at=AT).offers
    lesson = waiting.accept(offer=offers[0], at=AT)
    assert lesson.slot.lessons.count() > 15
    assert f"{lesson.slot.first_day} {lesson.slot.at}" == "2021-02-25 16:30:00"
    assert look(cast) == []


def test_a_weekly_lesson_that_goes_on_or_ended_long_ago_frees_nothing(cast):
    for last in (None, date(2020, 11, 5)):
        plan = scheduling.SlotPlan([cast.ravi], date(2020, 10, 1), time(16, 30), 45, "FREQ=WEEKLY;COUNT=500")
        slot, _ = scheduling.make_slot(studio=cast.studio, plan=plan, at=AT - timedelta(days=100))
        if last:
            scheduling.end_slot(slot=slot, last=last, at=AT)
    assert look(cast) == []


# Offering and accepting


def test_the_first_to_accept_has_it_and_the_others_are_told(cast, freed):
    offers, mails, _ = offer_all(cast)
    assert ([offer.student for offer in offers], mails) == ([cast.oda, cast.ilmari], 2)
    lesson = waiting.accept(offer=offers[1], at=AT)
    assert (lesson.student, lesson.starts_at, lesson.minutes) == (cast.ilmari, BEGIN, 30)
    with pytest.raises(OfferOver):
        waiting.accept(offer=offers[0], at=AT)
    assert waiting.accept(offer=offers[1], at=AT) == lesson, "accepted twice it is the same lesson"
    assert Lesson.objects.held().count() == 1
    told = Notice.objects.filter(content__has_key="offer").order_by("pk")
    assert [(row.to, row.content["what"]) for row in told] == [
        ("birger@example.org", "offered"),
        ("ines@example.org", "accepted"),
        ("birger@example.org", "gone"),
    ]
    assert not Waiting.objects.filter(student=cast.ilmari).exists()
    assert Waiting.objects.filter(student=cast.oda).exists()


def test_guardians_are_asked_before_a_student_and_she_herself_where_she_has_none(cast):
    assert [one.email for one in asking_mails.who_decides(cast.oda)] == ["birger@example.org"]
    cast.oda.guardians.clear()
    assert [one.email for one in asking_mails.who_decides(cast.oda)] == ["oda@example.org"]
    assert waiting.offers_shown_to(cast.oda.user, cast.oda, at=AT) == []


@pytest.mark.parametrize("why", ["expired", "withdrawn", "left"])
def test_an_offer_that_is_over_is_not_accepted(cast, freed, why):
    offers = offer_all(cast).offers
    assert offers[0].expires_at == AT + timedelta(hours=48)
    at = offers[0].expires_at if why == "expired" else AT
    if why == "withdrawn":
        assert waiting.withdraw_offers(offers=offers, at=AT) == 2
        assert not Notice.objects.filter(content__what="offered").exists()
    if why == "left":
        cast.oda.left_on = date(2021, 2, 1)
        cast.oda.save()
    with pytest.raises(OfferOver):
        waiting.accept(offer=offers[0], at=at)
    assert not Lesson.objects.held().exists()


def test_what_was_planned_there_meanwhile_stands_and_the_offer_is_not_accepted(cast, freed):
    offers = offer_all(cast).offers
    make.lesson(student=cast.ravi, starts_at=BEGIN + timedelta(minutes=30))
    with pytest.raises(TimeTaken):
        waiting.accept(offer=offers[0], at=AT)


def test_where_a_make_up_lesson_is_owed_the_accepted_one_is_it(cast, freed):
    missed = make.lesson(student=cast.oda, starts_at=AT + timedelta(days=2))
    planning.cancel_lesson(lesson=missed, attendance="in-time", at=AT, by=cast.teacher)
    Waiting.objects.filter(student=cast.ilmari).delete()
    offer = waiting.offer_time(studio=cast.studio, freed=look(cast)[-1], students=[cast.oda.pk], at=AT).offers[0]
    assert (balance_of(cast.oda), waiting.owed_to(offer, at=AT).lesson) == (1, missed)
    lesson = waiting.accept(offer=offer, at=AT)
    assert (balance_of(cast.oda), lesson.makes_up_for, lesson.starts_at) == (0, missed, BEGIN)


def test_whom_no_mail_reaches_is_said(cast, freed):
    alone = make.student(studio=cast.studio, name="Jorunn Vik")
    waiting.put_on(student=alone, minutes=30, at=AT)
    done = waiting.offer_time(studio=cast.studio, freed=look(cast)[0], students=[alone.pk, cast.oda.pk], at=AT)
    assert (len(done.offers), done.mails, done.unreached) == (2, 1, [alone])


def test_an_offer_holds_no_longer_than_until_the_lesson(cast, freed):
    at = BEGIN - timedelta(hours=3)
    one = look(cast, at)[0]
    offers = waiting.offer_time(studio=cast.studio, freed=one, students=[cast.oda.pk], at=at).offers
    assert offers[0].expires_at == BEGIN


def test_offered_twice_it_is_one_offer(cast, freed):
    offer_all(cast)
    offer_all(cast)
    assert Offer.objects.count() == 2


def test_taken_off_and_put_back_she_waits_since_the_same_day(cast, freed):
    row = Waiting.objects.get(student=cast.oda)
    token = waiting.take_off(waiting=row)
    assert not Waiting.objects.filter(student=cast.oda).exists()
    assert waiting.put_back(studio=cast.studio, token=token).since == row.since
    with pytest.raises(BadSignature):
        waiting.put_back(studio=cast.studio, token=token[:-2])


def test_a_link_that_was_changed_leads_nowhere(cast, freed):
    offers = offer_all(cast).offers
    token = asking_mails.token_of(offers[0])
    assert waiting.offer_behind(token) == offers[0]
    assert waiting.offer_behind(token[:-1] + ("a" if token[-1] != "a" else "b")) is None
    assert waiting.offer_behind("x") is None
