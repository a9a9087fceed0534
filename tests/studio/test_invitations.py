from datetime import UTC, datetime, timedelta
from hashlib import sha256

import pytest

from studio import invitations
from studio.models import Invitation, Role
from tests import make

NOW = datetime(2020, 11, 25, 12, 0, tzinfo=UTC)
LOGIN = {"name": "Ilmari", "email": "ilmari@example.org", "password": make.PASSWORD}


def test_only_a_hash_of_the_token_is_kept(cast):
    invitation, token = invitations.invite(person=cast.ilmari, at=NOW)
    assert len(token) >= 43  # 32 bytes in base 64
    assert invitation.token_hash == sha256(token.encode()).hexdigest()
    row = Invitation.objects.filter(pk=invitation.pk).values().get()
    assert token not in str(row)


def test_tokens_differ(cast):
    tokens = {invitations.invite(person=cast.ilmari, at=NOW)[1] for _ in range(20)}
    assert len(tokens) == 20


def test_an_invitation_ends_after_its_days(cast, settings):
    settings.INVITATION_DAYS = 3
    _, token = invitations.invite(person=cast.ilmari, at=NOW)
    assert invitations.find(token, at=NOW + timedelta(days=3, seconds=-1))
    assert invitations.find(token, at=NOW + timedelta(days=3)) is None


def test_a_new_invitation_ends_the_older_one(cast):
    _, older = invitations.invite(person=cast.ilmari, at=NOW)
    _, newer = invitations.invite(person=cast.ilmari, at=NOW)
    assert invitations.find(older, at=NOW) is None
    assert invitations.find(newer, at=NOW)


def test_an_invitation_for_one_person_leaves_those_of_others(cast):
    _, ilmaris = invitations.invite(person=cast.ilmari, at=NOW)
    aino = make.guardian(students=[cast.ilmari], name="Aino", email="")
    invitations.invite(person=aino, at=NOW)
    assert invitations.find(ilmaris, at=NOW)


def test_an_invitation_can_be_taken_back(cast):
    invitation, token = invitations.invite(person=cast.ilmari, at=NOW)
    invitations.take_back(invitation=invitation, at=NOW)
    assert invitations.find(token, at=NOW) is None


def test_an_unknown_token_opens_nothing(cast):
    invitations.invite(person=cast.ilmari, at=NOW)
    assert invitations.find("", at=NOW) is None
    assert invitations.find("unknown", at=NOW) is None


def test_a_student_gets_a_login(cast):
    invitation, _ = invitations.invite(person=cast.ilmari, at=NOW)
    user = invitations.accept(invitation=invitation, at=NOW, **LOGIN)
    cast.ilmari.refresh_from_db()
    assert cast.ilmari.user == user
    assert (user.role, user.studio) == (Role.STUDENT, cast.studio)
    assert user.check_password(make.PASSWORD)


def test_a_guardian_gets_a_login(cast):
    aino = make.guardian(students=[cast.ilmari], name="Aino", email="")
    invitation, _ = invitations.invite(person=aino, at=NOW)
    user = invitations.accept(invitation=invitation, at=NOW, **LOGIN)
    aino.refresh_from_db()
    assert aino.user == user
    assert user.role == Role.GUARDIAN


def test_an_invitation_is_used_once(cast):
    invitation, token = invitations.invite(person=cast.ilmari, at=NOW)
    invitations.accept(invitation=invitation, at=NOW, **LOGIN)
    assert invitations.find(token, at=NOW) is None
    with pytest.raises(invitations.InvitationGone):
        invitations.accept(invitation=invitation, at=NOW, **LOGIN | {"email": "again@example.org"})


def test_an_invitation_for_someone_with_a_login_changes_nothing(cast):
    invitation = make.invitation(student=cast.oda)
    with pytest.raises(invitations.InvitationGone):
        invitations.accept(invitation=invitation, at=NOW, **LOGIN)
    invitation.refresh_from_db()
    cast.oda.refresh_from_db()
    assert cast.oda.user.email == "oda@example.org"
    assert invitation.used_at is None


def test_open_invitations_of_a_family_come_together(cast, django_assert_num_queries):
    own, _ = invitations.invite(person=cast.ilmari, at=NOW)
    aino = make.guardian(students=[cast.ilmari], name="Aino", email="")
    hers, _ = invitations.invite(person=aino, at=NOW)
    with django_assert_num_queries(1):
        assert invitations.open_invitations(cast.ilmari, [aino, cast.birger], at=NOW) == (own, {aino.pk: hers})
    assert invitations.open_invitations(cast.ilmari, [aino], at=NOW + timedelta(days=99)) == (None, {})


def test_the_mail_goes_out_with_the_link(cast, letterbox, settings):
    settings.SITE_URL = "https://studio.example.org"
    invitation, token = invitations.invite(person=cast.ilmari, email="family@example.org", at=NOW)
    assert invitations.mail_invitation(invitation=invitation, token=token, sender=cast.teacher)
    (mail,) = letterbox.mails
    assert mail["To"] == "family@example.org"
    assert mail["Reply-To"] == cast.teacher.email
    assert mail["Subject"] == "Your invitation to Studio Harbour Street"
    text = mail.get_content()
    assert f"https://studio.example.org/invitation/{token}/" in text
    assert "Ines Valtonen invites Ilmari Lindqvist" in text
    assert "14 days" in text


def test_a_name_cannot_break_the_head_of_a_mail(cast, letterbox):
    cast.studio.name = "Harbour\r\nBcc: everyone@example.org"
    cast.teacher.studio = cast.studio
    invitation, token = invitations.invite(person=cast.ilmari, email="family@example.org", at=NOW)
    invitations.mail_invitation(invitation=invitation, token=token, sender=cast.teacher)
    (mail,) = letterbox.mails
    assert mail["Bcc"] is None


def test_a_mail_that_cannot_be_sent_is_told(cast, settings, caplog):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1
    invitation, token = invitations.invite(person=cast.ilmari, email="family@example.org", at=NOW)
    assert invitations.mail_invitation(invitation=invitation, token=token, sender=cast.teacher) is False
    assert token not in caplog.text
