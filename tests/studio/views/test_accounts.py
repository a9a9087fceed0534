import re
import threading

import pytest
from django.contrib.auth import get_user
from django.test import Client
from pytest_django.asserts import assertRedirects

from studio.forms import NewLoginForm
from studio.models import Studio, User
from tests import make
from tests.html import assert_clean

START = {
    "name": "Studio am Hafen",
    "timezone": "Europe/Berlin",
    "currency": "EUR",
    "paper": "A4",
    "you-name": "Jonna Weber",
    "you-email": "Jonna@Example.org",
    "you-password": make.PASSWORD,
}


def who(client: Client):
    """Who this client is logged in as, or None."""
    user = get_user(type("Request", (), {"session": client.session})())
    return user if user.is_authenticated else None


def log_in(client: Client, email: str, password: str, **extra):
    return client.post("/log-in/", {"email": email, "password": password}, **extra)


@pytest.mark.django_db
def test_a_teacher_starts_a_studio_and_is_logged_in():
    client = Client()
    answer = client.post("/start/", START)
    assertRedirects(answer, "/students/")
    user = who(client)
    assert (user.email, user.role, user.studio.name) == ("jonna@example.org", "teacher", "Studio am Hafen")
    assert Studio.objects.get().timezone == "Europe/Berlin"


@pytest.mark.django_db
def test_a_studio_that_does_not_hold_comes_back_with_what_was_typed():
    answer = Client().post("/start/", START | {"currency": "money", "you-email": "jonna"})
    html = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="Studio am Hafen"' in html
    assert 'value="Jonna Weber"' in html
    assert html.count('class="errorlist"') == 2
    assert_clean(html)
    assert not User.objects.exists()


def test_an_address_with_a_login_starts_no_second_studio(cast):
    answer = Client().post("/start/", START | {"you-email": "INES@example.org"})
    assert answer.status_code == 422
    assert "already a login with this address" in answer.content.decode()


def test_an_address_that_is_taken_at_the_same_moment_is_said_too(cast, monkeypatch):
    monkeypatch.delattr(NewLoginForm, "clean_email")  # as if the other request had not come to its end yet
    answer = Client().post("/start/", START | {"you-email": "ines@example.org"})
    assert answer.status_code == 422
    assert "already a login with this address" in answer.content.decode()
    assert Studio.objects.count() == 2


def test_a_login_is_asked_for_by_e_mail_however_it_is_written(cast):
    client = Client()
    assert log_in(client, " Ines@EXAMPLE.org ", make.PASSWORD).status_code == 302
    assert who(client) == cast.teacher


def test_a_wrong_password_says_no_more_than_it_must(cast):
    client = Client()
    wrong = log_in(client, "ines@example.org", "something else")
    unknown = log_in(client, "nobody@example.org", "something else")
    assert wrong.status_code == unknown.status_code == 422
    said = "This address and this password do not go together."
    assert said in wrong.content.decode()
    assert said in unknown.content.decode()
    assert who(client) is None


def test_whoever_is_switched_off_cannot_log_in(cast):
    cast.teacher.is_active = False
    cast.teacher.save(update_fields=["is_active"])
    assert log_in(Client(), "ines@example.org", make.PASSWORD).status_code == 422


def test_after_the_log_in_comes_the_page_that_was_asked_for(cast):
    client = Client()
    asked = client.get("/students/")
    assert asked.url == "/log-in/?next=/students/"
    assert 'name="next" value="/students/"' in client.get(asked.url).content.decode()
    answer = client.post(asked.url, {"email": "ines@example.org", "password": make.PASSWORD, "next": "/students/"})
    assert answer.url == "/students/"


@pytest.mark.parametrize("elsewhere", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"])
def test_a_log_in_never_leads_elsewhere(cast, elsewhere):
    answer = Client().post("/log-in/", {"email": "ines@example.org", "password": make.PASSWORD, "next": elsewhere})
    assert answer.url == "/"


def test_many_wrong_guesses_lock_out_that_address_for_that_account_only(cast, settings):
    settings.AXES_FAILURE_LIMIT = 3
    guesser = {"REMOTE_ADDR": "192.0.2.7"}
    answers = [log_in(Client(), "ines@example.org", "guess", **guesser).status_code for _ in range(4)]
    assert answers[:2] == [422, 422]
    assert answers[-1] == 429
    locked = log_in(Client(), "ines@example.org", make.PASSWORD, **guesser)
    assert locked.status_code == 429
    assert "Too many tries" in locked.content.decode()
    assert "rests for 15 minutes" in locked.content.decode()
    assert_clean(locked.content.decode())
    # the same account from elsewhere, and another account from the same place, are free
    assert log_in(Client(), "ines@example.org", make.PASSWORD, REMOTE_ADDR="192.0.2.8").status_code == 302
    assert log_in(Client(), "oda@example.org", make.PASSWORD, **guesser).status_code == 302


def test_another_way_to_write_the_address_gives_no_more_guesses(cast, settings):
    settings.AXES_FAILURE_LIMIT = 3
    spellings = ("ines@example.org", "INES@example.org", " Ines@Example.org", "ines@EXAMPLE.ORG")
    assert [log_in(Client(), spelling, "guess").status_code for spelling in spellings][-1] == 429


def test_logging_in_forgets_the_wrong_guesses(cast, settings):
    settings.AXES_FAILURE_LIMIT = 3
    for _ in range(3):
        log_in(Client(), "ines@example.org", "guess")
        assert log_in(Client(), "ines@example.org", make.PASSWORD).status_code == 302


def test_logging_out_takes_a_post(cast, logged_in):
    client = logged_in(cast.teacher)
    assert client.get("/log-out/").status_code == 405
    assert who(client) == cast.teacher
    assert client.post("/log-out/").url == "/"
    assert who(client) is None


def test_a_password_is_changed_with_the_old_one(cast, logged_in):
    client, elsewhere = logged_in(cast.teacher), logged_in(cast.teacher)
    new = {"new_password1": "nine blue pedals", "new_password2": "nine blue pedals"}
    assert client.post("/password/", new | {"old_password": "wrong"}).status_code == 422
    assert client.post("/password/", new | {"old_password": make.PASSWORD}).status_code == 302
    assert who(client) == cast.teacher
    assert elsewhere.get("/students/").status_code == 302  # logged out there
    cast.teacher.refresh_from_db()
    assert cast.teacher.check_password("nine blue pedals")


def wait_for_mails():
    for thread in threading.enumerate():
        if thread.name == "mail":
            thread.join(timeout=10)


def test_a_forgotten_password_goes_by_mail(cast, letterbox, settings):
    settings.SITE_URL = "https://studio.example.org"
    client = Client()
    assert client.post("/password/forgotten/", {"email": "INES@example.org"}).url == "/password/forgotten/sent/"
    wait_for_mails()
    (mail,) = letterbox.mails
    assert mail["To"] == "ines@example.org"
    link = re.search(r"https://studio\.example\.org(/password/new/\S+/)", mail.get_content())
    form = client.get(link[1], follow=True)
    assert form.status_code == 200
    assert_clean(form.content.decode())
    here = form.request["PATH_INFO"]
    assert link[1] not in here  # the token is no longer in the address
    weak = client.post(here, {"new_password1": "short", "new_password2": "short"})
    assert weak.status_code == 422
    done = client.post(here, {"new_password1": "nine blue pedals", "new_password2": "nine blue pedals"})
    assert done.url == "/"
    assert who(client) == cast.teacher
    assert Client().get(link[1]).status_code == 404  # once


def test_an_unknown_address_gets_the_same_answer_and_no_mail(cast, letterbox):
    known = Client().post("/password/forgotten/", {"email": "ines@example.org"}, follow=True)
    wait_for_mails()
    letterbox.mails.clear()
    unknown = Client().post("/password/forgotten/", {"email": "nobody@example.org"}, follow=True)
    wait_for_mails()
    assert letterbox.mails == []
    assert unknown.redirect_chain == known.redirect_chain
    without_token = [re.sub(r'"X-CSRFToken": "\w+"', "", page.content.decode()) for page in (known, unknown)]
    assert without_token[0] == without_token[1]


def test_asking_again_and_again_fills_nobodys_letterbox(cast, letterbox):
    for _ in range(5):
        assert Client().post("/password/forgotten/", {"email": "ines@example.org"}).status_code == 302
    Client().post("/password/forgotten/", {"email": "oda@example.org"})
    wait_for_mails()
    assert sorted(mail["To"] for mail in letterbox.mails) == ["ines@example.org", "oda@example.org"]


def test_a_spoiled_link_for_a_new_password_says_what_to_do(cast):
    answer = Client().get("/password/new/MQ/spoiled-token/")
    assert answer.status_code == 404
    assert "Have a new one sent to you" in answer.content.decode()


@pytest.mark.django_db
@pytest.mark.parametrize("page", ["/start/", "/log-in/", "/password/forgotten/", "/password/forgotten/sent/"])
def test_the_pages_for_strangers_are_clean(page):
    assert_clean(Client().get(page).content.decode())


def test_the_page_for_a_password_is_clean(cast, logged_in):
    assert_clean(logged_in(cast.oda.user).get("/password/").content.decode())
