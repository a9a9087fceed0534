"""Free hours: when the teacher teaches, and when a student could come."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from lessons.calendar_forms import HoursForm
from lessons.hours import hours_by_weekday, keep_hours
from studio.access import for_everyone_here, student_for, students_of
from studio.models import Student
from studio.pages import page, say


@for_everyone_here
@require_http_methods(["GET", "POST"])
def free_hours(request: HttpRequest) -> HttpResponse:
    """The teacher's own; a student's own; a guardian's children's."""
    if request.user.is_teacher:
        return hours_page(request, None)
    children = list(students_of(request.user))
    if len(children) == 1:
        return redirect("students-free-hours", pk=children[0].pk)
    return page(request, "lessons/free_hours_children.html", {"children": children, "section": "children"})


@for_everyone_here
@require_http_methods(["GET", "POST"])
def students_free_hours(request: HttpRequest, pk: int) -> HttpResponse:
    return hours_page(request, student_for(request.user, pk))


def hours_page(request: HttpRequest, student: Student | None) -> HttpResponse:
    studio = request.user.studio
    form = HoursForm(request.POST if request.method == "POST" else None, hours=hours_by_weekday(studio, student))
    if request.method == "GET" or not form.is_valid():
        sections = {"teacher": "students" if student else "week", "student": "this-week", "guardian": "children"}
        context = {"form": form, "student": student, "section": sections[request.user.role]}
        return page(request, "lessons/free_hours.html", context)
    keep_hours(studio=studio, student=student, hours=form.hours)
    say(request, _("The free hours are kept."))
    if request.user.is_teacher:
        return redirect("student", pk=student.pk) if student else redirect("free-hours")
    return redirect("students-free-hours", pk=student.pk) if student else redirect("free-hours")
