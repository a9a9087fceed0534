"""Two editions of a piece side by side, and the other editions' readings of one passage."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from scores.access import editions_of, passage_for, piece_for
from scores.comparing import KIND_NAMES, other_readings, side_by_side
from scores.leafing import asked_place, width_of
from scores.models import Edition, Piece
from scores.music.readings import NoReadings
from scores.workshop import WorkshopFailed
from studio.access import for_teachers
from studio.models import User
from studio.pages import page


@for_teachers
@require_safe
def compare(request: HttpRequest, pk: int) -> HttpResponse:
    """Two editions: by default the first two of the piece, from the first measure or the one that was asked for."""
    piece = piece_for(request.user, pk)
    there = list(Edition.objects.light().filter(piece=piece))
    context = {"section": "repertoire", "piece": piece, "editions": there}
    if len(there) < 2:
        return page(request, "scores/compare.html", context)
    first, second = (asked_edition(request, request.user, piece, there, place) for place in (0, 1))
    off = frozenset(kind for kind in KIND_NAMES if f"no-{kind}" in request.GET)
    number = request.GET.get("measure", "").strip()[:12]
    start = asked_place(first.score, number, request.GET.get("first", ""))
    try:
        context["shown"] = side_by_side(first, second, start=start or 0, width=width_of(request), off=off)
    except NoReadings:
        context["trouble"] = _("These two share no measure. Are they editions of one piece?")
    except WorkshopFailed:
        context["trouble"] = _("Comparing these took too long and was stopped. Send the work one movement at a time.")
    context |= {"first": first, "second": second, "asked": asked_again(request)}
    return page(request, "scores/compare.html", context)


def asked_edition(request: HttpRequest, user: User, piece: Piece, there: list[Edition], place: int) -> Edition:
    """The edition that was asked for under `a` or `b`, or the first and the second that is there."""
    asked = request.GET.get("ab"[place], "")
    known = {str(one.pk) for one in there}
    chosen = asked if asked in known else str(there[place].pk)
    return get_object_or_404(editions_of(user).defer("original"), pk=chosen, piece=piece)


def asked_again(request: HttpRequest) -> str:
    """The question without the place, for the links to other places of the same comparison."""
    kept = request.GET.copy()
    for name in ("first", "measure"):
        kept.pop(name, None)
    return kept.urlencode()


@for_teachers
@require_safe
def readings(request: HttpRequest, pk: int) -> HttpResponse:
    """What the other editions of the piece have in the measures of a passage: a part of the desk."""
    passage = passage_for(request.user, pk)
    others = editions_of(request.user).filter(piece=passage.edition.piece_id).exclude(pk=passage.edition_id)
    shown = other_readings(passage, others.defer("original"), width_of(request))
    return render(request, "scores/_readings.html", {"passage": passage, "readings": shown})
