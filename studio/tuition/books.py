"""For the accountant: a year in sums, and every entry as CSV."""

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from io import StringIO

from django.utils.translation import gettext as _

from studio.models import Charge, Payment, Studio
from studio.money import to_amount
from studio.tuition.invoicing import entry_words

RISKY = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")  # a spreadsheet may take what begins so for a formula


@dataclass(frozen=True)
class Year:
    """`months` has a row for each month and a last one for the year: sums by kind of charge and method of payment, in
    minor units. Adjustments are a kind of their own; refunds are subtracted from the method they went back by."""

    year: int
    kinds: list[str]
    methods: list[str]
    months: list["MonthSums"]
    total: "MonthSums"


@dataclass(frozen=True)
class MonthSums:
    month: date | None
    charged: list[int]
    received: list[int]

    @property
    def charged_in_all(self) -> int:
        return sum(self.charged)

    @property
    def received_in_all(self) -> int:
        return sum(self.received)


def year_summary(studio: Studio, year: int) -> Year:
    """What was charged and received in a calendar year, month by month."""
    kinds, methods = list(Charge.Kind), list(Payment.Method)
    charged = table(studio, year, Charge, "kind", [kind.value for kind in kinds])
    received = table(studio, year, Payment, "method", [method.value for method in methods])
    months = [MonthSums(date(year, month, 1), charged[month], received[month]) for month in range(1, 13)]
    total = MonthSums(None, sums(charged), sums(received))
    return Year(year, [str(kind.label) for kind in kinds], [str(one.label) for one in methods], months, total)


def table(
    studio: Studio, year: int, model: type[Charge] | type[Payment], field: str, names: list[str]
) -> list[list[int]]:
    """Sums by month (from 1; row 0 stays empty) and by the names in `field`."""
    found = [[0] * len(names) for _month in range(13)]
    for day, name, minor in model.objects.filter(studio=studio, day__year=year).values_list("day", field, "minor"):
        found[day.month][names.index(name)] += minor
    return found


def sums(rows: list[list[int]]) -> list[int]:
    return [sum(column) for column in zip(*rows, strict=True)]


def harmless(text: str) -> str:
    """A cell of words that no spreadsheet takes for a formula."""
    return f"'{text}" if text.startswith(RISKY) else text


def as_csv(rows: Iterator[list[str]]) -> str:
    """With a byte order mark, by which spreadsheets know UTF-8; CRLF as RFC 4180 asks."""
    file = StringIO()
    file.write("\ufeff")
    csv.writer(file, lineterminator="\r\n").writerows(rows)
    return file.getvalue()


def entries_csv(studio: Studio, year: int) -> str:
    """Every entry of a year in the order of days. Amounts with a point, whatever the locale; paid ones below zero."""
    return as_csv(entry_rows(studio, year))


def entry_rows(studio: Studio, year: int) -> Iterator[list[str]]:
    yield [
        _("day"),
        _("account"),
        _("student"),
        _("entry"),
        _("kind"),
        _("for"),
        _("amount"),
        _("currency"),
        _("reference"),
        _("invoice"),
        _("number"),
        _("takes back"),
        _("written"),
    ]
    charges = Charge.objects.filter(studio=studio, day__year=year).select_related(
        "account", "student", "invoice_line__invoice"
    )
    charges = charges.defer("invoice_line__invoice__pdf", "invoice_line__invoice__content")
    payments = Payment.objects.filter(studio=studio, day__year=year).select_related("account")
    for entry in sorted([*charges, *payments], key=lambda entry: (entry.day, entry.written_at)):
        yield charge_row(entry) if isinstance(entry, Charge) else payment_row(entry)


def charge_row(row: Charge) -> list[str]:
    line = getattr(row, "invoice_line", None)
    return [
        row.day.isoformat(),
        harmless(row.account.name),
        harmless(row.student.name) if row.student else "",
        _("charge"),
        row.get_kind_display(),
        harmless(row.text),
        str(to_amount(row.minor, row.currency)),
        row.currency,
        "",
        str(line.invoice.number) if line else "",
        f"c{row.pk}",
        f"c{row.reverses_id}" if row.reverses_id else "",
        row.written_at.date().isoformat(),
    ]


def payment_row(row: Payment) -> list[str]:
    return [
        row.day.isoformat(),
        harmless(row.account.name),
        "",
        _("refund") if row.is_refund else _("payment"),
        row.get_method_display(),
        entry_words(row),
        str(to_amount(-row.minor, row.currency)),
        row.currency,
        harmless(row.reference),
        "",
        f"p{row.pk}",
        f"p{row.reverses_id}" if row.reverses_id else "",
        row.written_at.date().isoformat(),
    ]


def year_csv(studio: Studio, year: int) -> str:
    """The year's sums, a row for each month and one for the year."""
    found = year_summary(studio, year)

    def amounts(minors: list[int]) -> list[str]:
        return [str(to_amount(minor, studio.currency)) for minor in minors]

    def rows() -> Iterator[list[str]]:
        received = [_("received, %s") % method for method in found.methods]
        yield [_("month"), *found.kinds, _("charged in all"), *received, _("received in all"), _("currency")]
        for row in (*found.months, found.total):
            name = f"{row.month:%Y-%m}" if row.month else str(year)
            charged, paid = [*row.charged, row.charged_in_all], [*row.received, row.received_in_all]
            yield [name, *amounts(charged), *amounts(paid), studio.currency]

    return as_csv(rows())


def years(studio: Studio, today: date) -> list[int]:
    """The years that have entries, and this one; the newest first."""
    first = [
        row.day.year
        for row in (
            Charge.objects.filter(studio=studio).order_by("day").first(),
            Payment.objects.filter(studio=studio).order_by("day").first(),
        )
        if row
    ]
    return list(range(today.year, min([*first, today.year]) - 1, -1))
