"""Reports on terms: the teacher writes and gives them, the family reads what was given."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lessons import reporting
from lessons.access import reports_of
from lessons.models import TermReport
from lessons.report_forms import ReportForm
from lessons.report_sheet import draw_report, texts_of
from lessons.views.handouts import pdf_answer
from lessons.views.practice import section_for
from studio.access import for_everyone_here, for_teachers, student_for
from studio.pages import page, say
from studio.sheets.faces import missing


def report_for(request: HttpRequest, pk: int) -> TermReport:
    return get_object_or_404(reports_of(request.user).standing(), pk=pk)


@for_everyone_here
@require_safe
def students_reports(request: HttpRequest, pk: int) -> HttpResponse:
    """A student's reports: for the family those that were given."""
    student = student_for(request.user, pk)
    reports = reports_of(request.user).filter(student=student).standing().defer("pdf")
    context = {"section": section_for(request.user), "student": student, "reports": reports}
    return page(request, "lessons/students_reports.html", context)


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def new_report(request: HttpRequest, pk: int) -> HttpResponse:
    student, today = student_for(request.user, pk), timezone.localdate()
    initial = {"paper": request.user.studio.paper}
    if request.method != "POST":
        initial |= reporting.usual_days(student, today)
    form = ReportForm(request.POST or None, today=today, initial=initial)
    if form.is_bound and form.is_valid():
        report = reporting.write_report(student=student, fields=form.cleaned_data)
        return redirect("report", pk=report.pk)
    return page(request, "lessons/report_form.html", {"section": "students", "student": student, "form": form})


@for_teachers
@require_safe
def report(request: HttpRequest, pk: int) -> HttpResponse:
    """What will stand on the sheet, and giving it."""
    row = report_for(request, pk)
    row.student.studio = request.user.studio
    content = reporting.content_of(row, request.user, timezone.now())
    context = {
        "section": "students",
        "student": row.student,
        "report": row,
        "content": content,
        "missing": missing(texts_of(content)),
    }
    return page(request, "lessons/report.html", context)


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def change_report(request: HttpRequest, pk: int) -> HttpResponse:
    row = report_for(request, pk)
    if row.given_at:
        return stays(request, pk)
    form = ReportForm(request.POST or None, today=timezone.localdate(), instance=row)
    if form.is_bound and form.is_valid():
        try:
            reporting.write_report(student=row.student, fields=form.cleaned_data, report=row)
        except ValueError:
            return stays(request, pk)
        say(request, _("Kept."))
        return redirect("report", pk=pk)
    context = {"section": "students", "student": row.student, "form": form, "report": row}
    return page(request, "lessons/report_form.html", context)


def stays(request: HttpRequest, pk: int) -> HttpResponse:
    say(request, _("This report was given and stays as it is. Take it back to change it."))
    return redirect("report", pk=pk)


@for_everyone_here
@require_safe
def report_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """The sheet as it was given, byte for byte; for the teacher before that, as it would be given now."""
    row = report_for(request, pk)
    if row.given_at:
        pdf = bytes(row.pdf)
    else:
        row.student.studio = request.user.studio
        pdf = draw_report(reporting.content_of(row, request.user, timezone.now()))
    return pdf_answer(pdf, row.student.name, f"{row.last_day}" if row.given_at else f"{row.last_day}-draft")


@for_teachers
@require_POST
def give_report(request: HttpRequest, pk: int) -> HttpResponse:
    row = report_for(request, pk)
    row.student.studio = request.user.studio
    reporting.give_report(report=row, by=request.user, at=timezone.now())
    undo = reverse("take-report-back", args=[pk])
    say(request, _("The report is given: the family sees its sheet, which stays as it is."), undo=undo)
    return redirect("report", pk=pk)


@for_teachers
@require_POST
def take_report_back(request: HttpRequest, pk: int) -> HttpResponse:
    reporting.take_back(report_for(request, pk))
    say(request, _("Only you see the report now."), undo=reverse("give-report", args=[pk]))
    return redirect("report", pk=pk)


@for_teachers
@require_POST
def remove_report(request: HttpRequest, pk: int) -> HttpResponse:
    row = report_for(request, pk)
    reporting.remove_report(row, at=timezone.now())
    say(request, _("The report is gone."), undo=reverse("restore-report", args=[pk]))
    return redirect("students-reports", pk=row.student_id)


@for_teachers
@require_POST
def restore_report(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(reports_of(request.user), pk=pk)
    reporting.restore_report(row)
    say(request, _("The report is back."))
    return redirect("report", pk=pk)
