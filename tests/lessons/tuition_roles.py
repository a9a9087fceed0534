"""Who gets what where lessons meet tuition."""

from datetime import date

from lessons.tuition_reminders import token_for
from studio.tuition import entries
from studio.tuition.accounts import open_account
from tests.people import Cast
from tests.roles import Row, open_to_all, teachers


def who_owes(cast: Cast) -> dict[str, int]:
    account = open_account(studio=cast.studio, name="Lindqvist", guardians=[cast.birger])
    entries.charge(account=account, kind="recital", minor=2500, text="Hall", day=date(2020, 11, 2), once="the hall")
    return {"pk": account.pk}


def link(cast: Cast) -> dict[str, str]:
    return {"token": token_for(open_account(studio=cast.studio, name="Lindqvist"), "somebody@example.org")}


KEY = "00000000-0000-0000-0000-000000000007"

TABLE: dict[str, Row] = {
    "charging": Row(get=teachers(200, next_door=200), post=teachers(302, next_door=302)),
    "remind": Row(
        get=teachers(200),
        post=teachers(302),
        target=who_owes,
        data=lambda cast: {"key": KEY, "subject": "Tuition", "text": "Dear family"},
    ),
    "no-more-mails": Row(get=open_to_all(200), post=open_to_all(200), target=link),
}
