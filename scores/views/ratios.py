"""Any two numbers of strokes against each other, without a score: chart, stages, sound."""

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from scores.drill_forms import RatioForm, figure
from scores.music.refusal import Refusal
from scores.ratios import shown_ratio
from scores.rhythms import CHART_WIDTH, chart_of
from studio.access import for_everyone_here
from studio.pages import page

LEAST_COLUMN = 280  # CSS pixels


@for_everyone_here
@require_safe
def cross_rhythm(request: HttpRequest) -> HttpResponse:
    """The figure that the address asks for; 3 against 2 where it asks for none."""
    form = RatioForm(request.GET or None)
    shown = None
    if form.is_valid():
        shown = shown_ratio(form.crossing, form.plan, width=CHART_WIDTH)
    elif not form.is_bound:
        first = RatioForm(RatioForm.first())
        shown = shown_ratio(first.crossing, first.plan, width=CHART_WIDTH) if first.is_valid() else None
    context = {"form": form, "shown": shown, "title": _("Cross-rhythms")}
    return page(request, "scores/cross_rhythm.html", context)


@for_everyone_here
@require_safe
def ratio_chart(request: HttpRequest) -> HttpResponse:
    """The chart alone, drawn for a column `width` CSS pixels wide."""
    asked = {"width": CHART_WIDTH, **RatioForm.first(), **request.GET.dict()}
    try:
        crossing = figure(int(asked["right"]), int(asked["left"]))
        width = max(LEAST_COLUMN, min(CHART_WIDTH, int(asked["width"])))
    except (ValueError, Refusal):
        raise Http404 from None
    return HttpResponse(chart_of(crossing, None, width).svg, content_type="image/svg+xml")
