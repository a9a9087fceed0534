"""Holidays, terms and absences: days on which lessons do not fall, or only on which they do."""

from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from django.core.signing import BadSignature
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from lessons import scheduling
from lessons.access import days_for
from lessons.calendar_forms import AbsenceForm, DaysForm, HolidayForm, TermForm, TravelForm
from lessons.laying_out import Laid
from lessons.models import Absence, Holiday, Timetable
from lessons.views.slots import tell_kept
from studio.access import for_teachers, student_for
from studio.models import Term
from studio.pages import page, say

SECTION = {"section": "week"}
FORMS: dict[str, type[DaysForm]] = {"holiday": HolidayForm, "term": TermForm}
KEPT = {
    "holiday": gettext_lazy("The studio is closed then."),
    "term": gettext_lazy("The term is kept."),
    "absence": gettext_lazy("Kept."),
}


def told(request: HttpRequest, words: str, laid: Laid, undo: str = "") -> None:
    """What was done, and what came of it for the lessons."""
    parts = [str(words)]
    if laid.removed:
        parts.append(_("Lessons lifted out: %(count)s.") % {"count": laid.removed})
    if laid.made:
        parts.append(_("Lessons laid out: %(count)s.") % {"count": laid.made})
    say(request, " ".join(parts), undo=undo)
    tell_kept(request, laid)


@for_teachers
@require_GET
def holidays(request: HttpRequest) -> HttpResponse:
    """Terms and holidays of the studio on one page, and the time on the way."""
    studio, today = request.user.studio, timezone.localdate()
    kept = Timetable.objects.filter(studio=studio).first() or Timetable(studio=studio)
    context: dict[str, Any] = {
        "holidays": Holiday.objects.filter(studio=studio, last_day__gte=today),
        "terms": Term.objects.filter(studio=studio, last_day__gte=today),
        "holiday_form": HolidayForm(prefix="holiday"),
        "term_form": TermForm(prefix="term"),
        "travel_form": TravelForm(instance=kept),
        "today": today,
        **SECTION,
    }
    return page(request, "lessons/holidays.html", context)


@for_teachers
@require_http_methods(["GET", "POST"])
def new_days(request: HttpRequest, kind: str) -> HttpResponse:
    """A new holiday or term."""
    model = scheduling.RANGES[kind]
    prefix = kind if f"{kind}-first_day" in request.POST else None
    form = FORMS[kind](request.POST or None, prefix=prefix, instance=model(studio=request.user.studio))
    if not form.is_valid():
        return page(request, "lessons/days_form.html", {"form": form, "kind": kind, **SECTION})
    row = form.save(commit=False)
    laid = scheduling.keep_days(row=row, at=timezone.now())
    told(request, KEPT[kind], laid, undo=reverse(f"remove-{kind}", args=[row.pk]))
    return redirect("holidays")


@for_teachers
@require_http_methods(["GET", "POST"])
def change_days(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    row = days_for(request.user, scheduling.RANGES[kind], pk)
    form = FORMS[kind](request.POST or None, instance=row)
    if not form.is_valid():
        return page(request, "lessons/days_form.html", {"form": form, "kind": kind, "row": row, **SECTION})
    laid = scheduling.keep_days(row=form.save(commit=False), at=timezone.now())
    told(request, _("Kept."), laid)
    return redirect("holidays")


@for_teachers
@require_POST
def remove_days(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    row = days_for(request.user, scheduling.RANGES[kind], pk)
    student = row.student_id if isinstance(row, Absence) else None
    laid, token = scheduling.remove_days(row=row, at=timezone.now())
    told(request, _("Taken out."), laid, undo=reverse("restore-days", args=[token]))
    return redirect("absences", pk=student) if student else redirect("holidays")


@for_teachers
@require_POST
def restore_days(request: HttpRequest, token: str) -> HttpResponse:
    try:
        row = scheduling.restore_days(studio=request.user.studio, token=token, at=timezone.now())
    except (BadSignature, ObjectDoesNotExist):
        raise Http404 from None
    say(request, _("It is back."))
    return redirect("absences", pk=row.student_id) if isinstance(row, Absence) else redirect("holidays")


@for_teachers
@require_http_methods(["GET", "POST"])
def absences(request: HttpRequest, pk: int) -> HttpResponse:
    """The days on which a student does not come; new ones are added here."""
    student = student_for(request.user, pk)
    form = AbsenceForm(request.POST or None, instance=Absence(studio=request.user.studio, student=student))
    if not form.is_valid():
        coming = student.absences.filter(last_day__gte=timezone.localdate())
        context = {"form": form, "student": student, "absences": coming, "section": "students"}
        return page(request, "lessons/absences.html", context)
    row = form.save(commit=False)
    laid = scheduling.keep_days(row=row, at=timezone.now())
    told(request, KEPT["absence"], laid, undo=reverse("remove-absence", args=[row.pk]))
    return redirect("absences", pk=pk)


@for_teachers
@require_POST
def keep_travel(request: HttpRequest) -> HttpResponse:
    """Keeps how long the teacher is on the way."""
    kept = Timetable.objects.filter(studio=request.user.studio).first() or Timetable(studio=request.user.studio)
    form = TravelForm(request.POST, instance=kept)
    if not form.is_valid():
        return page(request, "lessons/travel.html", {"form": form, **SECTION})
    form.save()
    say(request, _("Kept."))
    return redirect("holidays")
