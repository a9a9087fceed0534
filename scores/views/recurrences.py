"""Notes of other places at one place: of its own, not there, as elsewhere again; and marking a place that returns."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from scores import inheriting
from scores.access import passage_for, teachers_own
from scores.elsewhere import returns_of
from scores.inheriting import KINDS, PassageNote, here
from scores.marking import mark_passage
from scores.models import Passage
from scores.views.answers import back
from studio.access import for_teachers
from studio.models import User
from studio.pages import say


def note_elsewhere(user: User, passage: Passage, kind: str, note: int) -> PassageNote:
    """The note as it stands at the passage, or would stand there. Raises `Http404`."""
    notes = here(passage)
    for row in (*notes.every, *notes.departed):
        if row.inherited and row.inherited.kind == kind and row.pk == note:
            return row
    raise Http404


def its_address(name: str, passage: Passage, kind: str, note: int, **more: int) -> str:
    return reverse(name, kwargs={"pk": passage.pk, "kind": kind, "note": note, **more})


@for_teachers
@require_POST
def depart(request: HttpRequest, pk: int, kind: str, note: int) -> HttpResponse:
    """A note of the place's own instead of the one that stands there from elsewhere."""
    passage = passage_for(request.user, pk)
    inherited = note_elsewhere(request.user, passage, kind, note)
    inheriting.depart(note=inherited)
    say(
        request,
        _("This is a copy for this place alone; the others stay as %(measures)s.")
        % {"measures": inherited.inherited.passage.where},
        undo=its_address("follow-note", passage, kind, note),
    )
    return back(request, passage, "lines")


@for_teachers
@require_POST
def leave_out(request: HttpRequest, pk: int, kind: str, note: int) -> HttpResponse:
    """Not here."""
    passage = passage_for(request.user, pk)
    inherited = note_elsewhere(request.user, passage, kind, note)
    inheriting.leave_out(note=inherited, at=timezone.now())
    say(
        request,
        _("It does not stand here any more; at the other places it stays."),
        undo=its_address("follow-note", passage, kind, note),
    )
    return back(request, passage, "lines")


@for_teachers
@require_POST
def follow(request: HttpRequest, pk: int, kind: str, note: int) -> HttpResponse:
    """As elsewhere again: what stood here instead is taken away."""
    passage = passage_for(request.user, pk)
    source = get_object_or_404(notes_of(request.user, kind), pk=note, passage__edition_id=passage.edition_id)
    own = inheriting.follow_again(passage=passage, source=source, at=timezone.now())
    if own and own.stood:
        undo = its_address("return-note", passage, kind, note, own=own.pk)
    else:
        undo = its_address("leave-out-note", passage, kind, note)
    say(request, _("As in %(measures)s again.") % {"measures": source.passage.where}, undo=undo)
    return back(request, passage, "lines")


@for_teachers
@require_POST
def bring_back(request: HttpRequest, pk: int, kind: str, note: int, own: int) -> HttpResponse:
    """The place's own note again, as it was before the place followed the other."""
    passage = passage_for(request.user, pk)
    rows = notes_of(request.user, kind)
    source = get_object_or_404(rows, pk=note, passage__edition_id=passage.edition_id)
    inheriting.bring_back(own=get_object_or_404(rows, pk=own, passage=passage), source=source)
    return back(request, passage, "lines")


def notes_of(user: User, kind: str):
    """The teacher's notes of a kind. Raises `Http404` for what is none."""
    if kind not in KINDS:
        raise Http404
    return teachers_own(user, KINDS[kind].objects.select_related("passage"))


@for_teachers
@require_POST
def mark_return(request: HttpRequest, pk: int, measure: int) -> HttpResponse:
    """Marks the place, beginning in a measure (an index), where a passage comes again; what is written on it stands
    there at once."""
    passage = passage_for(request.user, pk)
    hands, place = next(((hands, one) for hands, one in returns_of(passage) if one.first == measure), (None, None))
    if place is None:
        raise Http404
    score = passage.edition.score
    notes = [score.by_id[there] for there in place.notes.values()]
    ends = [note.id for note in sorted(notes, key=lambda note: score.place_of[note.id])]
    marked = mark_passage(edition=passage.edition, first=ends[0], last=ends[-1], hands=hands, name=passage.name)
    return redirect("desk", pk=marked.pk)
