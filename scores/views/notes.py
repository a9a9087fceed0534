"""What else a teacher writes on a passage: cues."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from scores import noting
from scores.access import cues_of, passage_for
from scores.models import Passage
from scores.note_forms import CueForm
from scores.views.answers import back, copy_page, note_page, undo
from scores.views.desk import show_desk
from studio.access import for_teachers
from studio.pages import say

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
