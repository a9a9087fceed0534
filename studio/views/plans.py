"""Plans and their prices, sibling discounts, who is on which plan, and what stands on invoices."""

from typing import Any

from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.access import for_teachers, student_for
from studio.models import Account, Billing, Discount, Enrolment, Plan, Student
from studio.pages import page, say
from studio.tuition import accounts
from studio.tuition.accounts import NotPossible
from studio.tuition_forms import BillingForm, DiscountForm, EndForm, EnrolForm, PlanForm, PriceForm

SECTION = {"section": "tuition"}


def plan_for(request: HttpRequest, pk: int) -> Plan:
    return get_object_or_404(Plan.objects.filter(studio_id=request.user.studio_id), pk=pk)


def enrolment_for(request: HttpRequest, pk: int) -> Enrolment:
    rows = Enrolment.objects.filter(studio_id=request.user.studio_id).select_related("student", "plan", "account")
    return get_object_or_404(rows, pk=pk)


@for_teachers
@require_GET
def plans(request: HttpRequest) -> HttpResponse:
    studio, today = request.user.studio, timezone.localdate()
    now = Q(enrolments__first_day__lte=today) & (Q(enrolments__last_day=None) | Q(enrolments__last_day__gte=today))
    rows = list(
        Plan.objects.filter(studio=studio).prefetch_related("prices").annotate(on_it=Count("enrolments", filter=now))
    )
    for row in rows:
        row.now = row.price_on(today)
        row.coming = [price for price in row.prices.all() if price.from_day > today]
    context = {
        "studio": studio,
        "plans": rows,
        "discounts": Discount.objects.filter(studio=studio).order_by("-from_day"),
        "today": today,
        **SECTION,
    }
    return page(request, "studio/plans.html", context)


@for_teachers
@require_http_methods(["GET", "POST"])
def new_plan(request: HttpRequest) -> HttpResponse:
    studio = request.user.studio
    form = PlanForm(request.POST or None, studio=studio, today=timezone.localdate())
    if not form.is_valid():
        return page(request, "studio/plan_form.html", {"form": form, **SECTION})
    given = dict(form.cleaned_data)
    accounts.add_plan(studio=studio, minor=given.pop("amount"), **given)
    say(request, _("The plan is there. A student is put on it from her own page."))
    return redirect("plans")


@for_teachers
@require_http_methods(["GET", "POST"])
def new_price(request: HttpRequest, pk: int) -> HttpResponse:
    plan = plan_for(request, pk)
    form = PriceForm(request.POST or None, studio=request.user.studio)
    if not form.is_valid():
        context = {"form": form, "plan": plan, "prices": plan.prices.all(), "studio": request.user.studio}
        return page(request, "studio/price_form.html", {**context, **SECTION})
    accounts.set_price(plan=plan, minor=form.cleaned_data["amount"], from_day=form.cleaned_data["from_day"])
    say(request, _("The price is set."))
    return redirect("plans")


@for_teachers
@require_POST
def retire_plan(request: HttpRequest, pk: int) -> HttpResponse:
    plan = plan_for(request, pk)
    accounts.retire_plan(plan=plan)
    say(request, _("“%(plan)s” is not offered any more.") % {"plan": plan}, undo=reverse("offer-plan", args=[pk]))
    return redirect("plans")


@for_teachers
@require_POST
def offer_plan(request: HttpRequest, pk: int) -> HttpResponse:
    plan = plan_for(request, pk)
    accounts.retire_plan(plan=plan, retired=False)
    say(request, _("“%(plan)s” is offered again.") % {"plan": plan})
    return redirect("plans")


@for_teachers
@require_http_methods(["GET", "POST"])
def new_discount(request: HttpRequest) -> HttpResponse:
    form = DiscountForm(request.POST or None, initial={"from_day": timezone.localdate().replace(day=1)})
    if not form.is_valid():
        return page(request, "studio/discount_form.html", {"form": form, **SECTION})
    accounts.set_discount(studio=request.user.studio, **form.cleaned_data)
    say(request, _("Kept."))
    return redirect("plans")


@for_teachers
@require_http_methods(["GET", "POST"])
def billing(request: HttpRequest) -> HttpResponse:
    """What stands on the studio's invoices."""
    row = Billing.objects.filter(studio=request.user.studio).first() or Billing(studio=request.user.studio)
    form = BillingForm(request.POST or None, instance=row)
    if not form.is_valid():
        return page(request, "studio/billing.html", {"form": form, **SECTION})
    accounts.set_billing(studio=request.user.studio, **form.cleaned_data)
    say(request, _("Kept."))
    return redirect("billing")


# Who is on which plan


def offered(student: Student) -> dict[str, Any]:
    """The account that the student's family has already, or a name for a new one."""
    last = student.enrolments.order_by("-first_day").first()
    known = Account.objects.filter(guardians__students=student).first() if last is None else None
    guardian = student.guardians.first()
    return {
        "account": last.account_id if last else known.pk if known else None,
        "name": guardian.name if guardian else student.name,
        "first_day": timezone.localdate(),
    }


@for_teachers
@require_http_methods(["GET", "POST"])
def enrol(request: HttpRequest, pk: int) -> HttpResponse:
    """Puts a student on a plan; a new account is opened with those who answer for her."""
    student, studio = student_for(request.user, pk), request.user.studio
    form = EnrolForm(request.POST or None, studio=studio, initial=offered(student))
    if form.is_valid():
        given = form.cleaned_data
        try:
            made = accounts.enrol_family(
                student=student,
                plan=given["plan"],
                account=given["account"],
                name=given["name"],
                first_day=given["first_day"],
            )
        except NotPossible as trouble:
            form.add_error("first_day", str(trouble))
        else:
            undo = reverse("take-back-enrolment", args=[made.pk])
            say(request, _("%(student)s is on “%(plan)s”.") % {"student": student, "plan": made.plan}, undo=undo)
            return redirect("student", pk=pk)
    has_plans = form.fields["plan"].queryset.exists()
    return page(
        request, "studio/enrol.html", {"form": form, "student": student, "has_plans": has_plans, "section": "students"}
    )


@for_teachers
@require_http_methods(["GET", "POST"])
def end_enrolment(request: HttpRequest, pk: int) -> HttpResponse:
    row = enrolment_for(request, pk)
    form = EndForm(request.POST or None, initial={"last_day": row.last_day or timezone.localdate()})
    if form.is_valid():
        try:
            accounts.end_enrolment(enrolment=row, last_day=form.cleaned_data["last_day"])
        except NotPossible as trouble:
            form.add_error("last_day", str(trouble))
        else:
            say(request, _("Kept. What was charged beyond the last day is given back when charges are written."))
            return redirect("student", pk=row.student_id)
    return page(request, "studio/end_enrolment.html", {"form": form, "enrolment": row, "section": "students"})


@for_teachers
@require_POST
def take_back_enrolment(request: HttpRequest, pk: int) -> HttpResponse:
    row = enrolment_for(request, pk)
    try:
        accounts.take_back_enrolment(enrolment=row)
    except NotPossible as trouble:
        say(request, str(trouble))
    else:
        say(request, _("The plan is taken off again."))
    return redirect("student", pk=row.student_id)
