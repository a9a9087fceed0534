"""Polite reminders of what is owed: drafted here, worded by the teacher, sent once, recorded, and easily stopped."""

import logging
from collections.abc import Sequence
from datetime import datetime
from smtplib import SMTPException

from django.conf import settings
from django.core import signing
from django.core.mail import EmailMessage
from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _

from lessons.models import NoticeWish
from studio.locales import day_words, money_words
from studio.models import Account, Reminder, Student, Studio, User
from studio.tuition.balances import State

SALT = "tuition.no-more-mails"
log = logging.getLogger(__name__)


def recipients(account: Account) -> list[str]:
    """Where a reminder goes: the account's own address, else its guardians', else a student's who pays for herself.
    Nobody who wants no mails about tuition."""
    if account.no_reminders:
        return []
    if account.email:
        found = [account.email]
    elif guardians := list(account.guardians.select_related("user")):
        found = [guardian.user.email if guardian.user else guardian.email for guardian in guardians]
    else:
        students = Student.objects.filter(enrolments__account=account, guardians=None).exclude(user=None)
        found = [student.user.email for student in students.select_related("user").distinct() if student.user]
    wanted = [address for address in dict.fromkeys(found) if address]
    stopped = NoticeWish.objects.filter(studio_id=account.studio_id, tuition=False, user__email__in=wanted)
    unwanted = set(stopped.values_list("user__email", flat=True))
    return [address for address in wanted if address.lower() not in unwanted]


def draft(account: Account, state: State, studio: Studio, teacher: User) -> dict[str, str]:
    """Words to begin with; the teacher may change them all."""
    amount = money_words(state.minor, studio.currency, studio.locale)
    since = day_words(state.since, studio.locale) if state.since else ""
    text = _(
        "Dear %(account)s,\n\n"
        "may I remind you of the tuition? On your account %(amount)s is open, the oldest part since %(since)s. "
        "If it is on its way, please take no notice of this; if something is unclear, just write back.\n\n"
        "Kind regards\n%(teacher)s\n%(studio)s"
    )
    words = {"account": account.name, "amount": amount, "since": since, "teacher": teacher.name, "studio": studio.name}
    return {"subject": _("Tuition, %(studio)s") % {"studio": studio.name}, "text": text % words}


def send(
    *, account: Account, to: Sequence[str], subject: str, text: str, once: str, by: User, at: datetime
) -> Reminder:
    """Records the reminder and sends it, one mail to each address. A second call with the same `once` sends nothing.
    What could not be sent stands in `trouble`."""
    fields = {"account": account, "to": ", ".join(to), "subject": subject, "text": text, "written_by": by}
    with transaction.atomic():
        row, is_new = Reminder.objects.get_or_create(studio_id=account.studio_id, once=once, defaults=fields)
    if not is_new:
        return row
    try:
        for address in to:
            mail(account, address, subject, text, reply_to=by.email).send()
        row.sent_at = at
    except (SMTPException, OSError) as trouble:
        log.exception("a reminder could not be mailed")
        row.trouble = str(trouble)[:300]
    row.save(update_fields=["sent_at", "trouble"])
    return row


def mail(account: Account, address: str, subject: str, text: str, *, reply_to: str) -> EmailMessage:
    """The mail with its way out."""
    link = settings.SITE_URL + reverse("no-more-mails", args=[token_for(account, address)])
    way_out = _("To get no more mails about tuition, open this page:")
    body = f"{text}\n\n-- \n{way_out}\n{link}\n"
    return EmailMessage(subject, body, to=[address], reply_to=[reply_to], headers={"List-Unsubscribe": f"<{link}>"})


def token_for(account: Account, address: str) -> str:
    return signing.dumps({"account": account.pk, "to": address.lower()}, salt=SALT)


def read_token(token: str) -> tuple[Account, str]:
    """The account and the address that a link was made for. Raises `signing.BadSignature`, `Account.DoesNotExist`."""
    given = signing.loads(token, salt=SALT)
    return Account.objects.select_related("studio").get(pk=given["account"]), given["to"]


@transaction.atomic
def stop(*, account: Account, address: str) -> None:
    """No more mails about tuition to this person; to the account where the address is nobody's login."""
    user = User.objects.filter(studio_id=account.studio_id, email=address).first()
    if user:
        NoticeWish.objects.update_or_create(
            user=user, defaults={"tuition": False}, create_defaults={"studio_id": user.studio_id, "tuition": False}
        )
        return
    account.no_reminders = True
    account.save(update_fields=["no_reminders"])
