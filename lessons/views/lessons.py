"""One lesson: planning it, writing its notes, taking it out."""

from collections.abc import Sequence
from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from django.core.signing import BadSignature
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from lessons import planning
from lessons.access import lesson_for, lessons_of
from lessons.attendance_forms import PlanForm
from lessons.attending import CreditSpent, book_make_up, policy_of
from lessons.credits import open_on
from lessons.forms import notes_form
from lessons.laying_out import local_day
from lessons.lesson_page import LessonPage, for_desk, gather_lesson
from lessons.making_up import bring_back, take_out
from lessons.meetings import Wanted, try_time
from lessons.models import CreditEntry, Lesson
from scores.music.tempo import RUNGS as MARKS
from studio.access import for_teachers, students_of
from studio.models import Student
from studio.pages import page, say

SECTION = {"section": "week"}


@for_teachers
@require_http_methods(["GET", "POST"])
def new_lesson(request: HttpRequest) -> HttpResponse:
    """A new lesson; for a student who has had one, a week after the last at the same time."""
    student = asked_student(request)
    zone = request.user.studio.timezone
    usual = planning.usual_time(student, at=timezone.now(), zone=zone) if student else {"minutes": 45}
    asked_day = {"day": request.GET["day"]} if request.GET.get("day") else {}
    initial: dict[str, Any] = {"student": student, "credit": request.GET.get("credit")} | usual | asked_day
    form = plan_form(request, student, initial)
    lesson = planned(request, form) if form.is_valid() else None
    if lesson is None:
        has_students = students_of(request.user).current().exists()
        context = {"form": form, "student": student, "has_students": has_students, **asked_day, **SECTION}
        return page(request, "lessons/lesson_form.html", context)
    say(request, _("The lesson is planned."), undo=reverse("remove-lesson", args=[lesson.pk]))
    against = stands_against(request, lesson)
    if against:
        say(request, _("Mind: %(what)s.") % {"what": "; ".join(against)})
    return redirect("lesson", pk=lesson.pk)


def stands_against(request: HttpRequest, lesson: Lesson) -> Sequence[str]:
    """What stands in the way of a lesson that is planned, in sentences."""
    wanted = Wanted([lesson.student], lesson.starts_at, lesson.minutes, lesson.where, lesson.place, key=lesson.pk)
    return try_time(request.user.studio, wanted, at=timezone.now()).against


def plan_form(request: HttpRequest, student: Student | None, initial: dict[str, Any]) -> PlanForm:
    """The form with the make-up lessons that are owed to the student asked for, the oldest first."""
    chosen = request.POST.get("student", "") if request.method == "POST" else str(student.pk if student else "")
    owed = CreditEntry.objects.filter(
        studio=request.user.studio, student_id=int(chosen) if chosen.isdecimal() and len(chosen) < 18 else None
    )
    return PlanForm(
        request.POST or None,
        initial=initial,
        students=students_of(request.user).current(),
        zone=request.user.studio.timezone,
        open_credits=open_on(owed, local_day(request.user.studio, timezone.now())),
    )


def planned(request: HttpRequest, form: PlanForm) -> Lesson | None:
    """The lesson that the form asks for; None, with a word in the form, where its credit went meanwhile."""
    given, credit = form.given(), form.cleaned_data["credit"]
    if credit is None:
        return planning.plan_lesson(**given)
    try:
        return book_make_up(credit=credit, at=timezone.now(), by=request.user, **given)
    except CreditSpent:
        form.add_error("credit", _("That make-up lesson is no longer owed; it was used or has lapsed meanwhile."))
        return None


def asked_student(request: HttpRequest) -> Student | None:
    asked = request.GET.get("student", "")
    return students_of(request.user).filter(pk=asked).first() if asked.isdecimal() and len(asked) < 18 else None


@for_teachers
@require_GET
def lesson(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything about one lesson."""
    gathered = desk_of(request, pk)
    context = {"page": gathered, "form": notes_form(gathered.lesson), "now": timezone.now(), "marks": MARKS, **SECTION}
    return page(request, "lessons/lesson.html", context)


def desk_of(request: HttpRequest, pk: int) -> LessonPage:
    lesson = get_object_or_404(for_desk(lessons_of(request.user)), pk=pk)
    return gather_lesson(lesson, policy=policy_of(request.user.studio), at=timezone.now())


@for_teachers
@require_POST
def plan_following(request: HttpRequest, pk: int) -> HttpResponse:
    """Plans the student's next lesson at the usual time, in one click, where none is planned."""
    lesson = get_object_or_404(for_desk(lessons_of(request.user)), pk=pk)
    if lesson.following_id:
        return redirect("lesson", pk=pk)
    try:
        following = planning.plan_following(lesson=lesson, at=timezone.now(), zone=request.user.studio.timezone)
    except planning.NoSuchTime:
        return redirect(reverse("new-lesson") + f"?student={lesson.student_id}")
    if following:
        say(request, _("The next lesson is planned."), undo=reverse("remove-lesson", args=[following.pk]))
    return redirect("lesson", pk=pk)


@for_teachers
@require_http_methods(["GET", "POST"])
def remove_lesson(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes a lesson out: at once where nothing hangs on it, else after saying what goes with it."""
    lesson = lesson_for(request.user, pk)
    if request.method == "GET":
        return about_to_remove(request, lesson, planning.what_hangs_on(lesson))
    try:
        token = take_out(lesson=lesson, at=timezone.now(), by=request.user, with_all="with_all" in request.POST)
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
        lesson = bring_back(studio=request.user.studio, token=token, at=timezone.now(), by=request.user)
    except (BadSignature, ObjectDoesNotExist):
        raise Http404 from None
    say(request, _("The lesson is back."))
    return redirect("lesson", pk=lesson.pk)
