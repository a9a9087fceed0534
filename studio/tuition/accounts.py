"""Verbs for accounts, plans and enrolments. Nothing here writes into the ledger."""

from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from studio.models import Account, Billing, Discount, Enrolment, Guardian, Plan, Price, Student, Studio


class NotPossible(ValueError):
    """Something that cannot be; the words say why and may be shown."""


def same_studio(*rows: Student | Account | Plan | Guardian) -> None:
    """Raises `ValueError` for rows of different studios."""
    if len({row.studio_id for row in rows}) > 1:
        raise ValueError("of different studios")


@transaction.atomic
def open_account(
    *, studio: Studio, name: str, guardians: Iterable[Guardian] = (), email: str = "", address: str = ""
) -> Account:
    """An account with nothing on it yet, which these guardians may read."""
    guardians = list(guardians)
    account = Account.objects.create(studio=studio, name=name, email=email, address=address)
    same_studio(account, *guardians)
    account.guardians.set(guardians)
    return account


@transaction.atomic
def change_account(
    *, account: Account, name: str, guardians: Iterable[Guardian], email: str, address: str, no_reminders: bool
) -> None:
    guardians = list(guardians)
    same_studio(account, *guardians)
    account.name, account.email, account.address = name, email, address
    account.no_reminders = no_reminders
    account.save(update_fields=["name", "email", "address", "no_reminders"])
    account.guardians.set(guardians)


@transaction.atomic
def add_plan(
    *,
    studio: Studio,
    name: str,
    per: str,
    minor: int,
    from_day: date,
    lessons: int | None = None,
    divided: str = Plan.Divided.DAYS,
) -> Plan:
    """A plan with its first price, in minor units. `lessons`: the size of a package."""
    size = lessons if per == Plan.Per.PACKAGE else None
    plan = Plan.objects.create(studio=studio, name=name, per=per, lessons=size, divided=divided)
    set_price(plan=plan, minor=minor, from_day=from_day)
    return plan


def set_price(*, plan: Plan, minor: int, from_day: date) -> Price:
    """The plan's price from a day on. A second one from the same day takes the place of the first; what was charged
    already is brought to it by an adjusting entry."""
    fields = {"minor": minor, "studio_id": plan.studio_id}
    return Price.objects.update_or_create(plan=plan, from_day=from_day, defaults=fields)[0]


def retire_plan(*, plan: Plan, retired: bool = True) -> None:
    """Those who are enrolled stay so; nobody new is offered it."""
    plan.retired = retired
    plan.save(update_fields=["retired"])


def set_discount(*, studio: Studio, from_day: date, order: str, second: Decimal, further: Decimal) -> Discount:
    """What siblings get off from a day on, in percent."""
    fields = {"order": order, "second": second, "further": further}
    return Discount.objects.update_or_create(studio=studio, from_day=from_day, defaults=fields)[0]


def set_billing(*, studio: Studio, **fields: object) -> Billing:
    """What stands on invoices. Only these fields are written: the number of the last invoice belongs to invoicing."""
    return Billing.objects.update_or_create(studio=studio, defaults=fields)[0]


@transaction.atomic
def enrol(*, student: Student, account: Account, plan: Plan, first_day: date) -> Enrolment:
    """Puts a student on a plan from a day on; the plan that she had until then ends the day before.

    Raises `NotPossible` where a plan of hers begins on that day or later.
    """
    same_studio(student, account, plan)
    student = Student.objects.select_for_update(no_key=True).get(pk=student.pk)
    others = Enrolment.objects.filter(student=student)
    if others.filter(first_day__gte=first_day).exists():
        raise NotPossible(
            _("%(student)s has a plan already that begins on this day or later. Choose a later day.")
            % {"student": student}
        )
    for other in others.on(first_day):
        other.last_day = first_day - timedelta(days=1)
        other.save(update_fields=["last_day"])
    return Enrolment.objects.create(
        studio_id=student.studio_id, student=student, account=account, plan=plan, first_day=first_day
    )


@transaction.atomic
def enrol_family(
    *, student: Student, plan: Plan, first_day: date, account: Account | None = None, name: str = ""
) -> Enrolment:
    """`enrol`; without an account a new one of that name is opened, which those who answer for the student may read."""
    if account is None:
        account = open_account(studio=student.studio, name=name, guardians=student.guardians.all())
    return enrol(student=student, account=account, plan=plan, first_day=first_day)


@transaction.atomic
def end_enrolment(*, enrolment: Enrolment, last_day: date | None) -> None:
    """The last day on the plan; None for no end. What was charged beyond it is given back by an adjusting entry.

    Raises `NotPossible` for a day before the first, or where a later plan of hers would be overlapped.
    """
    if last_day and last_day < enrolment.first_day:
        raise NotPossible(_("The last day lies before the first."))
    later = Enrolment.objects.filter(student_id=enrolment.student_id, first_day__gt=enrolment.first_day)
    following = later.order_by("first_day").first()
    if following and (last_day is None or last_day >= following.first_day):
        raise NotPossible(_("The next plan has begun by then."))
    enrolment.last_day = last_day
    enrolment.save(update_fields=["last_day"])


@transaction.atomic
def take_back_enrolment(*, enrolment: Enrolment) -> None:
    """An enrolment made by mistake. What was charged for it is given back by adjusting entries at the next charging.

    Raises `NotPossible` where lessons of a package were counted down: then it ends, but was there.
    """
    if enrolment.package_entries.exists():
        raise NotPossible(_("Lessons of this package were taken already. End the plan instead."))
    enrolment.delete()
