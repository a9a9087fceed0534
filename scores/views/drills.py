"""Rhythm drills on a passage: planned, changed, copied, taken away."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from scores import noting
from scores.access import drills_of, passage_for
from scores.desk import tidy_width
from scores.drill_forms import DrillForm, PlanForm
from scores.models import Passage
from scores.music.refusal import Refusal
from scores.rhythms import CHART_WIDTH, plan_of, shown_drill
from scores.views.answers import back, copy_page, note_page, refused, undo, words
from scores.views.desk import show_desk
from studio.access import for_teachers
from studio.pages import say


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
@require_safe
def drill_chart(request: HttpRequest, pk: int) -> HttpResponse:
    """The chart alone, drawn for a column `width` CSS pixels wide; from `start` to `end` where the drill stands at
    another place too."""
    drill = get_object_or_404(drills_of(request.user), pk=pk)
    width = tidy_width(request.GET.get("width", CHART_WIDTH))
    drill.start, drill.end = request.GET.get("start", drill.start), request.GET.get("end", drill.end)
    try:
        chart = shown_drill(drill, drill.passage.edition.score, width=width).chart
    except (ValueError, ZeroDivisionError):  # no fractions
        chart = None
    if chart is None:
        raise Http404
    return HttpResponse(chart.svg, content_type="image/svg+xml")


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def keep_drill(request: HttpRequest, pk: int) -> HttpResponse:
    """The stages of a drill, in the teacher's words and order, and a remark."""
    drill = get_object_or_404(drills_of(request.user), pk=pk)
    before = plan_of(drill)
    form = PlanForm(request.POST or None, shown=before, initial={"remark": drill.remark})
    if request.method == "POST" and form.is_valid():
        noting.keep_drill(drill=drill, plan=form.plan(), remark=form.cleaned_data["remark"])
        say(request, _("The plan was changed."), undo=undo("undo-drill", pk))
        return back(request, drill.passage, f"drill-{pk}")
    ways = {"proposing": undo("propose-drill", pk)}
    return note_page(request, drill.passage, form, _("The plan of a rhythm drill"), "keep-drill", pk, **ways)


@for_teachers
@require_POST
def propose_drill(request: HttpRequest, pk: int) -> HttpResponse:
    """Back to the plan that the program proposes."""
    drill = get_object_or_404(drills_of(request.user), pk=pk)
    try:
        noting.propose_drill_again(drill=drill)
    except Refusal as refusal:
        return refused(request, drill.passage, refusal)
    say(request, _("The proposed plan is back."), undo=undo("undo-drill", pk))
    return back(request, drill.passage, f"drill-{pk}")


@for_teachers
@require_POST
def undo_drill(request: HttpRequest, pk: int) -> HttpResponse:
    """The plan before the last change."""
    drill = get_object_or_404(drills_of(request.user), pk=pk)
    try:
        noting.undo_drill(drill=drill)
    except Refusal as refusal:
        return refused(request, drill.passage, refusal)
    say(request, _("The plan is as it was before."), undo=undo("undo-drill", pk))
    return back(request, drill.passage, f"drill-{pk}")


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
