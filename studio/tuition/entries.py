"""Verbs that write into the ledger by hand. Each writes one entry and changes none; `once` is the key under which it is
written at most once, however often the same form arrives."""

from collections.abc import Mapping, Sequence
from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from studio.models import Account, Charge, PackageEntry, Payment, Student, Studio, User
from studio.money import allocate
from studio.tuition.accounts import NotPossible


@transaction.atomic
def charge(
    *,
    account: Account,
    kind: str,
    minor: int,
    text: str,
    day: date,
    once: str,
    student: Student | None = None,
    by: User | None = None,
) -> Charge:
    """Materials, a recital, or an adjustment; only the last may be below zero. In minor units of the studio's currency.

    Raises `NotPossible` for nothing, and for less than nothing where it is no adjustment.
    """
    if minor == 0 or (minor < 0 and kind != Charge.Kind.ADJUSTMENT):
        raise NotPossible(_("The amount must be above zero."))
    studio = Studio.objects.select_for_update(no_key=True).get(pk=account.studio_id)
    fields = {
        "account": account,
        "student": student,
        "kind": kind,
        "minor": minor,
        "currency": studio.currency,
        "text": text,
        "day": day,
        "written_by": by,
    }
    return Charge.objects.get_or_create(studio=studio, once=once, defaults=fields)[0]


@transaction.atomic
def charge_several(
    *,
    students: Sequence[tuple[Student, Account]],
    kind: str,
    minor: int,
    text: str,
    day: date,
    once: str,
    divided: bool = False,
    by: User | None = None,
) -> list[Charge]:
    """The same charge for several students, to each one's account. With `divided` the amount is that of all together,
    and is divided so that the parts sum to it. Raises `NotPossible` where a part would be nothing."""
    parts = allocate(minor, [1] * len(students)) if divided else [minor] * len(students)
    return [
        charge(
            account=account,
            kind=kind,
            minor=part,
            text=text,
            day=day,
            once=f"{once}-{student.pk}",
            student=student,
            by=by,
        )
        for part, (student, account) in zip(parts, students, strict=True)
    ]


@transaction.atomic
def pay(
    *,
    account: Account,
    minor: int,
    method: str,
    day: date,
    once: str,
    reference: str = "",
    by: User | None = None,
) -> Payment:
    """Money received. Raises `NotPossible` unless it is above zero."""
    if minor <= 0:
        raise NotPossible(_("The amount must be above zero."))
    return write_payment(account, minor, once, method=method, day=day, reference=reference, written_by=by)


@transaction.atomic
def refund(
    *, account: Account, minor: int, method: str, day: date, once: str, reference: str = "", by: User | None = None
) -> Payment:
    """Money given back: an entry of its own, below zero. `minor` is given above zero; else `NotPossible`."""
    if minor <= 0:
        raise NotPossible(_("The amount must be above zero."))
    return write_payment(
        account, -minor, once, method=method, day=day, reference=reference, written_by=by, is_refund=True
    )


def write_payment(account: Account, minor: int, once: str, **fields: object) -> Payment:
    studio = Studio.objects.select_for_update(no_key=True).get(pk=account.studio_id)
    values: Mapping[str, object] = {"account": account, "minor": minor, "currency": studio.currency, **fields}
    return Payment.objects.get_or_create(studio=studio, once=once, defaults=values)[0]


@transaction.atomic
def take_back_charge(*, charge: Charge, day: date, by: User | None = None) -> Charge:
    """The entry that cancels a charge. The rules leave what it was about alone from then on.

    Raises `NotPossible` for a charge that was taken back, or that itself takes one back.
    """
    Studio.objects.select_for_update(no_key=True).get(pk=charge.studio_id)
    refuse_twice(charge)
    back = Charge.objects.create(
        studio_id=charge.studio_id,
        account_id=charge.account_id,
        student_id=charge.student_id,
        kind=Charge.Kind.ADJUSTMENT,
        minor=-charge.minor,
        currency=charge.currency,
        day=day,
        text=(_("Taken back: %(text)s") % {"text": charge.text})[:200],
        first_day=charge.first_day,
        last_day=charge.last_day,
        about=charge.about,
        once=f"back-{charge.pk}",
        reverses=charge,
        written_by=by,
    )
    for entry in charge.package_entries.all():
        PackageEntry.objects.create(
            studio_id=entry.studio_id,
            enrolment_id=entry.enrolment_id,
            lessons=-entry.lessons,
            day=day,
            about=f"back-{charge.pk}",
            once=f"back-{charge.pk}",
            charge=back,
        )
    return back


@transaction.atomic
def take_back_payment(*, payment: Payment, day: date, by: User | None = None) -> Payment:
    """The entry that cancels a payment or a refund that was written by mistake. Raises `NotPossible` like above."""
    Studio.objects.select_for_update(no_key=True).get(pk=payment.studio_id)
    refuse_twice(payment)
    return Payment.objects.create(
        studio_id=payment.studio_id,
        account_id=payment.account_id,
        minor=-payment.minor,
        currency=payment.currency,
        day=day,
        method=payment.method,
        reference=payment.reference,
        is_refund=payment.is_refund,
        once=f"back-{payment.pk}",
        reverses=payment,
        written_by=by,
    )


def refuse_twice(entry: Charge | Payment) -> None:
    if entry.reverses_id or type(entry).objects.filter(reverses=entry).exists():
        raise NotPossible(_("This entry is taken back already."))
