"""Statements, invoices, and what the accountant gets."""

from datetime import date
from urllib.parse import quote

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from studio.access import account_for, accounts_of, for_payers, for_teachers
from studio.models import Invoice
from studio.pages import page, say
from studio.tuition.accounts import NotPossible
from studio.tuition.books import entries_csv, year_csv, year_summary, years
from studio.tuition.invoicing import draw_statement, make_invoice
from studio.tuition_forms import SpanForm

SECTION = {"section": "tuition"}


def as_file(content: bytes, kind: str, name: str, *, inline: bool = True) -> HttpResponse:
    """A file with a name that every system takes."""
    stem, _dot, ending = name.rpartition(".")
    plain, full = f"{slugify(stem) or 'tuition'}.{ending}", quote(name.replace("/", "-"))
    answer = HttpResponse(content, content_type=kind)
    shown = "inline" if inline else "attachment"
    answer["Content-Disposition"] = f"{shown}; filename=\"{plain}\"; filename*=UTF-8''{full}"
    answer["Cache-Control"] = "private, no-store"
    return answer


@for_payers
@require_GET
def statement(request: HttpRequest, pk: int) -> HttpResponse:
    """The account from a day to a day; this year until today where no days are given."""
    row, today = account_for(request.user, pk), timezone.localdate()
    form = SpanForm(request.GET or {"first": today.replace(month=1, day=1), "last": today})
    if not form.is_valid():
        wrong = [f"{form[name].label}: {words}" for name, found in form.errors.items() for words in found]
        say(request, _("No statement was made. %(why)s") % {"why": " ".join(wrong)})
        return redirect("account", pk=pk)
    first, last = form.cleaned_data["first"], form.cleaned_data["last"]
    pdf = draw_statement(row, request.user.studio, first=first, last=last)
    return as_file(pdf, "application/pdf", f"{row.name} {first} {last}.pdf")


@for_teachers
@require_POST
def new_invoice(request: HttpRequest, pk: int) -> HttpResponse:
    row = account_for(request.user, pk)
    try:
        made = make_invoice(account=row, day=timezone.localdate())
    except NotPossible as trouble:
        say(request, str(trouble))
    else:
        say(request, _("Invoice %(number)d is made. It stays as it is.") % {"number": made.number})
    return redirect("account", pk=pk)


@for_payers
@require_GET
def invoice(request: HttpRequest, pk: int) -> HttpResponse:
    """The kept PDF, byte for byte."""
    rows = Invoice.objects.filter(account__in=accounts_of(request.user)).defer("content")
    row = get_object_or_404(rows.select_related("account"), pk=pk)
    return as_file(bytes(row.pdf), "application/pdf", f"{_('Invoice')} {row.number} {row.account.name}.pdf")


def a_year(year: int) -> int:
    """Raises `Http404` for a year that no calendar has."""
    if not date.min.year < year < date.max.year:
        raise Http404
    return year


@for_teachers
@require_GET
def year(request: HttpRequest, year: int) -> HttpResponse:
    studio = request.user.studio
    context = {
        "studio": studio,
        "summary": year_summary(studio, a_year(year)),
        "years": years(studio, timezone.localdate()),
        **SECTION,
    }
    return page(request, "studio/tuition_year.html", context)


@for_teachers
@require_GET
def year_file(request: HttpRequest, year: int) -> HttpResponse:
    text = year_csv(request.user.studio, a_year(year))
    return as_file(text.encode(), "text/csv; charset=utf-8", f"{year} {_('summary')}.csv", inline=False)


@for_teachers
@require_GET
def entries_file(request: HttpRequest, year: int) -> HttpResponse:
    text = entries_csv(request.user.studio, a_year(year))
    return as_file(text.encode(), "text/csv; charset=utf-8", f"{year} {_('entries')}.csv", inline=False)
