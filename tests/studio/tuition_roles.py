"""Who gets what at the addresses of tuition. The account is that of Oda's family: Birger may read it, Sunita not."""

import uuid
from datetime import date

from studio.models import Account, Enrolment
from studio.tuition import entries
from studio.tuition.accounts import add_plan, enrol, open_account
from studio.tuition.invoicing import make_invoice
from tests.people import Cast
from tests.roles import Row, teachers

ONLY_POST = (405, 404, 404, 404, 404, 405, 302)
OWN_PAGE = teachers(200, next_door=200)
DAY = "2020-11-02"


def payers(own: int) -> tuple[int, ...]:
    """The teacher and the guardian whose account it is."""
    return (own, 404, own, 404, 404, 404, 302)


def account(cast: Cast) -> Account:
    return open_account(studio=cast.studio, name="Lindqvist", guardians=[cast.birger])


def enrolled(cast: Cast) -> Enrolment:
    plan = add_plan(studio=cast.studio, name="Monthly", per="month", minor=8000, from_day=date(2020, 1, 1))
    return enrol(student=cast.oda, account=account(cast), plan=plan, first_day=date(2020, 1, 1))


def of_account(cast: Cast) -> dict[str, int]:
    return {"pk": account(cast).pk}


def of_plan(cast: Cast) -> dict[str, int]:
    return {"pk": enrolled(cast).plan_id}


def of_enrolment(cast: Cast) -> dict[str, int]:
    return {"pk": enrolled(cast).pk}


def charge(cast: Cast, where: Account):
    return entries.charge(
        account=where, kind="materials", minor=1250, text="Études", day=date(2020, 11, 2), once="a charge"
    )


def of_charge(cast: Cast) -> dict[str, int]:
    return {"pk": charge(cast, account(cast)).pk}


def of_payment(cast: Cast) -> dict[str, int]:
    row = entries.pay(account=account(cast), minor=500, method="cash", day=date(2020, 11, 2), once="a payment")
    return {"pk": row.pk}


def of_invoice(cast: Cast) -> dict[str, int]:
    where = account(cast)
    charge(cast, where)
    return {"pk": make_invoice(account=where, day=date(2020, 11, 3)).pk}


def to_invoice(cast: Cast) -> dict[str, int]:
    where = account(cast)
    charge(cast, where)
    return {"pk": where.pk}


def of_oda(cast: Cast) -> dict[str, int]:
    return {"pk": cast.oda.pk}


def a_year(cast: Cast) -> dict[str, int]:
    return {"year": 2020}


def entry(**more: str):
    return lambda cast: {"key": str(uuid.UUID(int=7)), "amount": "12.50", "day": date.today().isoformat(), **more}


def post_only(target, posted: tuple[int, ...] | None = None, data=lambda cast: {}) -> Row:
    return Row(get=ONLY_POST, post=posted or teachers(302), target=target, data=data)


TABLE: dict[str, Row] = {
    "tuition": Row(get=OWN_PAGE, post=ONLY_POST),
    "family-account": Row(get=(404, 404, 200, 404, 200, 404, 302), post=(404, 404, 405, 404, 405, 404, 302)),
    "new-account": Row(get=OWN_PAGE, post=teachers(302, next_door=302), data=lambda cast: {"name": "Menon"}),
    "account": Row(get=payers(200), post=(405, 404, 405, 404, 405, 405, 302), target=of_account),
    "change-account": Row(get=teachers(200), post=teachers(302), target=of_account, data=lambda cast: {"name": "L."}),
    "pay": post_only(of_account, data=entry(method="cash")),
    "refund": Row(get=teachers(200), post=teachers(302), target=of_account, data=entry(method="cash")),
    "charge-account": Row(
        get=teachers(200), post=teachers(302), target=of_account, data=entry(kind="materials", text="Études")
    ),
    "statement": Row(get=payers(200), post=(405, 404, 405, 404, 405, 405, 302), target=of_account),
    "new-invoice": post_only(to_invoice),
    "invoice": Row(get=payers(200), post=(405, 404, 405, 404, 405, 405, 302), target=of_invoice),
    "charge-several": Row(get=OWN_PAGE, post=teachers(422, next_door=422), data=lambda cast: {"kind": "recital"}),
    "take-back-charge": post_only(of_charge),
    "take-back-payment": post_only(of_payment),
    "plans": Row(get=OWN_PAGE, post=ONLY_POST),
    "new-plan": Row(
        get=OWN_PAGE,
        post=teachers(302, next_door=302),
        data=lambda cast: {"name": "Weekly", "per": "month", "divided": "days", "amount": "80", "from_day": DAY},
    ),
    "new-price": Row(
        get=teachers(200), post=teachers(302), target=of_plan, data=lambda cast: {"amount": "85", "from_day": DAY}
    ),
    "retire-plan": post_only(of_plan),
    "offer-plan": post_only(of_plan),
    "new-discount": Row(
        get=OWN_PAGE,
        post=teachers(302, next_door=302),
        data=lambda cast: {"second": "10", "further": "15", "order": "joined", "from_day": DAY},
    ),
    "billing": Row(get=OWN_PAGE, post=teachers(302, next_door=302), data=lambda cast: {"due_days": "14"}),
    "tuition-year": Row(get=OWN_PAGE, post=ONLY_POST, target=a_year),
    "tuition-entries-file": Row(get=OWN_PAGE, post=ONLY_POST, target=a_year),
    "tuition-year-file": Row(get=OWN_PAGE, post=ONLY_POST, target=a_year),
    "enrol": Row(get=teachers(200), post=teachers(422), target=of_oda, data=lambda cast: {"name": "Lindqvist"}),
    "end-enrolment": Row(
        get=teachers(200), post=teachers(302), target=of_enrolment, data=lambda cast: {"last_day": "2020-12-31"}
    ),
    "take-back-enrolment": post_only(of_enrolment),
}
