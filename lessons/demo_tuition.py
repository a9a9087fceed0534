"""The money of the demo studio: plans, accounts, ten weeks of charges by rule, payments, an invoice."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from lessons.charging import charge_due
from lessons.models import Attendance, Lesson
from studio.models import Account, Billing, Guardian, Plan, Student, Studio, User
from studio.money import to_minor
from studio.tuition.accounts import add_plan, enrol, open_account, set_discount, set_price
from studio.tuition.balances import state_of
from studio.tuition.entries import charge, charge_several, pay
from studio.tuition.invoicing import make_invoice

Data = dict[str, Any]


def lay_out_tuition(studio: Studio, data: Data, students: dict[str, Student], today: date, by: User | None) -> None:
    """`data` is the part [tuition] of the demo's file. Charges begin with the month before last."""
    begin = month_before(month_before(today.replace(day=1)))
    Billing.objects.create(studio=studio, **data["billing"])
    plans = {row["name"]: make_plan(studio, row, begin) for row in data["plans"]}
    siblings = [Decimal(rate) for rate in data["siblings"]]
    set_discount(studio=studio, from_day=begin, order="joined", second=siblings[0], further=siblings[1])
    accounts = {row["name"]: make_account(studio, row, plans, students, begin) for row in data["accounts"]}
    said_by_the_lesson(studio, today)
    charge_due(studio=studio, at=today, by=by)
    for number, row in enumerate(data["entries"]):
        write_entry(studio, row, accounts, students, today, f"demo-{number}", by)
    settle(data, accounts, today, by)


def month_before(first: date) -> date:
    return (first - timedelta(days=1)).replace(day=1)


def make_plan(studio: Studio, row: Data, begin: date) -> Plan:
    plan = add_plan(
        studio=studio,
        name=row["name"],
        per=row["per"],
        lessons=row.get("lessons"),
        minor=to_minor(Decimal(row["price"]), studio.currency),
        from_day=begin,
    )
    if "next" in row:
        following = (begin + timedelta(days=150)).replace(day=1)
        set_price(plan=plan, minor=to_minor(Decimal(row["next"]), studio.currency), from_day=following)
    return plan


def make_account(
    studio: Studio, row: Data, plans: dict[str, Plan], students: dict[str, Student], begin: date
) -> Account:
    guardians = Guardian.objects.filter(studio=studio, name__in=row.get("guardians", ()))
    account = open_account(studio=studio, name=row["name"], guardians=guardians, address=row.get("address", ""))
    joined = begin + timedelta(days=row.get("joined", 0))
    for student, plan in row["plans"].items():
        enrol(student=students[student], account=account, plan=plans[plan], first_day=joined)
    return account


def said_by_the_lesson(studio: Studio, today: date) -> None:
    """Who pays by the lesson was there, unless something else was said."""
    past = Lesson.objects.filter(studio=studio, attendance=Attendance.UNSAID, starts_at__date__lt=today).held()
    by_lesson = past.filter(student__enrolments__plan__per__in=(Plan.Per.LESSON, Plan.Per.PACKAGE))
    for lesson in by_lesson:
        lesson.attendance = Attendance.PRESENT
        lesson.save(update_fields=["attendance"])


def write_entry(
    studio: Studio,
    row: Data,
    accounts: dict[str, Account],
    students: dict[str, Student],
    today: date,
    once: str,
    by: User | None,
) -> None:
    """One charge beside tuition, for one student or for several."""
    minor, day = to_minor(Decimal(row["amount"]), studio.currency), today - timedelta(days=row["ago"])
    chosen = [students[name] for name in row["students"]]
    shared = {"kind": row["kind"], "text": row["text"], "day": day, "by": by}
    homes = [(student, student.enrolments.get().account) for student in chosen]
    if row.get("divided"):
        charge_several(students=homes, minor=minor, once=once, divided=True, **shared)
        return
    for student, account in homes:
        charge(account=account, student=student, minor=minor, once=f"{once}-{student.pk}", **shared)


def settle(data: Data, accounts: dict[str, Account], today: date, by: User | None) -> None:
    """Each family's payments: all that was owed so many days ago, by its own way; and invoices for some."""
    for row in data["accounts"]:
        account = accounts[row["name"]]
        for number, ago in enumerate(row.get("paid", ())):
            day = today - timedelta(days=ago)
            owed = state_of(account, on=day).minor
            if owed > 0:
                once = f"demo-paid-{account.pk}-{number}"
                pay(account=account, minor=owed, method=row["method"], day=day, once=once, by=by)
        if row.get("invoice"):
            make_invoice(account=account, day=today)
