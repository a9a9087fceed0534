"""Entering a short passage by hand, from a printed book."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from scores.access import piece_for
from scores.desk import system_words, tidy_width
from scores.engraving import engrave
from scores.entry_forms import EntryForm, PreviewForm
from scores.handwork import read_typed, shown_notices
from scores.marking import mark_all
from scores.reading_files import CannotRead
from scores.repertoire import keep_edition
from scores.uploading import problem_words
from scores.workshop import WorkshopFailed
from studio.access import for_teachers
from studio.pages import page, say

STAFF = 36  # height of a staff in the preview, in CSS pixels


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def enter_passage(request: HttpRequest, pk: int) -> HttpResponse:
    """A passage typed or clicked becomes an edition, and one passage of it if wanted."""
    piece = piece_for(request.user, pk)
    form = EntryForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        try:
            text, read = read_typed(form, title=piece.title)
        except (CannotRead, WorkshopFailed) as problem:
            form.add_error(None, problem_words(problem))
        else:
            edition = keep_edition(piece=piece, label=form.cleaned_data["label"], read=read, typed=text)
            say(request, _("“%(edition)s” is kept.") % {"edition": edition})
            if form.cleaned_data["mark"]:
                return redirect("desk", pk=mark_all(edition=edition).pk)
            return redirect("edition", pk=edition.pk)
    return page(request, "scores/enter_passage.html", {"section": "repertoire", "form": form, "piece": piece})


@for_teachers
@require_POST
def preview(request: HttpRequest) -> HttpResponse:
    """What is typed so far, engraved; or what cannot be read, and where."""
    form = PreviewForm(request.POST)
    if not any(request.POST.get(hand, "").strip() for hand in ("right", "left")):
        return page(request, "scores/_preview.html")
    trouble = [f"{form[name].label}: {error}" for name, errors in form.errors.items() for error in errors]
    if trouble:
        return page(request, "scores/_preview.html", {"trouble": trouble}, status=422)
    try:
        _text, read = read_typed(form, title="")
        systems = engrave(read.music, width=tidy_width(request.POST.get("width")), staff=STAFF).systems
    except (CannotRead, WorkshopFailed) as problem:
        return page(request, "scores/_preview.html", {"trouble": [problem_words(problem)]}, status=422)
    pictures = [
        mark_safe(one.labelled(system_words(read.score, one.first_measure, one.last_measure, ()))) for one in systems
    ]
    return page(request, "scores/_preview.html", {"systems": pictures, "notices": shown_notices(form, read)})
