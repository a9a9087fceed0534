"""The policy, the ledger of make-up lessons, and booking one."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from lessons import credits
from lessons.attending import mark_attendance, policy_of
from lessons.models import Attendance, Consequence, CreditEntry, Lesson, Policy
from tests import make
from tests.people import Cast

FIELDS = {"day": "2020-12-01", "time": "15:00", "minutes": "30", "place": ""}
RULES = {f"rule-{one.value}": Consequence.CHARGE for one in Attendance if one}


def owed(cast: Cast, **given) -> CreditEntry:
    """A make-up lesson that is owed to Oda since yesterday."""
    at = timezone.now() - timedelta(days=1)
    mark_attendance(lesson=cast.lesson, attendance="in-time", at=at, by=cast.teacher)
    return CreditEntry.objects.get(kind="earned")


def test_the_policy_is_kept_in_words_and_rules(cast: Cast, logged_in):
    data = {**RULES, "words": "Call the day before.", "notice_hours": 48, "credit_days": "", "rule-missed": "neither"}
    answer = logged_in(cast.teacher).post(reverse("change-policy"), data)
    assert answer["Location"] == reverse("policy")
    policy = policy_of(cast.studio)
    assert (policy.words, policy.notice_hours, policy.credit_days) == ("Call the day before.", 48, None)
    assert policy.consequence(Attendance.MISSED) == Consequence.NEITHER
    assert policy.consequence(Attendance.CANCELLED_IN_TIME) == Consequence.CHARGE
    assert policy.may_cancel is False


def test_absurd_hours_of_notice_are_refused_and_nothing_typed_is_lost(cast: Cast, logged_in):
    data = {**RULES, "words": "Call the day before.", "notice_hours": 99999}
    answer = logged_in(cast.teacher).post(reverse("change-policy"), data)
    assert answer.status_code == 422
    assert "Call the day before." in answer.content.decode()
    assert not Policy.objects.exists()


def test_families_read_the_policy_in_the_studios_words(cast: Cast, logged_in):
    Policy.objects.create(studio=cast.studio, words="Call the day before.")
    for user in (cast.oda.user, cast.birger.user):
        page = logged_in(user).get(reverse("policy")).content.decode()
        assert "Call the day before." in page
        assert reverse("change-policy") not in page
    page = logged_in(cast.oda.user).get(reverse("this-week")).content.decode()
    assert "Call the day before." in page


def test_the_policy_of_another_studio_is_not_read(cast: Cast, logged_in):
    Policy.objects.create(studio=cast.next_door, words="Call the week before.")
    assert "Call the week before." not in logged_in(cast.oda.user).get(reverse("policy")).content.decode()


def test_a_new_lesson_offers_what_is_owed_to_the_student_and_uses_it(cast: Cast, logged_in):
    credit, client = owed(cast), logged_in(cast.teacher)
    page = client.get(reverse("new-lesson"), {"student": cast.oda.pk, "credit": credit.pk}).content.decode()
    assert f'<option value="{credit.pk}" selected>owed since 23 November' in page
    client.post(reverse("new-lesson"), {**FIELDS, "student": cast.oda.pk, "credit": credit.pk})
    assert Lesson.objects.latest("pk").makes_up_for == cast.lesson
    assert credits.balance_of(cast.oda) == 0


def test_what_is_owed_to_one_student_is_not_offered_to_another(cast: Cast, logged_in):
    credit, client = owed(cast), logged_in(cast.teacher)
    page = client.get(reverse("new-lesson"), {"student": cast.ravi.pk}).content.decode()
    assert "owed since" not in page
    answer = client.post(reverse("new-lesson"), {**FIELDS, "student": cast.ravi.pk, "credit": credit.pk})
    assert answer.status_code == 422
    assert credits.balance_of(cast.oda) == 1


def test_a_lesson_without_a_make_up_is_planned_as_ever(cast: Cast, logged_in):
    owed(cast)
    logged_in(cast.teacher).post(reverse("new-lesson"), {**FIELDS, "student": cast.oda.pk, "credit": ""})
    assert Lesson.objects.latest("pk").makes_up_for is None
    assert credits.balance_of(cast.oda) == 1


@pytest.mark.parametrize("who", ["teacher", "oda", "birger"])
def test_the_ledger_is_read_by_the_teacher_and_the_family(cast: Cast, logged_in, who: str):
    owed(cast)
    user = cast.teacher if who == "teacher" else getattr(cast, who).user
    page = logged_in(user).get(reverse("make-ups", args=[cast.oda.pk])).content.decode()
    assert "<strong>1</strong> make-up lesson is owed" in page
    assert (reverse("correct-make-ups", args=[cast.oda.pk]) in page) == (who == "teacher")


def test_a_correction_wants_a_reason_and_none_can_be_taken_where_none_is_owed(cast: Cast, logged_in):
    client, url = logged_in(cast.teacher), reverse("correct-make-ups", args=[cast.oda.pk])
    assert client.post(url, {"lessons": "1", "remark": ""}).status_code == 422
    assert client.post(url, {"lessons": "-1", "remark": "a mistake"}).status_code == 422
    assert client.post(url, {"lessons": "1", "remark": "the snow day"}).status_code == 302
    assert "the snow day" in client.get(reverse("make-ups", args=[cast.oda.pk])).content.decode()


def test_ten_more_lines_add_no_query(cast: Cast, logged_in, count_queries):
    owed(cast)
    client, url = logged_in(cast.teacher), reverse("make-ups", args=[cast.oda.pk])
    before = count_queries(client, url)
    for number in range(10):
        lesson = make.lesson(student=cast.oda, starts_at=cast.lesson.starts_at + timedelta(days=number))
        mark_attendance(lesson=lesson, attendance="in-time", at=timezone.now(), by=cast.teacher)
    assert count_queries(client, url) == before <= 12


def test_the_next_lesson_is_planned_in_one_click_and_only_once(cast: Cast, logged_in):
    client = logged_in(cast.teacher)
    soon = make.lesson(student=cast.oda, starts_at=timezone.now() - timedelta(hours=1))
    for _again in range(2):
        client.post(reverse("plan-following", args=[soon.pk]))
    following = cast.oda.lessons.filter(starts_at__gt=soon.starts_at).get()
    assert (following.starts_at - soon.starts_at).days in (6, 7)
    page = client.get(reverse("lesson", args=[soon.pk])).content.decode()
    assert reverse("lesson", args=[following.pk]) in page
