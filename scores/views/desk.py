"""The desk: one passage, its music and everything written on it."""

from dataclasses import asdict
from typing import Any
from urllib.parse import urlsplit

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.views.decorators.http import conditional_page, require_safe

from scores.access import passage_for
from scores.desk import DEFAULT_WIDTH, gather_desk, tidy_width
from scores.drill_forms import DrillForm
from scores.inheriting import here
from scores.lines import shown_lines
from scores.models import Passage
from scores.note_forms import CueForm, hand_choices
from scores.ornament_forms import OrnamentForm
from scores.ornaments_desk import OrnamentDesk, OrnamentSystem, ShownOrnament, tidy_tempo
from scores.whose_hand import Asked, gather_hands
from studio.access import for_teachers, students_of
from studio.models import Student


def asked_for(request: HttpRequest) -> Asked:
    """For whom the lines are to be ranked: as the address of the page says, whichever part of it is asked for."""
    here = request.htmx.current_url if request.htmx else None
    said = Asked.read(request.GET)
    return said if said.query or not here else Asked.read(QueryDict(urlsplit(here).query))


def tempo_for(request: HttpRequest) -> int | None:
    """The tempo that the ornaments are shown at, as the address of the page says; None where it says none."""
    here = urlsplit(request.htmx.current_url or "").query if request.htmx else ""
    return tidy_tempo(request.GET.get("tempo") or QueryDict(here).get("tempo", ""))


def students_here(request: HttpRequest) -> list[Student]:
    """The students who come to lessons, with their hands."""
    return list(students_of(request.user).current().prefetch_related("hands"))


def show_desk(request: HttpRequest, passage: Passage, *, status: int = 200, **context: Any) -> HttpResponse:
    """The desk as a page, or as the part of it that a script puts in place. `context` holds forms that failed."""
    failed = context.pop("ornament_form", None)
    width = tidy_width(request.headers.get("X-Column") or request.GET.get("width") or DEFAULT_WIDTH)
    students = students_here(request)
    asked = asked_for(request)
    gathered = gather_desk(passage, width, students, asked, tempo_for(request))
    page_context = {
        "section": "repertoire",
        "desk": gathered,
        "hand_choices": hand_choices(students, gathered.sides),
        "cue_form": CueForm(passage=passage),
        "drill_form": DrillForm(passage=passage),
        "ornament_systems": ornament_panels(gathered.ornaments, failed),
        "asked": asdict(asked),
        **context,
    }
    template = "scores/_desk.html" if request.htmx else "scores/desk.html"
    return render(request, template, page_context, status=status)


def ornament_panels(
    ornaments: OrnamentDesk, failed: OrnamentForm | None
) -> list[tuple[OrnamentSystem, list[tuple[ShownOrnament, OrnamentForm]]]]:
    """The systems with ornaments, and a form for each of them: the one that failed as it was sent."""
    forms = {failed.place.note: failed} if failed else {}
    return [
        (system, [(one, forms.get(one.place.note) or OrnamentForm(place=one.place)) for one in system.ornaments])
        for system in ornaments.systems
    ]


@for_teachers
@require_safe
def desk(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything about one passage."""
    return show_desk(request, passage_for(request.user, pk))


@for_teachers
@require_safe
def hands(request: HttpRequest, pk: int) -> HttpResponse:
    """For whose hand each line is: this section of the desk alone, for a line that was typed into meanwhile."""
    passage = passage_for(request.user, pk)
    lines = shown_lines(passage, here(passage).fingerings)
    found = gather_hands(passage, lines, students_here(request), asked_for(request))
    return render(request, "scores/_desk_hands.html", {"passage": passage, "hands": found})


@for_teachers
@require_safe
@conditional_page
def music(request: HttpRequest, pk: int) -> HttpResponse:
    """The engraved systems with their margin, for a column `width` CSS pixels wide."""
    passage = passage_for(request.user, pk)
    asked = asked_for(request)
    students = students_here(request) if asked.student else []
    gathered = gather_desk(
        passage, tidy_width(request.GET.get("width", DEFAULT_WIDTH)), students, asked, tempo_for(request)
    )
    return render(request, "scores/_desk_music.html", {"desk": gathered})
