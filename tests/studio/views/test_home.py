import pytest
from django.test import Client

from tests.html import assert_clean


@pytest.mark.django_db
def test_a_stranger_reads_what_this_is():
    answer = Client().get("/")
    assert answer.status_code == 200
    assert "piano teachers" in answer.content.decode()
    assert_clean(answer.content.decode())


@pytest.mark.django_db
def test_a_watcher_may_ask_whether_the_site_is_there_without_reading_it():
    answer = Client().head("/")
    assert (answer.status_code, answer.content) == (200, b"")


@pytest.mark.parametrize(
    ("who", "page"), [("teacher", "/today/"), ("student", "/this-week/"), ("guardian", "/children/")]
)
def test_everyone_else_is_sent_to_where_the_day_begins(cast, logged_in, who, page):
    user = {"teacher": cast.teacher, "student": cast.oda.user, "guardian": cast.birger.user}[who]
    assert logged_in(user).get("/").url == page
