import re
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from studio import invitations
from studio.forms import NewLoginForm
from studio.models import Invitation, User
from tests import make
from tests.html import assert_clean

LOGIN = {"name": "Ilmari", "email": "ilmari@example.org", "password": make.PASSWORD}


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


def link_in(answer) -> str:
    """The path of the link that the page shows."""
    return re.search(r'id="link" value="[^"]*?(/invitation/[^"]+)"', answer.content.decode())[1]


def test_the_link_is_shown_once_and_opens_a_login(cast, teacher):
    asked = teacher.get(f"/students/{cast.ilmari.pk}/invite/")
    assert_clean(asked.content.decode())
    assert "Local law decides" in asked.content.decode()
    shown = teacher.post(f"/students/{cast.ilmari.pk}/invite/", {"email": ""})
    assert_clean(shown.content.decode())
    assert "no-store" in shown["Cache-Control"]
    link = link_in(shown)
    token = link.split("/")[2]
    assert token not in teacher.get(f"/students/{cast.ilmari.pk}/").content.decode()
    assert token not in teacher.get(f"/students/{cast.ilmari.pk}/invite/").content.decode()

    child = Client()
    form = child.get(link)
    assert "Ilmari Lindqvist" in form.content.decode()
    assert "Local law decides" in form.content.decode()
    assert_clean(form.content.decode())
    assert child.post(link, LOGIN).url == "/"
    assert child.get("/").url == "/this-week/"
    assert child.get(link).status_code == 404


def test_a_guardian_is_invited_to_the_address_that_is_known(cast, teacher, letterbox):
    aino = make.guardian(students=[cast.ilmari], name="Aino Lindqvist", email="aino@example.org")
    assert 'value="aino@example.org"' in teacher.get(f"/guardians/{aino.pk}/invite/").content.decode()
    shown = teacher.post(f"/guardians/{aino.pk}/invite/", {"email": "aino@example.org"})
    assert "on its way to aino@example.org" in shown.content.decode()
    (mail,) = letterbox.mails
    assert link_in(shown) in mail.get_content()
    guardian = Client()
    assert guardian.post(link_in(shown), LOGIN | {"email": "aino@example.org"}).url == "/"
    assert guardian.get("/").url == "/children/"


def test_a_mail_that_fails_leaves_a_link_that_works(cast, teacher, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1
    shown = teacher.post(f"/students/{cast.ilmari.pk}/invite/", {"email": "family@example.org"})
    assert "could not be sent" in shown.content.decode()
    assert Client().get(link_in(shown)).status_code == 200


def test_an_address_that_is_none_makes_no_invitation(cast, teacher):
    assert teacher.post(f"/students/{cast.ilmari.pk}/invite/", {"email": "family"}).status_code == 422
    assert not Invitation.objects.exists()


def test_inviting_again_says_that_the_older_link_ends(cast, teacher):
    older = link_in(teacher.post(f"/students/{cast.ilmari.pk}/invite/", {}))
    assert "An earlier link still works" in teacher.get(f"/students/{cast.ilmari.pk}/invite/").content.decode()
    newer = link_in(teacher.post(f"/students/{cast.ilmari.pk}/invite/", {}))
    assert Client().get(older).status_code == 404
    assert Client().get(newer).status_code == 200


def test_whoever_logs_in_already_is_not_invited(cast, teacher):
    for answer in (teacher.get(f"/students/{cast.oda.pk}/invite/"), teacher.post(f"/students/{cast.oda.pk}/invite/")):
        assert answer.url == f"/students/{cast.oda.pk}/"
    assert not Invitation.objects.exists()


def test_an_invitation_is_taken_back(cast, teacher):
    link = link_in(teacher.post(f"/students/{cast.ilmari.pk}/invite/", {}))
    invitation = Invitation.objects.get()
    page = teacher.get(f"/students/{cast.ilmari.pk}/").content.decode()
    assert f"/invitations/{invitation.pk}/take-back/" in page
    teacher.post(f"/invitations/{invitation.pk}/take-back/")
    assert Client().get(link).status_code == 404
    assert teacher.post(f"/invitations/{invitation.pk}/take-back/").status_code == 404


def without_token(answer) -> str:
    return re.sub(r'"X-CSRFToken": "\w+"', "", answer.content.decode())


def test_links_that_open_nothing_cannot_be_told_apart(cast):
    now = timezone.now()
    used, used_token = invitations.invite(person=cast.ilmari, at=now)
    invitations.accept(invitation=used, at=now, **LOGIN)
    aino = make.guardian(students=[cast.oda], name="Aino")
    back, back_token = invitations.invite(person=aino, at=now)
    invitations.take_back(invitation=back, at=now)
    nils = make.student(studio=cast.studio, name="Nils")
    _, old_token = invitations.invite(person=nils, at=now - timedelta(days=99))
    answers = [Client().get(f"/invitation/{token}/") for token in (used_token, back_token, old_token, "unknown")]
    answers += [Client().post(f"/invitation/{old_token}/", LOGIN)]
    assert {answer.status_code for answer in answers} == {404}
    assert len({without_token(answer) for answer in answers}) == 1
    assert "ask your teacher for a new invitation" in answers[0].content.decode()
    assert_clean(answers[0].content.decode())


def test_an_address_that_has_a_login_leaves_the_invitation_open(cast):
    _, token = invitations.invite(person=cast.ilmari, at=timezone.now())
    answer = Client().post(f"/invitation/{token}/", LOGIN | {"email": "oda@example.org"})
    assert answer.status_code == 422
    assert 'value="Ilmari"' in answer.content.decode()
    assert Client().post(f"/invitation/{token}/", LOGIN).status_code == 302


def test_an_address_that_is_taken_at_the_same_moment_leaves_the_invitation_open_too(cast, monkeypatch):
    _, token = invitations.invite(person=cast.ilmari, at=timezone.now())
    with monkeypatch.context() as patch:
        patch.delattr(NewLoginForm, "clean_email")
        answer = Client().post(f"/invitation/{token}/", LOGIN | {"email": "oda@example.org"})
    assert answer.status_code == 422
    assert Client().post(f"/invitation/{token}/", LOGIN).status_code == 302


def test_accepting_while_somebody_is_logged_in_is_said_before(cast, teacher):
    _, token = invitations.invite(person=cast.ilmari, at=timezone.now())
    assert "You are logged in as Ines Valtonen" in teacher.get(f"/invitation/{token}/").content.decode()
    teacher.post(f"/invitation/{token}/", LOGIN)
    assert teacher.get("/").url == "/this-week/"
    assert User.objects.get(email="ilmari@example.org").student == cast.ilmari
