"""Invitations: links by which students and guardians make their own login.

A token is 32 random bytes; only its SHA-256 is kept. It opens once, within `settings.INVITATION_DAYS`, unless it is
taken back before.
"""

import logging
import secrets
from collections.abc import Iterable
from datetime import datetime, timedelta
from hashlib import sha256
from smtplib import SMTPException

from django.conf import settings
from django.db import transaction
from django.db.models import Q, QuerySet
from django.urls import reverse

from studio.mails import write
from studio.models import Guardian, Invitation, Role, Student, User

log = logging.getLogger(__name__)

Invited = Student | Guardian


class InvitationGone(Exception):
    """Used, taken back, too old, or never made: for the one who holds the link these are the same."""


def hash_of(token: str) -> str:
    return sha256(token.encode()).hexdigest()


def invitations_for(person: Invited) -> QuerySet[Invitation]:
    """All invitations that were ever made for this person."""
    of_whom = {"student": person} if isinstance(person, Student) else {"guardian": person}
    return Invitation.objects.filter(**of_whom)


def open_invitation(person: Invited, *, at: datetime) -> Invitation | None:
    return invitations_for(person).open(at=at).order_by("-pk").first()


def open_invitations(
    student: Student, guardians: Iterable[Guardian], *, at: datetime
) -> tuple[Invitation | None, dict[int, Invitation]]:
    """The student's open invitation, and those of the guardians by their key, in one query."""
    rows = list(Invitation.objects.open(at=at).filter(Q(student=student) | Q(guardian__in=guardians)).order_by("pk"))
    own = [row for row in rows if row.student_id]
    return (own[-1] if own else None), {row.guardian_id: row for row in rows if row.guardian_id}


@transaction.atomic
def invite(*, person: Invited, email: str = "", at: datetime) -> tuple[Invitation, str]:
    """Makes an invitation and returns it with its token, which is nowhere else. Older ones for the person end."""
    invitations_for(person).open(at=at).update(revoked_at=at)
    token = secrets.token_urlsafe(32)
    invitation = Invitation.objects.create(
        studio_id=person.studio_id,
        student=person if isinstance(person, Student) else None,
        guardian=person if isinstance(person, Guardian) else None,
        email=email,
        token_hash=hash_of(token),
        expires_at=at + timedelta(days=settings.INVITATION_DAYS),
    )
    return invitation, token


def link_of(token: str) -> str:
    return settings.SITE_URL + reverse("invitation", args=[token])


def mail_invitation(*, invitation: Invitation, token: str, sender: User) -> bool:
    """Sends the link to the invitation's address. False when that failed; the link works all the same."""
    message = write(
        "invitation",
        to=invitation.email,
        reply_to=sender.email,
        invitation=invitation,
        person=invitation.student or invitation.guardian,
        sender=sender,
        link=link_of(token),
        days=settings.INVITATION_DAYS,
    )
    try:
        message.send()
    except (SMTPException, OSError):
        log.exception("an invitation could not be mailed")
        return False
    return True


def take_back(*, invitation: Invitation, at: datetime) -> None:
    invitation.revoked_at = at
    invitation.save(update_fields=["revoked_at"])


def find(token: str, *, at: datetime) -> Invitation | None:
    """The invitation that this token opens at this moment."""
    return (
        Invitation.objects.open(at=at)
        .filter(token_hash=hash_of(token))
        .select_related("studio", "student", "guardian")
        .first()
    )


@transaction.atomic
def accept(*, invitation: Invitation, name: str, email: str, password: str, at: datetime) -> User:
    """Makes the login and links it to the student or guardian. Raises `InvitationGone` when the link was used meanwhile
    (of two that come at the same moment, one wins) or the person has a login by now."""
    if not Invitation.objects.open(at=at).filter(pk=invitation.pk).update(used_at=at):
        raise InvitationGone
    model = Student if invitation.student_id else Guardian
    person = model.objects.select_for_update().get(pk=invitation.student_id or invitation.guardian_id)
    if person.user_id:
        raise InvitationGone
    role = Role.STUDENT if invitation.student_id else Role.GUARDIAN
    person.user = User.objects.create_user(
        email=email, password=password, name=name, studio=invitation.studio, role=role
    )
    person.save(update_fields=["user"])
    return person.user
