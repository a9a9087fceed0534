"""One lesson: planning it, writing its notes, taking it out."""

from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from django.core.signing import BadSignature
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from lessons import planning
from lessons.access import lesson_for
from lessons.forms import LessonForm, NotesForm
from lessons.lesson_page import gather_lesson
from lessons.models import Lesson
from studio.access import for_teachers, students_of
from studio.models import Student
from studio.pages import page, say

SECTION = {"section": "week"}


def lesson_form(request: HttpRequest, *, initial: dict[str, Any], keep: Student | None = None) -> LessonForm:
    students = students_of(request.user).current()
    if keep:
        students = students | students_of(request.user).filter(pk=keep.pk)
    return LessonForm(request.POST or None, initial=initial, students=students, zone=request.user.studio.timezone)


@for_teachers
@require_http_methods(["GET", "POST"])
def new_lesson(request: HttpRequest) -> HttpResponse:
    """A new lesson; for a student who has had one, a week after the last at the same time."""
    student = asked_student(request)
    zone = request.user.studio.timezone
    usual = planning.usual_time(student, at=timezone.now(), zone=zone) if student else {"minutes": 45}
    asked_day = {"day": request.GET["day"]} if request.GET.get("day") else {}
    initial: dict[str, Any] = {"student": student} | usual | asked_day
    form = lesson_form(request, initial=initial)
    if not form.is_valid():
        has_students = students_of(request.user).current().exists()
        context = {"form": form, "student": student, "has_students": has_students, **asked_day, **SECTION}
        return page(request, "lessons/lesson_form.html", context)
    lesson = planning.plan_lesson(**form.given())
    say(request, _("The lesson is planned."))
    return redirect("lesson", pk=lesson.pk)


def asked_student(request: HttpRequest) -> Student | None:
    asked = request.GET.get("student", "")
    return students_of(request.user).filter(pk=asked).first() if asked.isdecimal() and len(asked) < 18 else None


@for_teachers
@require_GET
def lesson(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything about one lesson."""
    lesson = lesson_for(request.user, pk)
    context = {"page": gather_lesson(lesson), "form": NotesForm(instance=lesson), **SECTION}
    return page(request, "lessons/lesson.html", context)


@for_teachers
@require_http_methods(["GET", "POST"])
def change_lesson(request: HttpRequest, pk: int) -> HttpResponse:
    lesson = lesson_for(request.user, pk)
    local = timezone.localtime(lesson.starts_at)
    initial = {
        "student": lesson.student,
        "day": local.date(),
        "time": local.time(),
        "minutes": lesson.minutes,
        "place": lesson.place,
    }
    form = lesson_form(request, initial=initial, keep=lesson.student)
    if not form.is_valid():
        return page(
            request, "lessons/lesson_form.html", {"form": form, "lesson": lesson, "has_students": True, **SECTION}
        )
    planning.change_lesson(lesson=lesson, **form.given())
    say(request, _("Kept."))
    return redirect("lesson", pk=pk)


@for_teachers
@require_POST
def keep_notes(request: HttpRequest, pk: int) -> HttpResponse:
    """Keeps the notes, while they are typed or at a press of the button."""
    lesson = lesson_for(request.user, pk)
    form = NotesForm(request.POST, instance=lesson)
    if form.is_valid():
        planning.keep_notes(lesson=lesson, **form.cleaned_data)
    if request.htmx:
        context = {"form": form, "at": timezone.now()}
        return render(request, "lessons/_kept.html", context, status=200 if form.is_valid() else 422)
    if not form.is_valid():
        lesson.refresh_from_db()
        return page(request, "lessons/lesson.html", {"page": gather_lesson(lesson), "form": form, **SECTION})
    say(request, _("Notes kept."))
    return redirect("lesson", pk=pk)


@for_teachers
@require_http_methods(["GET", "POST"])
def remove_lesson(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes a lesson out: at once where nothing hangs on it, else after saying what goes with it."""
    lesson = lesson_for(request.user, pk)
    if request.method == "GET":
        return about_to_remove(request, lesson, planning.what_hangs_on(lesson))
    try:
        token = planning.remove_lesson(lesson=lesson, with_all="with_all" in request.POST)
    except planning.StillHolds as held:
        return about_to_remove(request, lesson, held.counts)
    undo = reverse("restore-lesson", args=[token]) if token else ""
    say(request, _("The lesson with %(name)s is taken out.") % {"name": lesson.student}, undo=undo)
    return redirect("week")


def about_to_remove(request: HttpRequest, lesson: Lesson, counts: dict[str, int]) -> HttpResponse:
    return page(request, "lessons/remove_lesson.html", {"lesson": lesson, "counts": counts, **SECTION})


@for_teachers
@require_POST
def restore_lesson(request: HttpRequest, token: str) -> HttpResponse:
    try:
        lesson = planning.restore_lesson(studio=request.user.studio, token=token)
    except (BadSignature, ObjectDoesNotExist):
        raise Http404 from None
    say(request, _("The lesson is back."))
    return redirect("lesson", pk=lesson.pk)
