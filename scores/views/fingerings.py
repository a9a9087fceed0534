"""Writing finger lines: as text, over the notes, copied, proposed."""

from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from scores import noting
from scores.access import fingerings_of, passage_for
from scores.desk import line_data
from scores.inheriting import here_now
from scores.lines import joins_of, read_typed, said, shown_lines
from scores.models import Fingering, Passage
from scores.music.refusal import Refusal
from scores.note_forms import FingersForm, LineForm, NewLineForm, ProposalForm, StretchForm
from scores.proposing import adopt, propose_lines
from scores.stretches import stretch_of
from scores.views.answers import back, copy_page, note_page, refused, undo, words
from scores.views.desk import show_desk, students_here
from studio.access import for_teachers
from studio.pages import say


def fingering_for(request: HttpRequest, pk: int) -> Fingering:
    return get_object_or_404(fingerings_of(request.user), pk=pk)


@for_teachers
@require_POST
def new_fingering(request: HttpRequest, pk: int) -> HttpResponse:
    """A new line, empty or with the edition's own fingers."""
    passage = passage_for(request.user, pk)
    form = NewLineForm(request.POST)
    if not form.is_valid():
        return show_desk(request, passage, status=422, refusal=_("Say for which hand the line is."))
    side, asked = form.cleaned_data["side"], form.cleaned_data
    try:
        if asked["start"] == "printed":
            line = noting.copy_printed(passage=passage, side=side)
        else:
            line = noting.write_fingering(
                passage=passage, side=side, first=asked["first_note"], last=asked["last_note"]
            )
    except Refusal as refusal:
        return refused(request, passage, refusal)
    if request.htmx:
        return show_desk(request, passage, new_line=line.pk)
    return back(request, passage, f"line-{line.pk}")


@for_teachers
@require_POST
def keep_line(request: HttpRequest, pk: int) -> HttpResponse:
    """A line typed as text."""
    fingering = fingering_for(request, pk)
    passage = fingering.passage
    form = LineForm(request.POST)
    if not form.is_valid():
        return show_desk(request, passage, status=422, refusal=_("That line is too long."))
    typed = {"key": str(pk), "line": form.cleaned_data["line"]}
    line = read_typed(typed["line"], stretch_of(fingering), passage)
    if line.problems:
        return show_desk(request, passage, status=422, typed={**typed, "problems": said(line.problems)})
    try:
        noting.keep_fingers(fingering=fingering, fingers=line.fingers, seen=form.cleaned_data["seen"])
    except noting.ChangedMeanwhile:
        return show_desk(request, passage, status=409, typed={**typed, "changed": True})
    return back(request, passage, f"line-{pk}")


@for_teachers
@require_POST
def keep_fingers(request: HttpRequest, pk: int) -> HttpResponse:
    """The whole line as the page's script has it: answered with what is wrong in it, or what changed elsewhere."""
    fingering = fingering_for(request, pk)
    form = FingersForm(request.POST)
    if not form.is_valid():
        return JsonResponse({"trouble": form.errors.as_text()}, status=422)
    asked = form.cleaned_data
    try:
        kept = noting.keep_fingers(
            fingering=fingering,
            fingers=asked["fingers"],
            first=asked["first_note"],
            last=asked["last_note"],
            seen=asked["seen"],
        )
    except noting.ChangedMeanwhile as changed:
        return JsonResponse(line_state(request, changed.current), status=409)
    except Refusal as refusal:
        return JsonResponse({"trouble": words(refusal)}, status=422)
    return JsonResponse(line_state(request, kept))


def line_state(request: HttpRequest, fingering: Fingering) -> dict[str, Any]:
    """A line as the script shows it, with the joins it takes part in drawn anew."""
    passage = fingering.passage
    lines = shown_lines(passage, here_now(passage).fingerings)
    line = next((line for line in lines if line.key == str(fingering.pk)), None)
    if line is None:
        return {"trouble": _("This line was taken away in another window.")}
    context = {"line": line, "joins": joins_of(passage, lines)}
    return {
        **line_data(line),
        "text": line.text,
        "problemsHtml": render_to_string("scores/_desk_problems.html", context, request),
        "joinsHtml": render_to_string("scores/_desk_joins.html", context, request),
    }


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def keep_fingering(request: HttpRequest, pk: int) -> HttpResponse:
    """Which part of the passage a line is for, and the remark on it."""
    fingering = fingering_for(request, pk)
    passage = fingering.passage
    initial = {name: getattr(fingering, name) for name in ("first_note", "last_note", "remark")}
    form = StretchForm(request.POST or None, passage=passage, side=fingering.side, initial=initial)
    if request.method == "POST" and form.is_valid():
        asked = form.cleaned_data
        noting.keep_fingers(
            fingering=fingering,
            fingers=fingering.fingers,
            first=asked["first_note"],
            last=asked["last_note"],
            remark=asked["remark"],
        )
        return back(request, passage, f"line-{pk}")
    return note_page(request, passage, form, _("A finger line: its part and remark"), "keep-fingering", pk)


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def copy_fingering(request: HttpRequest, pk: int) -> HttpResponse:
    fingering = fingering_for(request, pk)

    def copy(to: Passage) -> None:
        noting.copy_fingering(fingering=fingering, to=to)

    return copy_page(request, fingering, copy, "copy-fingering", _("Copy a finger line to another passage"))


@for_teachers
@require_POST
def remove_fingering(request: HttpRequest, pk: int) -> HttpResponse:
    fingering = fingering_for(request, pk)
    noting.remove_note(fingering, at=timezone.now())
    say(request, _("The finger line was taken away."), undo=undo("restore-fingering", pk))
    return back(request, fingering.passage, "lines")


@for_teachers
@require_POST
def restore_fingering(request: HttpRequest, pk: int) -> HttpResponse:
    fingering = fingering_for(request, pk)
    noting.restore_note(fingering)
    return back(request, fingering.passage, f"line-{pk}")


# What the program suggests


@for_teachers
@require_POST
def propose_fingerings(request: HttpRequest, pk: int) -> HttpResponse:
    """Up to four lines of the program's for one hand."""
    passage = passage_for(request.user, pk)
    form = ProposalForm(request.POST, students=students_here(request))
    if not form.is_valid():
        return show_desk(request, passage, status=422, refusal=_("Say for which hand, and how large it is, or whose."))
    try:
        found = propose_lines(passage=passage, side=form.cleaned_data["side"], hand=form.cleaned_data["hand"])
    except Refusal as refusal:
        return refused(request, passage, refusal)
    if not found:
        say(request, _("Nothing new: what would be suggested stands here already."))
    return back(request, passage, f"line-{found[0].pk}" if found else "lines")


@for_teachers
@require_POST
def adopt_fingering(request: HttpRequest, pk: int) -> HttpResponse:
    fingering = fingering_for(request, pk)
    adopt(fingering)
    return back(request, fingering.passage, f"line-{pk}")
