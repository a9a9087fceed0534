"""Moving and cancelling a lesson, trying a time, and finding one."""

from datetime import datetime
from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from django.core.signing import BadSignature
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.formats import date_format
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from lessons import planning, scheduling
from lessons.access import lesson_for
from lessons.attending import policy_of, proposed_cancellation
from lessons.calendar_forms import ONCE, FindForm, FoundForm, TimeForm
from lessons.finding import find_times
from lessons.meetings import Tried, Wanted, names_of, try_time
from lessons.models import CANCELLED, Lesson
from studio.access import for_teachers, students_of
from studio.models import Student
from studio.pages import page, say

SECTION = {"section": "week"}


@for_teachers
@require_http_methods(["GET", "POST"])
def change_lesson(request: HttpRequest, pk: int) -> HttpResponse:
    """Another time, length or place for one lesson. What stands against a time is told beside it, and the nearest free
    ones are offered; the teacher decides."""
    lesson = lesson_for(request.user, pk)
    form = TimeForm(request.POST or None, initial=time_of(request, lesson), zone=request.user.studio.timezone)
    if request.method == "POST" and form.is_valid() and "try" not in request.POST:
        return moved(request, lesson, **form.given())
    rows = comers(lesson)
    context = {"form": form, "lesson": lesson, "tried": tried_form(request, lesson, rows, form), **SECTION}
    context["who"] = names_of(row.student for row in rows)
    context["proposed"] = proposed_cancellation(lesson, policy_of(request.user.studio), at=timezone.now())
    return page(request, "lessons/change_time.html", context)


def time_of(request: HttpRequest, lesson: Lesson) -> dict[str, Any]:
    """The lesson's time and place, or the time that was asked for."""
    local = timezone.localtime(asked_moment(request.GET.get("to", "")) or lesson.starts_at)
    kept = {name: getattr(lesson, name) for name in ("minutes", "where", "place")}
    return kept | {"day": local.date(), "time": local.time()}


def asked_moment(text: str) -> datetime | None:
    """A moment of a year that the calendar has room around; a time without an offset is the studio's."""
    try:
        moment = parse_datetime(text)
    except ValueError:
        return None
    if moment is None or not 1950 <= moment.year < 2200:
        return None
    return moment if moment.tzinfo else timezone.make_aware(moment)


def comers(lesson: Lesson) -> list[Lesson]:
    """The rows of all who come to a lesson's meeting, with their students."""
    return list(planning.mates(lesson).select_related("student").order_by("pk"))


def tried_form(request: HttpRequest, lesson: Lesson, rows: list[Lesson], form: TimeForm) -> Tried | None:
    if form.is_bound:
        return try_at(request, lesson, rows, **form.given()) if form.is_valid() else None
    asked = asked_moment(request.GET.get("to", ""))
    return try_at(request, lesson, rows, starts_at=asked or lesson.starts_at)


def try_at(
    request: HttpRequest,
    lesson: Lesson,
    rows: list[Lesson],
    *,
    starts_at: datetime,
    minutes: int | None = None,
    where: str | None = None,
    place: str | None = None,
) -> Tried:
    wanted = Wanted(
        students=[row.student for row in rows],
        starts_at=starts_at,
        minutes=minutes or lesson.minutes,
        where=lesson.where if where is None else where,
        place=lesson.place if place is None else place,
        key=rows[0].pk,
    )
    return try_time(request.user.studio, wanted, at=timezone.now())


@for_teachers
@require_GET
def check_time(request: HttpRequest, pk: int) -> HttpResponse:
    """A part of a page: what stands against a time for this lesson, and the nearest free ones."""
    lesson = lesson_for(request.user, pk)
    to = asked_moment(request.GET.get("to", "")) or lesson.starts_at
    context = {
        "tried": try_at(request, lesson, comers(lesson), starts_at=to),
        "to": timezone.localtime(to),
        "lesson": lesson,
    }
    return render(request, "lessons/_tried.html", context)


@for_teachers
@require_POST
def move_lesson(request: HttpRequest, pk: int) -> HttpResponse:
    """Moves a lesson to the time in `to`: from the week, where it was dropped, or from an offered free time."""
    lesson = lesson_for(request.user, pk)
    to = asked_moment(request.POST.get("to", ""))
    if to is None:
        raise Http404
    return moved(request, lesson, starts_at=to)


def moved(request: HttpRequest, lesson: Lesson, **given: Any) -> HttpResponse:
    token = planning.move_lesson(lesson=lesson, at=timezone.now(), **given)
    if not token:
        say(request, _("It stands there already; nothing was changed."))
        return redirect(way_back(request, lesson))
    lesson.refresh_from_db()
    rows = comers(lesson)
    name = names_of(row.student for row in rows)
    words = _("%(name)s: now %(when)s.") % {"name": name, "when": when_in_words(lesson.starts_at)}
    say(request, words, undo=reverse("undo-move", args=[token]))
    against = try_at(request, lesson, rows, starts_at=lesson.starts_at).against
    if against:
        say(request, _("Mind: %(what)s.") % {"what": "; ".join(against)})
    return redirect(way_back(request, lesson))


def when_in_words(moment: datetime) -> str:
    return date_format(timezone.localtime(moment), "l j F, H:i")


def way_back(request: HttpRequest, lesson: Lesson) -> str:
    """The page it was done from, if it is one of ours; else the week of the lesson."""
    back = request.POST.get("back", "")
    if back and url_has_allowed_host_and_scheme(back, allowed_hosts={request.get_host()}):
        return back
    return f"{reverse('week')}?from={timezone.localtime(lesson.starts_at):%Y-%m-%d}"


@for_teachers
@require_POST
def undo_move(request: HttpRequest, token: str) -> HttpResponse:
    try:
        lesson = planning.undo_move(studio=request.user.studio, token=token, at=timezone.now())
    except (BadSignature, ObjectDoesNotExist):
        raise Http404 from None
    except planning.ChangedSince:
        say(request, _("The lesson was changed again since; it stays as it is."))
        return redirect("week")
    say(request, _("The lesson is back at %(when)s.") % {"when": when_in_words(lesson.starts_at)})
    return redirect(way_back(request, lesson))


@for_teachers
@require_POST
def cancel_lesson(request: HttpRequest, pk: int) -> HttpResponse:
    """Cancels a lesson: by the teacher, or by the student in time or too late."""
    lesson = lesson_for(request.user, pk)
    attendance = request.POST.get("attendance", "")
    if attendance not in CANCELLED:
        raise Http404
    planning.cancel_lesson(lesson=lesson, attendance=attendance, at=timezone.now(), by=request.user)
    words = _("The lesson of %(when)s with %(name)s is cancelled.")
    words %= {"when": when_in_words(lesson.starts_at), "name": lesson.student}
    say(request, words, undo=reverse("uncancel-lesson", args=[pk]))
    return redirect(way_back(request, lesson))


@for_teachers
@require_POST
def uncancel_lesson(request: HttpRequest, pk: int) -> HttpResponse:
    lesson = lesson_for(request.user, pk)
    planning.uncancel_lesson(lesson=lesson, at=timezone.now(), by=request.user)
    say(request, _("The lesson takes place."))
    return redirect(way_back(request, lesson))


# Finding a time


def asked_students(request: HttpRequest) -> list[Student]:
    keys = [key for key in request.GET.getlist("students") if key.isdecimal() and len(key) < 18]
    return list(students_of(request.user).current().filter(pk__in=keys)) if keys else []


@for_teachers
@require_GET
def find_time(request: HttpRequest) -> HttpResponse:
    """Where the free hours of teacher and students meet."""
    students, today = students_of(request.user).current(), timezone.localdate()
    given: dict[str, Any] | None
    if "minutes" in request.GET:
        form = FindForm(request.GET, students=students)
        given = form.cleaned_data if form.is_valid() else None
    else:
        asked = asked_students(request)
        initial = {"students": asked, "minutes": usual_minutes(asked), "where": "studio", "first": today}
        form, given = FindForm(students=students, initial=initial), initial if asked else None
    context: dict[str, Any] = {"form": form, "has_students": bool(given) or students.exists(), **SECTION}
    if given:
        chosen = list(given["students"])
        found = find_times(
            request.user.studio,
            chosen,
            minutes=given["minutes"],
            where=given["where"],
            first=max(given["first"], today),
            at=timezone.now(),
        )
        context |= {"found": found, "given": given, "chosen": chosen, "names": names_of(chosen)}
    return page(request, "lessons/find_time.html", context)


def usual_minutes(students: list[Student]) -> int:
    last = Lesson.objects.filter(student__in=students).order_by("-starts_at").values_list("minutes", flat=True)[:1]
    return next(iter(last), 45)


@for_teachers
@require_POST
def plan_found(request: HttpRequest) -> HttpResponse:
    """Plans a lesson at a free time that was found, once or every week."""
    form = FoundForm(request.POST, students=students_of(request.user).current())
    if not form.is_valid():
        raise Http404
    given, at = form.cleaned_data, timezone.now()
    students, local = list(given["students"]), timezone.localtime(given["to"])
    if given["how"] == ONCE:
        lessons = planning.plan_meeting(
            students=students, starts_at=given["to"], minutes=given["minutes"], where=given["where"]
        )
        one, slot = lessons[0].pk, lessons[0].slot_id
        undo = reverse("remove-slot", args=[slot]) if slot else reverse("remove-lesson", args=[one])
        say(request, _("The lesson is planned."), undo=undo)
    else:
        plan = scheduling.SlotPlan(
            students, local.date(), local.time(), given["minutes"], "FREQ=WEEKLY", where=given["where"]
        )
        slot, laid = scheduling.make_slot(studio=request.user.studio, plan=plan, at=at)
        words = _("The weekly lesson is planned; %(count)s lessons are laid out.") % {"count": laid.made}
        say(request, words, undo=reverse("remove-slot", args=[slot.pk]))
    return redirect(f"{reverse('week')}?from={local:%Y-%m-%d}")
