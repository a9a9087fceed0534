"""Links to calendar feeds."""

import re
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from lessons import feeds
from lessons.models import Feed
from tests import make

AT = datetime(2020, 12, 1, tzinfo=UTC)


def path_of(feed: Feed) -> str:
    return "/feeds/" + feeds.link_to(feed).rsplit("/", 1)[-1]


@pytest.fixture
def hers(cast):
    make.lesson(student=cast.oda, starts_at=datetime.now(UTC) + timedelta(days=2), place="Room 2")
    make.lesson(student=cast.ravi, starts_at=datetime.now(UTC) + timedelta(days=3), place="Room 3")
    return feeds.make_feed(cast.oda.user)


def test_a_link_gives_the_lessons_of_its_owner_alone(hers):
    answer = Client().get(path_of(hers))
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert "Room 2" in answer.content.decode()
    assert "Room 3" not in answer.content.decode()
    assert not answer.cookies


def test_what_has_not_changed_is_not_sent_again(hers):
    answer = Client().get(path_of(hers))
    again = Client().get(path_of(hers), headers={"If-None-Match": answer["ETag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_an_ended_link_looks_like_one_that_was_guessed(hers):
    guessed = Client().get("/feeds/" + feeds.signer().sign_object([hers.pk, "x"]) + ".ics")
    feeds.revoke(hers, at=AT)
    ended = Client().get(path_of(hers))
    assert (guessed.status_code, ended.status_code) == (404, 404)
    assert as_shown(guessed) == as_shown(ended)


def as_shown(answer) -> bytes:
    """The page without the masked token against forged requests, which is another one each time."""
    return re.sub(rb'"X-CSRFToken": "[^"]+"', b"", answer.content)


@pytest.mark.parametrize("value", [[1], "x", None, [1, 2, 3], ["a", "b"], {"a": 1}, [1, None]])
def test_a_link_of_another_shape_is_none(hers, value):
    assert feeds.feed_behind(feeds.signer().sign_object(value)) is None


def test_the_link_cannot_be_made_from_the_database_alone(hers, settings):
    link = feeds.link_to(hers)
    settings.SECRET_KEY = "another server's"
    assert feeds.link_to(hers) != link
    assert Client().get("/feeds/" + link.rsplit("/", 1)[-1]).status_code == 404


def test_someone_who_may_not_log_in_any_more_has_no_feed(cast, hers):
    cast.oda.user.is_active = False
    cast.oda.user.save()
    assert Client().get(path_of(hers)).status_code == 404


def test_a_reading_is_noted_once_an_hour(hers):
    for minutes in (0, 10, 70):
        feeds.note_reading(Feed.objects.get(), at=AT + timedelta(minutes=minutes))
        hers.refresh_from_db()
    assert hers.read_at == AT + timedelta(minutes=70)


def test_a_link_is_made_copied_ended_and_brought_back_on_the_page(cast, logged_in):
    page = logged_in(cast.birger.user)
    page.post(reverse("make-link"))
    feed = Feed.objects.get()
    assert feeds.link_to(feed) in page.get(reverse("calendar-links")).content.decode()
    page.post(reverse("end-link", args=[feed.pk]))
    assert feeds.link_to(feed) not in page.get(reverse("calendar-links")).content.decode()
    page.post(reverse("restore-link", args=[feed.pk]))
    assert feeds.feeds_of(cast.birger.user).get() == feed


def test_ten_links_are_enough(cast):
    for _ in range(feeds.MOST):
        feeds.make_feed(cast.oda.user)
    with pytest.raises(feeds.EnoughLinks):
        feeds.make_feed(cast.oda.user)


def test_a_student_is_not_asked_about_mails_on_tuition(cast, logged_in):
    assert "about tuition" not in logged_in(cast.oda.user).get(reverse("calendar-links")).content.decode()
    assert "about tuition" in logged_in(cast.birger.user).get(reverse("calendar-links")).content.decode().lower()
