"""Attendance, said from Today or from a lesson's desk; the studio's policy; the ledger of make-up lessons."""

from django.core.exceptions import ObjectDoesNotExist
from django.core.signing import BadSignature
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from lessons import credits
from lessons.access import lesson_for
from lessons.attendance_forms import AttendanceForm, CorrectionForm, PolicyForm
from lessons.attending import (
    CreditSpent,
    credits_of,
    mark_attendance,
    policy_of,
    proposed_cancellation,
    undo_attendance,
)
from lessons.models import Lesson
from lessons.policies import keep_policy
from studio.access import for_everyone_here, for_teachers, student_for
from studio.pages import page, say

FROM = ("today", "lesson")


@for_teachers
@require_POST
def attendance(request: HttpRequest, pk: int) -> HttpResponse:
    """Says who was there; the same said again is taken back."""
    lesson = lesson_for(request.user, pk)
    form = AttendanceForm(request.POST)
    if not form.is_valid():
        raise Http404
    said, late = form.cleaned_data["attendance"], form.cleaned_data["minutes_late"]
    if said == lesson.attendance and late in (None, lesson.minutes_late):
        said = ""
    token = mark_attendance(lesson=lesson, attendance=said, at=timezone.now(), by=request.user, minutes_late=late)
    return show(request, lesson, token)


@for_teachers
@require_POST
def attendance_before(request: HttpRequest, token: str) -> HttpResponse:
    """Undo: what was said before."""
    try:
        lesson = undo_attendance(studio=request.user.studio, token=token, at=timezone.now(), by=request.user)
    except (BadSignature, ObjectDoesNotExist):
        raise Http404 from None
    return show(request, lesson, "")


def show(request: HttpRequest, lesson: Lesson, token: str) -> HttpResponse:
    """The attendance as it now stands: the part of the page that a script puts in place, or the page it came from."""
    undo = reverse("attendance-before", args=[token]) if token else ""
    origin = request.POST.get("from", "")
    if request.htmx:
        proposed = proposed_cancellation(lesson, policy_of(request.user.studio), at=timezone.now())
        context = {"lesson": lesson, "undo": undo, "proposed": proposed, "from": origin if origin in FROM else "lesson"}
        return render(request, "lessons/_attendance.html", context)
    words = {"name": lesson.student, "said": lesson.get_attendance_display()}
    say(request, _("%(name)s: %(said)s.") % words, undo=undo)
    return redirect("today") if origin == "today" else redirect("lesson", pk=lesson.pk)


@for_everyone_here
@require_GET
def policy(request: HttpRequest) -> HttpResponse:
    """The policy as families read it."""
    rules = policy_of(request.user.studio)
    section = {"teacher": "", "student": "this-week", "guardian": "children"}[request.user.role]
    return page(request, "lessons/policy.html", {"policy": rules, "section": section})


@for_teachers
@require_http_methods(["GET", "POST"])
def change_policy(request: HttpRequest) -> HttpResponse:
    form = PolicyForm(request.POST or None, instance=policy_of(request.user.studio))
    if not form.is_valid():
        return page(request, "lessons/policy_form.html", {"form": form})
    keep_policy(
        studio=request.user.studio, rules=form.rules(), **{name: form.cleaned_data[name] for name in form.Meta.fields}
    )
    say(request, _("Kept. What was said of lessons until now keeps what followed from it."))
    return redirect("policy")


@for_everyone_here
@require_GET
def make_ups(request: HttpRequest, pk: int) -> HttpResponse:
    """The ledger of a student's make-up lessons; the teacher writes in it, the family reads it."""
    return ledger_page(request, pk, CorrectionForm(initial={"lessons": 1}))


@for_teachers
@require_POST
def correct_make_ups(request: HttpRequest, pk: int) -> HttpResponse:
    student = student_for(request.user, pk)
    form = CorrectionForm(request.POST)
    if form.is_valid():
        try:
            credits.correct(student=student, at=timezone.now(), by=request.user, **form.cleaned_data)
        except CreditSpent:
            form.add_error("lessons", _("No make-up lesson is owed, so none can be taken back."))
    if not form.is_valid():
        return ledger_page(request, pk, form)
    say(request, _("It stands in the ledger."))
    return redirect("make-ups", pk=pk)


def ledger_page(request: HttpRequest, pk: int, form: CorrectionForm) -> HttpResponse:
    student = student_for(request.user, pk)
    student.studio = request.user.studio
    lines = credits.ledger(student.credit_entries.select_related("lesson", "of__lesson"))
    context = {
        "student": student,
        "lines": lines[::-1],
        "balance": lines[-1].balance if lines else 0,
        "open": list(credits_of(student, timezone.now())),
        "section": {"teacher": "students", "student": "this-week", "guardian": "children"}[request.user.role],
    }
    return page(request, "lessons/make_ups.html", {**context, "form": form} if request.user.is_teacher else context)
