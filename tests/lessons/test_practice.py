"""The practice log."""

import uuid
from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from lessons.models import PracticeEntry
from lessons.practice import by_week, week_of, write_entry
from tests import make
from tests.people import Cast

KEY = uuid.UUID("11111111-2222-4333-8444-555555555555")


def sent(**given) -> dict[str, str]:
    """What the form sends for an entry of today."""
    fields = {"key": str(KEY), "day": timezone.localdate().isoformat(), "minutes": "12", "remark": ""}
    return {**fields, **given}


def test_an_entry_sent_ten_times_is_kept_once(cast: Cast):
    fields = {"student": cast.oda, "by": cast.oda.user, "key": KEY, "day": date(2020, 11, 24), "minutes": 12}
    answers = [write_entry(**fields)[1] for _ in range(10)]
    assert answers == [True] + [False] * 9
    assert cast.oda.practice.count() == 1


def test_a_form_sent_twice_is_answered_like_the_first_time(cast: Cast, logged_in):
    client, url = logged_in(cast.oda.user), reverse("new-entry", args=[cast.oda.pk])
    assert [client.post(url, sent()).status_code for _ in range(2)] == [302, 302]
    assert cast.oda.practice.count() == 1


def test_a_change_leaves_the_key_of_an_entry_alone(cast: Cast, logged_in):
    entry = make.entry(student=cast.oda, day=timezone.localdate())
    other = make.entry(student=cast.ravi, key=KEY)
    answer = logged_in(cast.oda.user).post(reverse("change-entry", args=[entry.pk]), sent(key=str(other.key)))
    assert (answer.status_code, PracticeEntry.objects.get(pk=entry.pk).key) == (302, entry.key)


def test_a_key_of_another_students_entry_changes_nothing(cast: Cast):
    make.entry(student=cast.ravi, key=KEY)
    with pytest.raises(PermissionError):
        write_entry(student=cast.oda, by=cast.oda.user, key=KEY, day=date(2020, 11, 24), minutes=5)
    assert cast.oda.practice.count() == 0


def test_a_student_writes_her_own_entry(cast: Cast, logged_in):
    logged_in(cast.oda.user).post(
        reverse("new-entry", args=[cast.oda.pk]), sent(tempo="69", clean_runs="2", tries="5", remark="better")
    )
    entry = cast.oda.practice.get()
    assert (entry.minutes, entry.tempo, entry.clean_runs, entry.tries, entry.remark) == (12, 69, 2, 5, "better")
    assert entry.entered_by == cast.oda.user


def test_a_guardian_writes_for_a_child_without_a_login(cast: Cast, logged_in):
    answer = logged_in(cast.birger.user).post(reverse("new-entry", args=[cast.ilmari.pk]), sent())
    assert answer.url == reverse("child", args=[cast.ilmari.pk])
    assert cast.ilmari.practice.get().entered_by == cast.birger.user


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("day", (date.today() + timedelta(days=2)).isoformat(), "not come yet"),
        ("day", "2020-01-01", "days ago"),
        ("minutes", "1800", "600"),
        ("minutes", "0", "1"),
        ("tempo", "900", "300"),
        ("tries", "", "out of how many"),
        ("clean_runs", "9", "more clean runs than tries"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_typed_is_lost(cast: Cast, logged_in, field: str, value: str, words: str):
    given = {"clean_runs": "2", "tries": "5", "tempo": "69", "remark": "kept words"} | {field: value}
    answer = logged_in(cast.oda.user).post(reverse("new-entry", args=[cast.oda.pk]), sent(**given))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert "kept words" in answer.content.decode()
    assert cast.oda.practice.count() == 0


def test_a_passage_of_another_student_cannot_be_named(cast: Cast, logged_in):
    theirs = make.assigned(lesson=make.lesson(student=cast.ravi), passage=cast.passage)
    answer = logged_in(cast.oda.user).post(reverse("new-entry", args=[cast.oda.pk]), sent(assigned=str(theirs.pk)))
    assert answer.status_code == 422


def test_an_entry_taken_out_can_be_brought_back(cast: Cast, logged_in):
    entry = make.entry(student=cast.oda, day=timezone.localdate())
    client = logged_in(cast.oda.user)
    page = client.post(reverse("remove-entry", args=[entry.pk]), follow=True).content.decode()
    assert reverse("restore-entry", args=[entry.pk]) in page
    assert not PracticeEntry.objects.standing().exists()
    client.post(reverse("restore-entry", args=[entry.pk]))
    assert PracticeEntry.objects.standing().get() == entry


def test_an_entry_can_be_changed(cast: Cast, logged_in):
    entry = make.entry(student=cast.oda, day=timezone.localdate())
    logged_in(cast.birger.user).post(reverse("change-entry", args=[entry.pk]), sent(key=str(entry.key), minutes="20"))
    entry.refresh_from_db()
    assert entry.minutes == 20


def test_weeks_begin_on_monday_and_add_up(cast: Cast):
    days = [date(2020, 11, 22), date(2020, 11, 23), date(2020, 11, 24), date(2020, 11, 24)]
    weeks = by_week([make.entry(student=cast.oda, day=day, minutes=10) for day in days])
    assert [(week.monday, week.minutes, week.days) for week in weeks] == [
        (date(2020, 11, 23), 30, 2),
        (date(2020, 11, 16), 10, 1),
    ]
    assert week_of(date(2020, 11, 22)) == date(2020, 11, 16)


def test_ten_more_entries_add_no_query_to_the_log(cast: Cast, logged_in, django_assert_max_num_queries):
    client = logged_in(cast.teacher)
    url = reverse("practice-log", args=[cast.oda.pk])
    for number in range(12):
        make.entry(student=cast.oda, day=date(2020, 11, 1 + number), entered_by=cast.oda.user, assigned=cast.assigned)
    with django_assert_max_num_queries(6):
        assert client.get(url).content.decode().count("<tr>") >= 12


def test_a_passage_carried_on_for_weeks_is_offered_once(cast: Cast, logged_in):
    weeks = [datetime(2020, 11, 2, 14, 0, tzinfo=UTC) + timedelta(weeks=week) for week in range(3)]
    given = [make.assigned(lesson=make.lesson(student=cast.oda, starts_at=at), passage=cast.passage) for at in weeks]
    client = logged_in(cast.oda.user)
    form = client.get(reverse("new-entry", args=[cast.oda.pk])).context["form"]
    assert [value for value, _ in form.fields["assigned"].choices] == ["", given[-1].pk]
    entry = make.entry(student=cast.oda, assigned=given[0])
    form = client.get(reverse("change-entry", args=[entry.pk])).context["form"]
    assert [value for value, _ in form.fields["assigned"].choices] == ["", given[0].pk]
    # A page that was opened before the newest lesson began still counts.
    client.post(reverse("new-entry", args=[cast.oda.pk]), sent(assigned=given[1].pk))
    assert cast.oda.practice.get(key=KEY).assigned == given[1]


def test_the_log_writes_its_days_as_every_page_does(cast: Cast, logged_in):
    make.entry(student=cast.oda, day=date(2020, 11, 24))
    assert (
        "Week of 23 November 2020"
        in logged_in(cast.oda.user).get(reverse("practice-log", args=[cast.oda.pk])).content.decode()
    )
