"""The practice log of one student, for herself, her guardians and her teacher."""

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from lessons import practice
from lessons.access import assigned_of, entries_of
from lessons.models import AssignedPassage
from lessons.practice_forms import EntryForm
from studio.access import for_everyone_here, student_for
from studio.models import Student, User
from studio.pages import page, say

MOST_ENTRIES = 400


def passages_to_log(user: User, student: Student) -> QuerySet[AssignedPassage]:
    """What this student was given, the newest first: what an entry may be about."""
    return (
        assigned_of(user).filter(assignment__lesson__student=student).order_by("-assignment__lesson__starts_at", "pk")
    )


def section_for(user: User) -> str:
    return "students" if user.is_teacher else "this-week" if user.is_student else "children"


@for_everyone_here
@require_GET
def log(request: HttpRequest, pk: int) -> HttpResponse:
    """The entries by week, the newest week first."""
    student = student_for(request.user, pk)
    entries = entries_of(request.user).filter(student=student).standing()[:MOST_ENTRIES]
    context = {"student": student, "weeks": practice.by_week(entries), "section": section_for(request.user)}
    return page(request, "lessons/practice_log.html", context)


@for_everyone_here
@require_http_methods(["GET", "POST"])
def new_entry(request: HttpRequest, pk: int) -> HttpResponse:
    """Writes one entry, once, however often it is sent."""
    student = student_for(request.user, pk)
    form = EntryForm(
        request.POST or None,
        today=timezone.localdate(),
        passages=passages_to_log(request.user, student),
        initial={"assigned": request.GET.get("assigned")},
    )
    if not form.is_valid():
        context = {"student": student, "form": form, "section": section_for(request.user)}
        return page(request, "lessons/practice_entry.html", context)
    try:
        entry, is_new = practice.write_entry(student=student, by=request.user, **form.cleaned_data)
    except PermissionError:
        return page(request, "lessons/practice_entry.html", {"student": student, "form": form}, status=409)
    if is_new:
        undo = reverse("remove-entry", args=[entry.pk])
        say(request, _("Written down: %(minutes)s minutes.") % {"minutes": entry.minutes}, undo=undo)
    return redirect(back_to(request.user, student))


def back_to(user: User, student: Student) -> str:
    if user.is_student:
        return reverse("this-week")
    return reverse("child", args=[student.pk]) if user.is_guardian else reverse("practice-log", args=[student.pk])


@for_everyone_here
@require_http_methods(["GET", "POST"])
def change_entry(request: HttpRequest, pk: int) -> HttpResponse:
    entry = get_object_or_404(entries_of(request.user).standing(), pk=pk)
    form = EntryForm(
        request.POST or None,
        instance=entry,
        today=timezone.localdate(),
        passages=passages_to_log(request.user, entry.student),
        initial={"day": entry.day, "key": entry.key},
    )
    if not form.is_valid():
        context = {"student": entry.student, "entry": entry, "form": form, "section": section_for(request.user)}
        return page(request, "lessons/practice_entry.html", context)
    practice.change_entry(entry=entry, fields=form.changed_data)
    say(request, _("Changed."))
    return redirect("practice-log", pk=entry.student_id)


@for_everyone_here
@require_POST
def remove_entry(request: HttpRequest, pk: int) -> HttpResponse:
    entry = get_object_or_404(entries_of(request.user).standing(), pk=pk)
    practice.remove_entry(entry, at=timezone.now())
    say(request, _("The entry is gone from the log."), undo=reverse("restore-entry", args=[entry.pk]))
    return redirect("practice-log", pk=entry.student_id)


@for_everyone_here
@require_POST
def restore_entry(request: HttpRequest, pk: int) -> HttpResponse:
    entry = get_object_or_404(entries_of(request.user), pk=pk)
    practice.restore_entry(entry)
    say(request, _("The entry is back."))
    return redirect("practice-log", pk=entry.student_id)
