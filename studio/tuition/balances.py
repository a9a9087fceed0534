"""Who owes what since when; an account's ledger, ready to be read."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from django.db.models import Q, QuerySet, Sum

from studio.ledger import Line, balance, running, unpaid
from studio.models import Account, Charge, Payment, Price, Studio


@dataclass(frozen=True)
class State:
    """An account on a day. `minor` above zero is owed, below zero it stands to the family's credit."""

    account: Account
    minor: int
    since: date | None = None

    @property
    def owes(self) -> bool:
        return self.minor > 0

    @property
    def credit(self) -> int:
        return -self.minor


@dataclass(frozen=True)
class Row:
    """One line of the ledger. `minor` is what it adds to what is owed; `balance` is after it."""

    day: date
    minor: int
    balance: int
    entry: Charge | Payment

    @property
    def is_charge(self) -> bool:
        return isinstance(self.entry, Charge)

    @property
    def paid(self) -> int:
        """What was received (below zero: given back); for a payment."""
        return -self.minor


@dataclass(frozen=True)
class Ledger:
    """An account's entries from a day to a day, between two balances."""

    opening: int
    rows: list[Row]
    closing: int


def has_money(studio: Studio) -> bool:
    """Whether a price or an entry stands in the studio's currency."""
    return any(model.objects.filter(studio=studio).exists() for model in (Price, Charge, Payment))


def sums(entries: QuerySet, on: date) -> dict[int, int]:
    """Account -> sum of its entries until a day, that day included."""
    return dict(entries.filter(day__lte=on).values_list("account_id").annotate(Sum("minor")).order_by())


def states(accounts: QuerySet[Account], *, studio: Studio, on: date) -> list[State]:
    """Each account's state: those who owe first, the longest waiting on top. The number of queries does not grow."""
    rows = list(accounts)
    charged = sums(Charge.objects.filter(studio=studio), on)
    paid = sums(Payment.objects.filter(studio=studio), on)
    balances = {row.pk: charged.get(row.pk, 0) - paid.get(row.pk, 0) for row in rows}
    since = oldest(studio, [pk for pk, minor in balances.items() if minor > 0], on)
    found = [State(row, balances[row.pk], since.get(row.pk)) for row in rows]
    return sorted(found, key=lambda state: (not state.owes, state.since or date.max, -state.minor))


def oldest(studio: Studio, owing: list[int], on: date) -> dict[int, date]:
    """Account -> the day of its oldest unpaid entry."""
    lines: dict[int, list[Line]] = defaultdict(list)
    if not owing:
        return {}
    wanted = set(owing)
    for account, line in all_lines(Q(studio=studio, day__lte=on)):
        if account in wanted:
            lines[account].append(line)
    return {account: unpaid(of_one)[0].line.day for account, of_one in lines.items() if unpaid(of_one)}


def all_lines(which: Q) -> list[tuple[int, Line]]:
    """(account, line) of every entry, as the ledger's arithmetic takes them."""
    found = []
    fields = ("account_id", "day", "minor", "pk", "reverses_id")
    for letter, sign, entries in (("c", 1, Charge.objects), ("p", -1, Payment.objects)):
        for account, day, minor, pk, reverses in entries.filter(which).values_list(*fields).order_by("day", "pk"):
            line = Line(day, sign * minor, f"{letter}{pk}", f"{letter}{reverses}" if reverses else "")
            found.append((account, line))
    return found


def state_of(account: Account, *, on: date) -> State:
    return state_from(account, [line for _, line in all_lines(Q(account=account, day__lte=on))])


def state_from(account: Account, lines: list[Line]) -> State:
    open_lines = unpaid(lines)
    return State(account, balance(lines), open_lines[0].line.day if open_lines else None)


@dataclass(frozen=True)
class Entries:
    """All entries of one account, read once."""

    account: Account
    charges: list[Charge]
    payments: list[Payment]

    @cached_property
    def by_key(self) -> dict[str, Charge | Payment]:
        return {f"c{row.pk}": row for row in self.charges} | {f"p{row.pk}": row for row in self.payments}

    @cached_property
    def lines(self) -> list[Line]:
        return [
            Line(
                entry.day,
                entry.minor if isinstance(entry, Charge) else -entry.minor,
                key,
                f"{key[0]}{entry.reverses_id}" if entry.reverses_id else "",
            )
            for key, entry in self.by_key.items()
        ]

    def state(self, *, on: date) -> State:
        return state_from(self.account, [line for line in self.lines if line.day <= on])

    def ledger(self, *, first: date | None = None, last: date | None = None) -> Ledger:
        """From `first` to `last`, both included, with the running balance; all without them."""
        opening = balance(line for line in self.lines if first and line.day < first)
        within = [line for line in self.lines if (not first or line.day >= first) and (not last or line.day <= last)]
        found = running(within, opening=opening)
        rows = [Row(line.day, line.minor, after, self.by_key[line.key]) for line, after in found]
        return Ledger(opening, rows, rows[-1].balance if rows else opening)

    def reaches_back_before(self, day: date) -> bool:
        return any(line.day < day for line in self.lines)

    def to_invoice(self) -> bool:
        """Whether a charge stands on no invoice yet."""
        return any(not hasattr(charge, "invoice_line") for charge in self.charges)


def read(account: Account) -> Entries:
    """The account's entries, with what a line of the ledger tells of them, in two queries."""
    charges = account.charges.select_related("student", "invoice_line__invoice", "reversed_by")
    charges = charges.defer("invoice_line__invoice__pdf", "invoice_line__invoice__content")
    return Entries(account, list(charges), list(account.payments.select_related("reversed_by")))


def ledger_of(account: Account, *, first: date | None = None, last: date | None = None) -> Ledger:
    return read(account).ledger(first=first, last=last)
