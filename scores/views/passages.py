"""Marking passages, naming them, taking them away and bringing them back."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from scores import marking
from scores.access import passage_for
from scores.forms import PassageForm, PassageNameForm
from scores.views.editions import readable_edition, show_edition
from studio.access import for_teachers
from studio.pages import page, say


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def new_passage(request: HttpRequest, pk: int) -> HttpResponse:
    """Marks a passage; a GET shows the edition, where passages are marked."""
    edition = readable_edition(request.user, pk)
    if request.method != "POST":
        return redirect("edition", pk=pk)
    form = PassageForm(request.POST, score=edition.score)
    if not form.is_valid():
        return show_edition(request, edition, form=form)
    given = form.cleaned_data
    passage = marking.mark_passage(
        edition=edition, first=given["first"].id, last=given["last"].id, hands=given["hands"], name=given["name"]
    )
    return redirect("desk", pk=passage.pk)


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def name_passage(request: HttpRequest, pk: int) -> HttpResponse:
    passage = passage_for(request.user, pk)
    form = PassageNameForm(request.POST if request.method == "POST" else None, instance=passage)
    if form.is_bound and form.is_valid():
        marking.name_passage(passage, name=form.cleaned_data["name"])
        return redirect("desk", pk=pk)
    return page(request, "scores/name_passage.html", {"section": "repertoire", "form": form, "passage": passage})


@for_teachers
@require_POST
def remove_passage(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes a passage away, with all that was written on it; it can be brought back."""
    passage = passage_for(request.user, pk)
    marking.remove_passage(passage, at=timezone.now())
    say(
        request,
        _("“%(passage)s” was taken away, with the notes on it.") % {"passage": passage},
        undo=reverse("restore-passage", args=[pk]),
    )
    return redirect("piece", pk=passage.edition.piece_id)


@for_teachers
@require_POST
def restore_passage(request: HttpRequest, pk: int) -> HttpResponse:
    passage = passage_for(request.user, pk)
    marking.restore_passage(passage)
    say(request, _("“%(passage)s” is back.") % {"passage": passage})
    return redirect("piece", pk=passage.edition.piece_id)
