"""What a teacher writes on a passage: fingerings, placements, drills, cues."""

from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST
from django_htmx.http import HttpResponseClientRedirect, retarget

from scores import noting
from scores.access import cues_of, drills_of, fingerings_of, passage_for, passages_of
from scores.desk import line_data
from scores.lines import joins_of, read_typed, said, shown_lines
from scores.models import Fingering, Passage
from scores.music.refusal import Refusal
from scores.note_forms import (
    CopyForm,
    CueForm,
    DrillForm,
    FingersForm,
    LineForm,
    NewLineForm,
    PlacementForm,
    PlanForm,
    StretchForm,
)
from scores.rhythms import plan_of
from scores.stretches import stretch_of
from scores.views.desk import show_desk
from studio.access import for_teachers
from studio.pages import page, say


def back(request: HttpRequest, passage: Passage, anchor: str) -> HttpResponse:
    """After a change: the changed desk itself for a script, else the way back to it."""
    if request.htmx:
        return show_desk(request, passage)
    return redirect(reverse("desk", kwargs={"pk": passage.pk}) + f"#{anchor}")


def refused(request: HttpRequest, passage: Passage, refusal: Refusal, **context: Any) -> HttpResponse:
    """The desk again, with what could not be done said at its head."""
    return show_desk(request, passage, status=422, refusal=words(refusal), **context)


def words(refusal: Refusal) -> str:
    return _(refusal.msgid) % refusal.params


def undo(name: str, pk: int) -> str:
    return reverse(name, kwargs={"pk": pk})


# Fingerings


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
    lines = shown_lines(passage, list(passage.fingerings.standing()))
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


def note_page(
    request: HttpRequest, passage: Passage, form: Any, title: str, action: str, pk: int, **context: Any
) -> HttpResponse:
    """The form of one note, on a page of its own; a script puts it where it belongs on the desk."""
    template = "scores/_desk_note.html" if request.htmx else "scores/desk_note.html"
    form_id = f"{action}-{pk}"
    form.auto_id = f"{form_id}-%s"  # Several such forms can stand open on one desk.
    page_context = {
        "section": "repertoire",
        "passage": passage,
        "form": form,
        "form_id": form_id,
        "title": title,
        "action": reverse(action, kwargs={"pk": pk}),
        **context,
    }
    response = page(request, template, page_context)
    return retarget(response, f"#{form_id}") if response.status_code == 422 and request.htmx else response


def copy_page(request: HttpRequest, note: Any, copy: Any, action: str, title: str) -> HttpResponse:
    """Copies a note to another passage: which one, or why not."""
    passages = (
        passages_of(request.user)
        .standing()
        .exclude(pk=note.passage_id)
        .defer("edition__original", "edition__packed_music", "edition__packed_score")
    )
    form = CopyForm(request.POST or None, passages=passages, source=note.passage)
    if request.method == "POST" and form.is_valid():
        to = passage_for(request.user, form.cleaned_data["passage"])
        try:
            copy(to)
        except Refusal as refusal:
            form.add_error("passage", words(refusal))
        else:
            say(request, _("Copied. This is the passage it was copied to."))
            return go(request, reverse("desk", kwargs={"pk": to.pk}))
    return note_page(request, note.passage, form, title, action, note.pk, submit=_("Copy"))


def go(request: HttpRequest, url: str) -> HttpResponse:
    """To another page, whether a script asks or the browser."""
    return HttpResponseClientRedirect(url) if request.htmx else redirect(url)


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


# Ornaments


@for_teachers
@require_POST
def keep_placement(request: HttpRequest, pk: int) -> HttpResponse:
    """Before the beat, on it, or not decided."""
    passage = passage_for(request.user, pk)
    form = PlacementForm(request.POST)
    if not form.is_valid():
        return show_desk(request, passage, status=422, refusal=_("Choose before the beat or on the beat."))
    try:
        noting.keep_placement(passage=passage, at=timezone.now(), **form.cleaned_data)
    except Refusal as refusal:
        return refused(request, passage, refusal)
    return back(request, passage, "ornaments")


# Rhythm drills


@for_teachers
@require_POST
def new_drill(request: HttpRequest, pk: int) -> HttpResponse:
    passage = passage_for(request.user, pk)
    form = DrillForm(request.POST, passage=passage)
    if not form.is_valid():
        return show_desk(request, passage, status=422, drill_form=form)
    start, end = form.span
    tempos = {name: form.cleaned_data[name] for name in ("tempo_now", "tempo_goal")}
    try:
        drill = noting.plan_drill(passage=passage, start=start, end=end, **tempos)
    except Refusal as refusal:
        form.add_error(None, words(refusal))
        return show_desk(request, passage, status=422, drill_form=form)
    return back(request, passage, f"drill-{drill.pk}")


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def keep_drill(request: HttpRequest, pk: int) -> HttpResponse:
    """The stages of a drill, in the teacher's words and order, and a remark."""
    drill = get_object_or_404(drills_of(request.user), pk=pk)
    before = plan_of(drill)
    form = PlanForm(request.POST or None, shown=before, initial={"remark": drill.remark})
    if request.method == "POST" and form.is_valid():
        noting.keep_drill(drill=drill, plan=form.plan(), remark=form.cleaned_data["remark"])
        return back(request, drill.passage, f"drill-{pk}")
    return note_page(request, drill.passage, form, _("The plan of a rhythm drill"), "keep-drill", pk)


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def copy_drill(request: HttpRequest, pk: int) -> HttpResponse:
    drill = get_object_or_404(drills_of(request.user), pk=pk)

    def copy(to: Passage) -> None:
        noting.copy_drill(drill=drill, to=to)

    return copy_page(request, drill, copy, "copy-drill", _("Copy a rhythm drill to another passage"))


@for_teachers
@require_POST
def remove_drill(request: HttpRequest, pk: int) -> HttpResponse:
    drill = get_object_or_404(drills_of(request.user), pk=pk)
    noting.remove_note(drill, at=timezone.now())
    say(request, _("The rhythm drill was taken away."), undo=undo("restore-drill", pk))
    return back(request, drill.passage, "rhythm")


@for_teachers
@require_POST
def restore_drill(request: HttpRequest, pk: int) -> HttpResponse:
    drill = get_object_or_404(drills_of(request.user), pk=pk)
    noting.restore_note(drill)
    return back(request, drill.passage, f"drill-{pk}")


# Cues


@for_teachers
@require_POST
def new_cue(request: HttpRequest, pk: int) -> HttpResponse:
    passage = passage_for(request.user, pk)
    form = CueForm(request.POST, passage=passage)
    if not form.is_valid():
        return show_desk(request, passage, status=422, cue_form=form)
    noting.write_cue(passage=passage, text=form.cleaned_data["text"], **form.where)
    return back(request, passage, "desk-music")


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def keep_cue(request: HttpRequest, pk: int) -> HttpResponse:
    cue = get_object_or_404(cues_of(request.user), pk=pk)
    form = CueForm(request.POST, passage=cue.passage) if request.method == "POST" else CueForm.of(cue)
    if request.method == "POST" and form.is_valid():
        noting.keep_cue(cue=cue, text=form.cleaned_data["text"], **form.where)
        return back(request, cue.passage, "desk-music")
    ways = {"copy": undo("copy-cue", pk), "removing": undo("remove-cue", pk)}
    return note_page(request, cue.passage, form, _("Change a cue"), "keep-cue", pk, **ways)


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def copy_cue(request: HttpRequest, pk: int) -> HttpResponse:
    cue = get_object_or_404(cues_of(request.user), pk=pk)

    def copy(to: Passage) -> None:
        noting.copy_cue(cue=cue, to=to)

    return copy_page(request, cue, copy, "copy-cue", _("Copy a cue to another passage"))


@for_teachers
@require_POST
def remove_cue(request: HttpRequest, pk: int) -> HttpResponse:
    cue = get_object_or_404(cues_of(request.user), pk=pk)
    noting.remove_note(cue, at=timezone.now())
    say(request, _("The cue was taken away."), undo=undo("restore-cue", pk))
    return back(request, cue.passage, "desk-music")


@for_teachers
@require_POST
def restore_cue(request: HttpRequest, pk: int) -> HttpResponse:
    cue = get_object_or_404(cues_of(request.user), pk=pk)
    noting.restore_note(cue)
    return back(request, cue.passage, "desk-music")
