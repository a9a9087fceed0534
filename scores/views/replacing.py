"""Another file for an edition: sent, looked at, exchanged, taken back."""

from math import floor

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from scores import replacing
from scores.access import edition_for, replacements_of
from scores.carrying import from_data
from scores.comparing import compared, shown_differences
from scores.forms import ScoreFileForm
from scores.models import Replacement
from scores.music.readings import NoReadings
from scores.music.refusal import Refusal
from scores.replacing import agreement, would_leave
from scores.uploading import receive_replacement
from scores.views.answers import words
from scores.workshop import WorkshopFailed
from studio.access import for_teachers
from studio.pages import page, say

SHOWN = 200  # differences on the page; the comparison of two editions shows any number
HARDLY = 0.5  # share of notes below which it is probably another piece


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def new_replacement(request: HttpRequest, pk: int) -> HttpResponse:
    """A corrected file for an edition is sent; nothing changes before it was looked at."""
    edition = edition_for(request.user, pk)
    form = ScoreFileForm(request.POST, request.FILES) if request.method == "POST" else ScoreFileForm()
    if form.is_bound and form.is_valid():
        row = receive_replacement(form, user=request.user, edition=edition)
        if row:
            goal = reverse("replacement", args=[row.pk])
            if request.headers.get("X-Requested-With") == "XMLHttpRequest":
                return JsonResponse({"url": goal}, status=201)
            return redirect(goal)
    return page(request, "scores/new_replacement.html", {"section": "repertoire", "form": form, "edition": edition})


def replacement_for(request: HttpRequest, pk: int) -> Replacement:
    return get_object_or_404(replacements_of(request.user).defer("original"), pk=pk)


@for_teachers
@require_safe
def replacement(request: HttpRequest, pk: int) -> HttpResponse:
    """What the exchange would change, or what it left out."""
    row = replacement_for(request, pk)
    context = {"section": "repertoire", "replacement": row, "edition": row.edition}
    if row.state == Replacement.State.SENT:
        context |= {"left": would_leave(row), "share": floor(100 * agreement(row))}
        context["hardly"] = context["share"] < 100 * HARDLY
        try:
            found = compared(row.edition, row)
        except NoReadings:
            context["hardly"] = True
        except WorkshopFailed:
            context["too_long"] = True
        else:
            context |= {
                "differences": shown_differences(found.pairs, frozenset())[:SHOWN],
                "count": len(found.differences),
            }
    else:
        context["left"] = from_data(row.left)
    return page(request, "scores/replacement.html", context)


@for_teachers
@require_POST
def exchange(request: HttpRequest, pk: int) -> HttpResponse:
    """Puts the file in the place of the edition's."""
    row = replacement_for(request, pk)
    try:
        done = replacing.exchange(studio=request.user.studio, replacement=row.pk, at=timezone.now())
    except Refusal as refused:
        say(request, words(refused))
        return redirect("edition", pk=row.edition_id)
    say(request, _("The file was exchanged."), undo=reverse("take-exchange-back", args=[row.pk]))
    return redirect("replacement" if done.left else "edition", pk=row.pk if done.left else row.edition_id)


@for_teachers
@require_POST
def take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Puts the file that stood there before in its place again."""
    row = replacement_for(request, pk)
    try:
        replacing.take_back(studio=request.user.studio, replacement=row.pk, at=timezone.now())
    except Refusal as refused:
        say(request, words(refused))
    else:
        say(request, _("The file that stood there before stands there again."))
    return redirect("edition", pk=row.edition_id)


@for_teachers
@require_POST
def looked_at(request: HttpRequest, pk: int) -> HttpResponse:
    """What was left out has been dealt with."""
    row = replacement_for(request, pk)
    replacing.looked_at(row)
    return redirect("edition", pk=row.edition_id)
