"""Invoices, numbered without a gap, and statements of an account."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from studio.locales import day_words, figures, money_words, number_words
from studio.models import Account, Billing, Charge, Invoice, InvoiceLine, Payment, Studio
from studio.money import tax_within
from studio.tuition.accounts import NotPossible
from studio.tuition.balances import Ledger, Row, ledger_of, state_of
from studio.tuition.papers import Paper, draw, to_data


def uninvoiced(account: Account) -> QuerySet[Charge]:
    """The charges that stand on no invoice yet."""
    return account.charges.filter(invoice_line=None).select_related("student")


@transaction.atomic
def make_invoice(*, account: Account, day: date) -> Invoice:
    """Puts every charge that stands on no invoice yet on a new one, with the studio's next number.

    The studio's row is locked meanwhile: of two invoices made at one moment the second waits, and one that fails takes
    no number. A charge that was taken back before it was on an invoice stands on it together with what takes it back.
    Raises `NotPossible` where there is nothing to put on it.
    """
    studio = Studio.objects.select_for_update(no_key=True).get(pk=account.studio_id)
    charges = list(uninvoiced(account))
    if not charges:
        raise NotPossible(_("Everything on this account stands on an invoice already."))
    billing, _made = Billing.objects.get_or_create(studio=studio)
    billing.last_number += 1
    billing.save(update_fields=["last_number"])
    due_on = day + timedelta(days=billing.due_days)
    standing = state_of(account, on=max(day, charges[-1].day)).minor
    paper = invoice_paper(account, studio, billing, charges, day=day, due_on=due_on, standing=standing)
    invoice = Invoice.objects.create(
        studio=studio,
        account=account,
        number=billing.last_number,
        day=day,
        due_on=due_on,
        minor=sum(charge.minor for charge in charges),
        currency=studio.currency,
        content=to_data(paper),
        pdf=draw(paper),
    )
    InvoiceLine.objects.bulk_create(InvoiceLine(invoice=invoice, charge=charge) for charge in charges)
    return invoice


def sender_of(studio: Studio, billing: Billing | None) -> list[str]:
    return [studio.name, *(billing.address.splitlines() if billing else [])]


def receiver_of(account: Account) -> list[str]:
    return [account.name, *account.address.splitlines()]


def invoice_paper(
    account: Account,
    studio: Studio,
    billing: Billing,
    charges: Sequence[Charge],
    *,
    day: date,
    due_on: date,
    standing: int,
) -> Paper:
    """An invoice, or a credit note where what is taken back is more than what is asked."""
    where, currency = studio.locale, studio.currency
    total = sum(charge.minor for charge in charges)
    number = str(billing.last_number)
    title = (_("Invoice %(number)s") if total >= 0 else _("Credit note %(number)s")) % {"number": number}
    facts = [[_("Number"), number], [_("Date"), day_words(day, where)]]
    if total > 0:
        facts.append([_("Please pay by"), day_words(due_on, where)])
    if billing.tax_number:
        facts.append([_("Tax number"), billing.tax_number])
    totals = [[_("Total"), money_words(total, currency, where)]]
    small = []
    if billing.tax_name and billing.tax_rate is not None:
        words = {"tax": billing.tax_name, "rate": number_words(billing.tax_rate, where)}
        tax = tax_within(total, billing.tax_rate)
        totals.append([_("of which %(tax)s, %(rate)s %%") % words, money_words(tax, currency, where)])
        small.append(_("Tax as stated by the studio; local law decides what applies."))
    balance = _("The account stands at %(balance)s, with this invoice and what was paid until today.")
    return Paper(
        title=title,
        sender=sender_of(studio, billing),
        receiver=receiver_of(account),
        facts=facts,
        columns=[[_("Day"), 0.3], [_("For"), 1], [_("Student"), 0.45], [currency, 0]],
        rows=[
            [
                day_words(charge.day, where),
                charge.text,
                charge.student.name if charge.student else "",
                figures(charge.minor, currency, where),
            ]
            for charge in charges
        ],
        totals=totals,
        words=[part for part in (billing.words, balance % {"balance": money_words(standing, currency, where)}) if part],
        small=small,
        size=studio.paper,
        language=get_language() or "en",
    )


def statement_paper(account: Account, studio: Studio, *, first: date, last: date) -> Paper:
    """What was charged and paid from a day to a day, both included, between the balance before and after."""
    where, currency = studio.locale, studio.currency
    ledger: Ledger = ledger_of(account, first=first, last=last)
    span = {"first": day_words(first, where), "last": day_words(last, where)}
    billing = Billing.objects.filter(studio=studio).first()
    opening = ["", _("Balance before"), "", "", figures(ledger.opening, currency, where)]
    return Paper(
        title=_("Statement of account"),
        sender=sender_of(studio, billing),
        receiver=receiver_of(account),
        facts=[[_("From"), span["first"]], [_("To"), span["last"]]],
        columns=[[_("Day"), 0.32], [_("For"), 1], [_("Charged"), 0], [_("Paid"), 0], [_("Balance, %s") % currency, 0]],
        rows=[opening, *(statement_row(row, studio) for row in ledger.rows)],
        totals=[[_("Balance on %(last)s") % span, money_words(ledger.closing, currency, where)]],
        words=[standing_words(ledger.closing, studio)],
        size=studio.paper,
        language=get_language() or "en",
    )


def statement_row(row: Row, studio: Studio) -> list[str]:
    where, currency = studio.locale, studio.currency
    amount = figures(row.minor if row.is_charge else row.paid, currency, where)
    return [
        day_words(row.day, where),
        entry_words(row.entry),
        amount if row.is_charge else "",
        "" if row.is_charge else amount,
        figures(row.balance, currency, where),
    ]


def entry_words(entry: Charge | Payment) -> str:
    """What stands for an entry in a ledger: what it is for and for whom, or how it was paid."""
    if isinstance(entry, Charge):
        return f"{entry.text}, {entry.student.name}" if entry.student else entry.text
    words = _("Refund") if entry.is_refund else _("Payment")
    if entry.reverses_id:
        words = _("%(entry)s taken back") % {"entry": words}
    parts = (words, entry.get_method_display(), entry.reference)
    return ", ".join(part for part in parts if part)


def standing_words(minor: int, studio: Studio) -> str:
    """The balance in a sentence."""
    words = {"amount": money_words(abs(minor), studio.currency, studio.locale)}
    if minor > 0:
        return _("%(amount)s is to be paid.") % words
    if minor < 0:
        return _("%(amount)s stands to your credit.") % words
    return _("Everything is paid.")


def draw_statement(account: Account, studio: Studio, *, first: date, last: date) -> bytes:
    return draw(statement_paper(account, studio, first=first, last=last))
