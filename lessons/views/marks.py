"""Quick marks: what becomes of a passage that was given last time."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from lessons import hearing
from lessons.access import assigned_for, lesson_for
from lessons.forms import MarkForm
from lessons.hearing import Marked
from lessons.models import AssignedPassage, Mark
from lessons.views.lessons import desk_of
from scores.music.tempo import RUNGS
from studio.access import for_teachers
from studio.pages import say


@for_teachers
@require_POST
def mark(request: HttpRequest, pk: int, assigned: int) -> HttpResponse:
    """Says what becomes of a passage; the same said again is taken back."""
    lesson, row = lesson_for(request.user, pk), assigned_for(request.user, assigned)
    if row.assignment.lesson.student_id != lesson.student_id:
        raise Http404
    form = MarkForm(request.POST)
    if not form.is_valid():
        return show(
            request, pk, row, Marked(None), error=" ".join(form.errors.get("tempo", [])) or _("Not understood.")
        )
    kind, tempo = form.cleaned_data["kind"], form.cleaned_data["tempo"]
    before = Mark.objects.filter(lesson=lesson, assigned=row).first()
    if before and (before.kind, before.tempo) == (kind, tempo):
        return show(request, pk, row, hearing.unmark(lesson=lesson, assigned=row))
    return show(request, pk, row, hearing.mark(lesson=lesson, assigned=row, kind=kind, tempo=tempo))


def show(request: HttpRequest, pk: int, row: AssignedPassage, marked: Marked, error: str = "") -> HttpResponse:
    """The row as it now stands, with this lesson's work; or the lesson's page."""
    undo = reverse("restore-work", args=[marked.undo]) if marked.undo else ""
    if request.htmx:
        page = desk_of(request, pk)
        every = (one for piece in page.before for one in piece.passages)
        one = next((one for one in every if one.assigned.pk == row.pk), None)
        context = {"page": page, "one": one, "undo": undo, "error": error, "marks": RUNGS, "is_part": True}
        return render(request, "lessons/_marked.html", context, status=422 if error else 200)
    if error:
        say(request, _("Not marked: %(why)s") % {"why": error})
    elif undo:
        say(request, _("%(passage)s is not in this lesson's work.") % {"passage": row}, undo=undo)
    return redirect(reverse("lesson", args=[pk]) + f"#heard-{row.pk}")
