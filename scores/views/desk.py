"""The desk: one passage, its music and everything written on it."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import conditional_page, require_safe

from scores.access import passage_for
from scores.desk import DEFAULT_WIDTH, gather_desk, tidy_width
from scores.models import Passage
from scores.note_forms import CueForm, DrillForm
from studio.access import for_teachers


def show_desk(request: HttpRequest, passage: Passage, *, status: int = 200, **context: Any) -> HttpResponse:
    """The desk as a page, or as the part of it that a script puts in place. `context` holds forms that failed."""
    width = tidy_width(request.headers.get("X-Column") or request.GET.get("width") or DEFAULT_WIDTH)
    gathered = gather_desk(passage, width)
    page_context = {
        "section": "repertoire",
        "desk": gathered,
        "cue_form": CueForm(passage=passage),
        "drill_form": DrillForm(passage=passage),
        **context,
    }
    template = "scores/_desk.html" if request.htmx else "scores/desk.html"
    return render(request, template, page_context, status=status)


@for_teachers
@require_safe
def desk(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything about one passage."""
    return show_desk(request, passage_for(request.user, pk))


@for_teachers
@require_safe
@conditional_page
def music(request: HttpRequest, pk: int) -> HttpResponse:
    """The engraved systems with their margin, for a column `width` CSS pixels wide."""
    passage = passage_for(request.user, pk)
    gathered = gather_desk(passage, tidy_width(request.GET.get("width", DEFAULT_WIDTH)))
    return render(request, "scores/_desk_music.html", {"desk": gathered})
