"""Builders for tuition: plans, accounts, enrolments, entries. Days lie in 2020 like those of `tests.make`."""

from datetime import UTC, date, datetime
from itertools import count

from studio.models import Account, Charge, Enrolment, Payment, Plan, Student, Studio
from studio.tuition import accounts, charging, entries
from studio.tuition.dues import Draft, LessonFact

numbers = count(1)
SEPTEMBER = date(2020, 9, 1)


def account(studio: Studio, **given) -> Account:
    return accounts.open_account(studio=studio, **{"name": "Lindqvist", **given})


def plan(studio: Studio, per: str = "month", minor: int = 8000, **given) -> Plan:
    size = 10 if per == "package" else None
    fields = {"name": f"Plan {per}", "from_day": date(2020, 1, 1), "lessons": size}
    return accounts.add_plan(studio=studio, per=per, minor=minor, **{**fields, **given})


def enrolment(student: Student, *, on: Account | None = None, by: Plan | None = None, **given) -> Enrolment:
    fields = {"account": on or account(student.studio), "plan": by or plan(student.studio), "first_day": SEPTEMBER}
    return accounts.enrol(student=student, **{**fields, **given})


def charge(account: Account, minor: int = 5000, day: date = SEPTEMBER, **given) -> Charge:
    fields = {"kind": "materials", "text": "Book of studies", "once": f"charge {next(numbers)}"}
    return entries.charge(account=account, minor=minor, day=day, **{**fields, **given})


def payment(account: Account, minor: int = 5000, day: date = SEPTEMBER, **given) -> Payment:
    fields = {"method": "transfer", "once": f"payment {next(numbers)}"}
    return entries.pay(account=account, minor=minor, day=day, **{**fields, **given})


def lesson(number: int, student: Student, day: date, *, counts: bool = True, remark: str = "") -> LessonFact:
    return LessonFact(f"lesson-{number}", student.pk, day, counts, remark)


def write(studio: Studio, at: date, *lessons: LessonFact) -> Draft:
    return charging.write(studio=studio, at=at, lessons=lessons)


def written(account: Account) -> list[tuple[date, int]]:
    """(day, amount) of the account's charges in the order in which they were written."""
    return list(account.charges.order_by("pk").values_list("day", "minor"))


def noon(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 12, 0, tzinfo=UTC)
