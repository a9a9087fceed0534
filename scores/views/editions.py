"""Editions: sending one, reading it on the screen, taking it away as a file."""

from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import conditional_page, require_http_methods, require_safe

from scores import repertoire
from scores.access import edition_for, editions_of, piece_for, uploads_of
from scores.forms import EditionForm, PassageForm, ScoreFileForm, no_such_measure
from scores.inheriting import choices_everywhere
from scores.leafing import asked_place, leaf_before, leaf_from, notices_of, width_of
from scores.models import Edition, Replacement
from scores.ornament_places import choices_in
from scores.repertoire import tidy_name
from scores.uploading import answer_upload, receive, state_of
from scores.writing_files import with_choices
from studio.access import for_teachers
from studio.models import User
from studio.pages import page, say

MUSICXML = "application/vnd.recordare.musicxml+xml"


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def new_edition(request: HttpRequest, pk: int) -> HttpResponse:
    """An edition of a piece, from a file."""
    piece = piece_for(request.user, pk)
    form = ScoreFileForm(request.POST, request.FILES) if request.method == "POST" else ScoreFileForm()
    if form.is_bound and form.is_valid():
        edition = receive(form, user=request.user, piece=piece)
        if edition:
            return answer_upload(request, edition)
    return page(request, "scores/new_edition.html", {"section": "repertoire", "form": form, "piece": piece})


@for_teachers
@require_safe
@never_cache
def upload_state(request: HttpRequest, key: str) -> HttpResponse:
    """How far the reading of a sent file is."""
    return JsonResponse(state_of(get_object_or_404(uploads_of(request.user), key=key)))


def readable_edition(user: User, pk: int) -> Edition:
    """An edition without the file as it was sent, which may be large and is not needed to read it."""
    return get_object_or_404(editions_of(user).defer("original"), pk=pk)


@for_teachers
@require_safe
def edition(request: HttpRequest, pk: int) -> HttpResponse:
    """The engraved score, from its beginning or from the measure that was asked for."""
    return show_edition(request, readable_edition(request.user, pk))


def show_edition(request: HttpRequest, edition: Edition, *, form: PassageForm | None = None) -> HttpResponse:
    """The page of an edition; `form` is that of a new passage when it did not hold."""
    number = request.GET.get("measure", "").strip()[:12]
    start = asked_place(edition.score, number, request.GET.get("first", ""))
    context: dict[str, Any] = {
        "section": "repertoire",
        "edition": edition,
        "notices": notices_of(edition),
        "to_look_at": edition.replacements.filter(state=Replacement.State.DONE).exclude(left=[]).only("left"),
        "others": edition.piece.editions.light().exclude(pk=edition.pk),
        "leaf": leaf_from(edition, start or 0, width_of(request)),
        "form": form or PassageForm(score=edition.score),
        "number": number,
        "wrong_number": no_such_measure(edition.score, number) if start is None else "",
    }
    return page(request, "scores/edition.html", context)


@for_teachers
@require_safe
@conditional_page
def systems(request: HttpRequest, pk: int) -> HttpResponse:
    """The systems from measure `first` on (an index), or those that end before measure `before`. With `follows`, what
    goes before is on the page already."""
    edition = readable_edition(request.user, pk)
    width = width_of(request)
    before = asked_place(edition.score, "", request.GET.get("before", ""))
    if before:
        leaf = leaf_before(edition, before, width)
    else:
        first = asked_place(edition.score, "", request.GET.get("first", "")) or 0
        leaf = leaf_from(edition, first, width, follows="follows" in request.GET)
    return render(request, "scores/_leaf.html", {"edition": edition, "leaf": leaf})


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def change_edition(request: HttpRequest, pk: int) -> HttpResponse:
    """What the edition is called."""
    edition = readable_edition(request.user, pk)
    form = EditionForm(request.POST if request.method == "POST" else None, instance=edition)
    if form.is_bound and form.is_valid():
        edition.save(update_fields=["label"])
        return redirect("edition", pk=pk)
    context = {"section": "repertoire", "form": form, "edition": edition, "back": reverse("edition", args=[pk])}
    return page(request, "scores/change_edition.html", context)


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def remove_edition(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes an edition away for good, after saying so."""
    edition = readable_edition(request.user, pk)
    trouble = ""
    if request.method == "POST":
        try:
            repertoire.remove_edition(edition)
        except repertoire.StillUsed:
            trouble = _("Passages of this edition are marked, or a student has one. Take those away first.")
        else:
            say(request, _("“%(edition)s” was taken away.") % {"edition": edition})
            return redirect("piece", pk=edition.piece_id)
    context = {
        "section": "repertoire",
        "what": edition,
        "words": _("The edition goes for good, and the file that was sent with it. It can be sent again."),
        "trouble": trouble,
        "back": reverse("edition", args=[pk]),
    }
    return page(request, "scores/take_away.html", context, status=422 if trouble else 200)


@for_teachers
@require_safe
def file(request: HttpRequest, pk: int) -> HttpResponse:
    """The music as MusicXML with its note ids, with `chosen` how the desk has its ornaments played; or, with
    `original`, the file as it was sent or the ABC as typed."""
    edition = edition_for(request.user, pk)
    if "original" in request.GET and edition.original:
        return attachment(bytes(edition.original), "application/octet-stream", edition.file_name)
    if "original" in request.GET and edition.typed:
        return attachment(
            edition.typed.encode(), "text/vnd.abc; charset=utf-8", f"{edition.label}.abc".replace("/", "-")
        )
    music = with_ornaments(edition) if "chosen" in request.GET else edition.music
    return attachment(music, MUSICXML, f"{edition.piece.title} – {edition.label}.musicxml".replace("/", "-"))


def with_ornaments(edition: Edition) -> bytes:
    """The edition's music with what was chosen for its ornaments on any of its passages, wherever that stands."""
    choices = choices_in(sorted(choices_everywhere(edition), key=lambda row: -row.pk))
    return with_choices(edition.music, {}, keep_printed=True, score=edition.score, choices=choices)


def attachment(content: bytes, kind: str, name: str) -> HttpResponse:
    """A download under a name in any script."""
    disposition = content_disposition_header(as_attachment=True, filename=tidy_name(name) or _("score"))
    return HttpResponse(content, content_type=kind, headers={"Content-Disposition": disposition})
