"""Any two numbers of strokes against each other, without a score: chart, stages, sound."""

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from scores.drill_forms import RatioForm
from scores.ratios import shown_ratio
from studio.access import for_everyone_here
from studio.pages import page

COLUMN = (280, 560)


@for_everyone_here
@require_safe
def cross_rhythm(request: HttpRequest) -> HttpResponse:
    """The figure that the address asks for; 3 against 2 where it asks for none."""
    form = RatioForm(request.GET or None)
    shown = None
    if form.is_valid():
        shown = shown_ratio(form.crossing, form.plan, width=column_of(request))
    elif not form.is_bound:
        first = RatioForm(RatioForm.first())
        shown = shown_ratio(first.crossing, first.plan, width=column_of(request)) if first.is_valid() else None
    context = {"form": form, "shown": shown, "title": _("Cross-rhythms")}
    return page(request, "scores/cross_rhythm.html", context)


def column_of(request: HttpRequest) -> int:
    """The width of the reader's column in CSS pixels, as a script measured it; a phone's until it has."""
    asked = request.COOKIES.get("column", "")
    return max(COLUMN[0], min(COLUMN[1], int(asked))) if asked.isdecimal() and len(asked) < 6 else 340
