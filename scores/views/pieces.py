"""Pieces: one with its editions and passages, and what changes it."""

from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from scores import repertoire as verbs
from scores.access import piece_for
from scores.forms import NewPieceForm, PieceForm
from scores.models import Edition, Passage, Piece
from scores.uploading import answer_upload, receive
from studio.access import for_teachers
from studio.pages import page, say


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def new_piece(request: HttpRequest) -> HttpResponse:
    """A new piece, with its first edition at once when a file comes along."""
    piece = Piece(studio_id=request.user.studio_id)
    form = NewPieceForm(request.POST, request.FILES, instance=piece) if request.method == "POST" else NewPieceForm()
    if form.is_bound and form.is_valid():
        if form.cleaned_data["file"]:
            edition = receive(form, user=request.user, piece=form.instance)
            if edition:
                return answer_upload(request, edition)
        else:
            verbs.keep_piece(form.instance)
            say(request, _("“%(piece)s” is in the repertoire.") % {"piece": form.instance})
            return redirect("piece", pk=form.instance.pk)
    return page(request, "scores/new_piece.html", {"section": "repertoire", "form": form})


@for_teachers
@require_safe
def piece(request: HttpRequest, pk: int) -> HttpResponse:
    """One piece: its editions, and the passages marked in them."""
    found = piece_for(request.user, pk)
    marked = Passage.objects.standing()
    editions = Edition.objects.light().filter(piece=found).prefetch_related(Prefetch("passages", marked))
    return page(request, "scores/piece.html", {"section": "repertoire", "piece": found, "editions": editions})


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def change_piece(request: HttpRequest, pk: int) -> HttpResponse:
    found = piece_for(request.user, pk)
    form = PieceForm(request.POST if request.method == "POST" else None, instance=found)
    if form.is_bound and form.is_valid():
        verbs.keep_piece(form.instance)
        return redirect("piece", pk=pk)
    context = {"section": "repertoire", "form": form, "piece": piece_for(request.user, pk) if form.errors else found}
    return page(request, "scores/change_piece.html", context)


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def remove_piece(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes a piece away for good, after saying so."""
    found = piece_for(request.user, pk)
    trouble = ""
    if request.method == "POST":
        try:
            verbs.remove_piece(found)
        except verbs.StillUsed:
            trouble = _("This piece still has an edition, or a student has worked on it. It stays.")
        else:
            say(request, _("“%(piece)s” was taken away.") % {"piece": found})
            return redirect("repertoire")
    context = {
        "section": "repertoire",
        "what": found,
        "words": _("The piece goes for good, with what you remarked on it."),
        "trouble": trouble,
        "back": reverse("piece", args=[pk]),
    }
    return page(request, "scores/take_away.html", context, status=422 if trouble else 200)
