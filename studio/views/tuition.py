"""Who owes what; one account with its ledger, and what is written into it by hand."""

from collections.abc import Callable
from typing import Any

from django.db.models import Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.access import account_for, accounts_of, for_guardians, for_payers, for_teachers
from studio.locales import money_words
from studio.models import Account, Charge, Enrolment, Payment, Plan, Student
from studio.pages import page, say
from studio.tuition import accounts, entries
from studio.tuition.accounts import NotPossible
from studio.tuition.balances import read, state_of, states
from studio.tuition.invoicing import standing_words
from studio.tuition_forms import AccountForm, ChargeForm, PayForm, SeveralForm, SpanForm

SECTION = {"section": "tuition"}


@for_teachers
@require_GET
def tuition(request: HttpRequest) -> HttpResponse:
    """Every account, those who owe first."""
    studio, today = request.user.studio, timezone.localdate()
    found = states(accounts_of(request.user), studio=studio, on=today)
    owing = [state for state in found if state.owes]
    context = {
        "studio": studio,
        "owing": owing,
        "others": [state for state in found if not state.owes],
        "total": sum(state.minor for state in owing),
        "credit": sum(state.credit for state in found if state.credit > 0),
        "has_plans": Plan.objects.filter(studio=studio).exists(),
        "year": today.year,
        **SECTION,
    }
    return page(request, "studio/tuition.html", context)


@for_payers
@require_GET
def account(request: HttpRequest, pk: int) -> HttpResponse:
    """An account's ledger; the teacher's with what she may do, the guardian's to read."""
    return account_page(request, account_for(request.user, pk))


def account_page(request: HttpRequest, row: Account, form: PayForm | None = None) -> HttpResponse:
    studio, today = request.user.studio, timezone.localdate()
    entries_of = read(row)
    state, since = entries_of.state(on=today), today.replace(day=1, year=today.year - 1)
    older = "all" not in request.GET and entries_of.reaches_back_before(since)
    enrolments = row.enrolments.select_related("student", "plan").annotate(left=Sum("package_entries__lessons"))
    context: dict[str, Any] = {
        "studio": studio,
        "account": row,
        "state": state,
        "standing": standing_words(state.minor, studio),
        "ledger": entries_of.ledger(first=since if older else None),
        "since": since,
        "older": older,
        "invoices": row.invoices.defer("pdf", "content"),
        "span": SpanForm(initial={"first": today.replace(month=1, day=1), "last": today}),
        "enrolments": enrolments,
        **SECTION,
    }
    if request.user.is_teacher:
        context |= {
            "form": form or PayForm(studio=studio, today=today, initial=pay_initial(state.minor)),
            "guardians": row.guardians.all(),
            "reminders": row.reminders.all()[:5],
            "to_invoice": entries_of.to_invoice(),
        }
    return page(request, "studio/account.html", context)


def pay_initial(minor: int) -> dict[str, Any]:
    """What is owed stands in the field, since that is what most often comes."""
    return {"amount": minor} if minor > 0 else {}


@for_guardians
@require_GET
def family_account(request: HttpRequest) -> HttpResponse:
    """The guardian's own account; a list where she has several."""
    rows = list(accounts_of(request.user))
    if len(rows) == 1:
        return redirect("account", pk=rows[0].pk)
    return page(request, "studio/family_accounts.html", {"accounts": rows, **SECTION})


@for_teachers
@require_http_methods(["GET", "POST"])
def new_account(request: HttpRequest) -> HttpResponse:
    studio = request.user.studio
    form = AccountForm(request.POST or None, studio=studio)
    if not form.is_valid():
        return page(request, "studio/account_form.html", {"form": form, **SECTION})
    row = accounts.open_account(studio=studio, **form.cleaned_data)
    say(request, _("The account is open."))
    return redirect("account", pk=row.pk)


@for_teachers
@require_http_methods(["GET", "POST"])
def change_account(request: HttpRequest, pk: int) -> HttpResponse:
    row = account_for(request.user, pk)
    form = AccountForm(request.POST or None, studio=request.user.studio, instance=row)
    if not form.is_valid():
        return page(request, "studio/account_form.html", {"form": form, "account": row, **SECTION})
    accounts.change_account(account=row, **form.cleaned_data)
    say(request, _("Kept."))
    return redirect("account", pk=pk)


# What is written by hand


@for_teachers
@require_POST
def pay(request: HttpRequest, pk: int) -> HttpResponse:
    row, studio = account_for(request.user, pk), request.user.studio
    form = PayForm(request.POST, studio=studio, today=timezone.localdate())
    if not form.is_valid():
        return account_page(request, row, form)
    payment = entries.pay(account=row, once=form.once(), by=request.user, **payment_fields(form))
    amount = money_words(payment.minor, studio.currency, studio.locale)
    undo = reverse("take-back-payment", args=[payment.pk])
    say(request, _("%(amount)s from %(account)s is noted.") % {"amount": amount, "account": row}, undo=undo)
    return redirect("account", pk=pk)


def payment_fields(form: PayForm) -> dict[str, Any]:
    given = form.cleaned_data
    return {
        "minor": given["amount"],
        "method": given["method"],
        "day": given["day"],
        "reference": given["reference"],
    }


@for_teachers
@require_http_methods(["GET", "POST"])
def refund(request: HttpRequest, pk: int) -> HttpResponse:
    """Money given back: an entry of its own."""
    row, studio, today = account_for(request.user, pk), request.user.studio, timezone.localdate()
    state = state_of(row, on=today)
    form = PayForm(request.POST or None, studio=studio, today=today, initial=pay_initial(-state.minor))
    form.fields["method"].label = _("Given back by")
    if not form.is_valid():
        return page(
            request, "studio/refund.html", {"form": form, "account": row, "studio": studio, "state": state, **SECTION}
        )
    payment = entries.refund(account=row, once=form.once(), by=request.user, **payment_fields(form))
    say(request, _("The refund is noted."), undo=reverse("take-back-payment", args=[payment.pk]))
    return redirect("account", pk=pk)


@for_teachers
@require_http_methods(["GET", "POST"])
def charge_account(request: HttpRequest, pk: int) -> HttpResponse:
    """Materials, a recital, or a correction."""
    row, studio = account_for(request.user, pk), request.user.studio
    students = Student.objects.filter(enrolments__account=row).distinct()
    form = ChargeForm(request.POST or None, studio=studio, today=timezone.localdate(), students=students)
    if not form.is_valid():
        return page(request, "studio/charge_form.html", {"form": form, "account": row, **SECTION})
    charge = entries.charge(account=row, by=request.user, **form.entry())
    say(request, _("It stands in the ledger."), undo=reverse("take-back-charge", args=[charge.pk]))
    return redirect("account", pk=pk)


@for_teachers
@require_http_methods(["GET", "POST"])
def charge_several(request: HttpRequest) -> HttpResponse:
    """A recital or materials for several students at once."""
    studio, today = request.user.studio, timezone.localdate()
    enrolments = Enrolment.objects.filter(studio=studio).on(today).select_related("student", "account")
    form = SeveralForm(
        request.POST or None, studio=studio, today=today, enrolments=enrolments.order_by("student__name", "pk")
    )
    if not form.is_valid():
        return page(request, "studio/charge_several.html", {"form": form, "nobody": not form.enrolments, **SECTION})
    given = form.cleaned_data
    made = entries.charge_several(
        students=form.chosen(),
        kind=given["kind"],
        minor=given["amount"],
        text=given["text"],
        day=given["day"],
        once=form.once(),
        divided=given["share"] == "all",
        by=request.user,
    )
    amount = money_words(sum(charge.minor for charge in made), studio.currency, studio.locale)
    say(request, _("%(count)d charges, %(amount)s in all.") % {"count": len(made), "amount": amount})
    return redirect("tuition")


@for_teachers
@require_POST
def take_back_charge(request: HttpRequest, pk: int) -> HttpResponse:
    charge = get_object_or_404(Charge.objects.filter(studio_id=request.user.studio_id), pk=pk)
    return take_back(request, charge, entries.take_back_charge, charge=charge)


@for_teachers
@require_POST
def take_back_payment(request: HttpRequest, pk: int) -> HttpResponse:
    payment = get_object_or_404(Payment.objects.filter(studio_id=request.user.studio_id), pk=pk)
    return take_back(request, payment, entries.take_back_payment, payment=payment)


def take_back(request: HttpRequest, entry: Charge | Payment, verb: Callable[..., Any], **what: Any) -> HttpResponse:
    """Writes the entry that cancels one. The entry itself stays where it is."""
    try:
        verb(day=max(timezone.localdate(), entry.day), by=request.user, **what)
    except NotPossible as trouble:
        say(request, str(trouble))
    else:
        say(request, _("Taken back: an entry that cancels it stands in the ledger."))
    return redirect("account", pk=entry.account_id)
