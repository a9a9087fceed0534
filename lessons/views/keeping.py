"""Keeping what is typed at a lesson: notes, and what to do with its pieces and passages.

A script asks for JSON: 200 when the words are kept, 409 when another window changed the same words meanwhile, 422 when
they cannot be kept. Without a script the same comes as a page.
"""

from collections.abc import Callable, Mapping

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.template.defaultfilters import time as time_of
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from lessons import keeping
from lessons.access import assigned_for, assignments_of, lesson_for
from lessons.forms import KeptForm, NotesForm, RemarkForm
from lessons.keeping import Kept, Typed
from lessons.lesson_page import together_with
from lessons.models import AssignedPassage, Assignment, Lesson
from studio.access import for_teachers
from studio.pages import page, say

Verb = Callable[[Mapping[str, Typed]], Kept]


@for_teachers
@require_POST
def keep_notes(request: HttpRequest, pk: int) -> HttpResponse:
    lesson = lesson_for(request.user, pk)
    form = NotesForm(request.POST)

    def verb(typed: Mapping[str, Typed]) -> Kept:
        return keeping.keep_notes(lesson=lesson, typed=typed, revision=form.cleaned_data["revision"])

    return keep(request, form, lesson, verb)


@for_teachers
@require_POST
def keep_assignment(request: HttpRequest, pk: int) -> HttpResponse:
    """Keeps what is to be done with a piece."""
    row = get_object_or_404(assignments_of(request.user), pk=pk)
    return keep(request, RemarkForm(request.POST), row.lesson, remark_of(row))


@for_teachers
@require_POST
def keep_remark(request: HttpRequest, pk: int) -> HttpResponse:
    """Keeps what is to be done with one passage."""
    row = assigned_for(request.user, pk)
    return keep(request, RemarkForm(request.POST), row.assignment.lesson, remark_of(row))


def remark_of(row: Assignment | AssignedPassage) -> Verb:
    def verb(typed: Mapping[str, Typed]) -> Kept:
        return keeping.keep_remark(row=row, typed=typed["remark"])

    return verb


def keep(request: HttpRequest, form: KeptForm, lesson: Lesson, verb: Verb) -> HttpResponse:
    wants_json = request.accepts("application/json") and not request.accepts("text/html")
    if not form.is_valid():
        said = " ".join(error for errors in form.errors.values() for error in errors)
        if wants_json:
            return JsonResponse({"said": _("Not kept: %(why)s") % {"why": said}}, status=422)
        return page(request, "lessons/clash.html", {"form": form, "lesson": lesson, "section": "week"})
    answer = request.POST.get("answer", "")
    kept = None if answer == "theirs" else verb(asked(form.typed(), answer))
    if wants_json and kept:
        return told(request, form, kept)
    if kept and kept.clashes:
        return clash_page(request, form, lesson, kept)
    say(request, _("Kept."))
    return redirect("lesson", pk=lesson.pk)


def asked(typed: Mapping[str, Typed], answer: str) -> Mapping[str, Typed]:
    """The words as the teacher wants them after a clash: her own, or both in one."""
    if answer != "both":
        return typed
    return {name: Typed(text.before, keeping.both(text.before, text.now)) for name, text in typed.items()}


def told(request: HttpRequest, form: KeptForm, kept: Kept) -> JsonResponse:
    """What a script has to know, and the words to say it with."""
    data = {"texts": dict(kept.texts), "revision": kept.revision, "news": list(kept.news)}
    if kept.clashes:
        context = {"form": form, "clashes": clashes_of(form, kept)}
        html = render_to_string("lessons/_clash.html", context, request)
        return JsonResponse({**data, "clashes": list(kept.clashes), "html": html}, status=409)
    said = _("kept %(time)s") % {"time": time_of(timezone.localtime(), "H:i")}
    if kept.news:
        labels = ", ".join(str(form[name].label) for name in kept.news)
        said += " · " + _("taken over from another window: %(what)s") % {"what": labels}
    return JsonResponse({**data, "said": said})


def clashes_of(form: KeptForm, kept: Kept) -> list[tuple[str, str]]:
    """Each text that both windows changed: its label and how it stands in the studio."""
    return [(str(form[name].label), kept.texts[name]) for name in kept.clashes]


def clash_page(request: HttpRequest, form: KeptForm, lesson: Lesson, kept: Kept) -> HttpResponse:
    """Both texts on one page, with what was typed in the field. Its form begins from what is kept, so that the next
    answer holds."""
    typed = {name: text.now for name, text in form.typed().items()}
    before = {f"{name}_before": text for name, text in kept.texts.items()}
    fresh = type(form)(initial={**typed, **before, "revision": kept.revision})
    context = {"form": fresh, "lesson": lesson, "clashes": clashes_of(form, kept), "section": "week"}
    return page(request, "lessons/clash.html", context, status=409)


@for_teachers
@require_POST
def notes_for_all(request: HttpRequest, pk: int) -> HttpResponse:
    """Puts the notes of a lesson into those of everyone who comes to the same one."""
    lesson = lesson_for(request.user, pk)
    others = together_with(lesson)
    keeping.say_to_all(lesson=lesson, others=others)
    names = ", ".join(str(one.student) for one in others)
    say(
        request,
        _("The notes stand at %(names)s as well.") % {"names": names} if names else _("Nobody else comes to it."),
    )
    return redirect(reverse("lesson", args=[pk]) + "#notes")
