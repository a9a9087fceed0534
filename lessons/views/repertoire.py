"""The studio's repertoire, found again by words and by what is in it; and what one student plays."""

from dataclasses import dataclass
from typing import Any

from django.core import signing
from django.core.exceptions import ObjectDoesNotExist
from django.core.paginator import Page, Paginator
from django.db.models import Count, Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from lessons import repertoire as verbs
from lessons.models import PlayedPiece
from lessons.repertoire_forms import FilterForm, PlayedForm
from lessons.views.practice import section_for
from scores.access import pieces_of
from scores.models import Difficulty, Piece, SearchLine
from scores.searching import by_title, find, found_on
from studio.access import for_everyone_here, for_teachers, student_for, students_of
from studio.models import User
from studio.pages import page, say

A_PAGE = 100  # pieces


@dataclass(frozen=True)
class Line:
    """A piece of the list; `notes` are what was found on its passages."""

    piece: Piece
    notes: list[SearchLine]


@for_teachers
@require_safe
def repertoire(request: HttpRequest) -> HttpResponse:
    """The pieces of the studio that match what was asked, a page at a time; all when nothing was."""
    pieces = pieces_of(request.user)
    form = FilterForm(request.GET, pieces=pieces, students=students_of(request.user))
    shown = Paginator(asked_of(form, pieces, request.user), A_PAGE).get_page(request.GET.get("page"))
    context = {
        "section": "repertoire",
        "form": form,
        "asked": form.asked,
        "lines": lines_of(shown, form.asked.get("q", ""), request.user),
        "page": shown,
        "has_pieces": bool(shown.paginator.count) or pieces.exists(),
        "more": form.address(page=shown.next_page_number()) if shown.has_next() else "",
    }
    return render(request, "lessons/_pieces.html" if request.htmx else "lessons/repertoire.html", context)


def asked_of(form: FilterForm, pieces: QuerySet[Piece], user: User) -> list[int]:
    """The keys of the pieces that the form asks for, by title."""
    asked = form.asked
    found = find(user.studio_id, asked.get("q", ""))
    if found is not None:
        pieces = pieces.filter(pk__in=found)
    for name in ("level", "key"):
        if asked.get(name):
            pieces = pieces.filter(**{name: asked[name]})
    if asked.get("difficulty"):
        kind, _slash, detail = asked["difficulty"].partition("/")
        rows = Difficulty.objects.filter(studio_id=user.studio_id, kind=kind, **({"detail": detail} if detail else {}))
        pieces = pieces.filter(pk__in=rows.values("edition__piece"))
    if asked.get("student"):
        pieces = verbs.played_by(pieces, asked["student"])
    return by_title(pieces)


def lines_of(shown: Page, text: str, user: User) -> list[Line]:
    """The pieces of one page with their counts and what was found on them, which is reckoned for these alone."""
    order = list(shown.object_list)
    counted = Piece.objects.filter(pk__in=order).annotate(
        edition_count=Count("editions", distinct=True),
        passage_count=Count("editions__passages", distinct=True, filter=Q(editions__passages__removed_at=None)),
    )
    by_key = {piece.pk: piece for piece in counted}
    notes = found_on(user.studio_id, text, order) if text else {}
    return [Line(by_key[pk], notes.get(pk, [])) for pk in order]


# What one student plays


@for_everyone_here
@require_safe
def students_repertoire(request: HttpRequest, pk: int) -> HttpResponse:
    """The pieces a student plays and has played, with dates and status."""
    student = student_for(request.user, pk)
    return page(
        request,
        "lessons/students_repertoire.html",
        {
            "section": section_for(request.user),
            "student": student,
            "entries": verbs.entries_of(student, at=timezone.now()),
        },
    )


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def say_played(request: HttpRequest, pk: int) -> HttpResponse:
    """What the teacher says of a student and a piece: of one in the list, or of another of the repertoire."""
    student = student_for(request.user, pk)
    pieces = pieces_of(request.user)
    known = asked_row(request, student.pk, pieces)
    form = PlayedForm(request.POST if request.method == "POST" else None, pieces=pieces, initial=known)
    if form.is_bound and form.is_valid():
        fields: dict[str, Any] = dict(form.cleaned_data)
        row = verbs.say_status(student=student, piece=fields.pop("piece"), fields=fields)
        say(request, _("“%(piece)s”: %(status)s.") % {"piece": row.piece, "status": row.get_status_display()})
        return redirect("students-repertoire", pk=pk)
    return page(request, "lessons/say_played.html", {"section": "students", "student": student, "form": form})


def asked_row(request: HttpRequest, student: int, pieces: QuerySet[Piece]) -> dict[str, Any]:
    """What the form begins with for the piece that the address names."""
    asked = request.GET.get("piece", "")
    piece = pieces.filter(pk=asked).first() if asked.isdecimal() and len(asked) < 19 else None
    row = PlayedPiece.objects.filter(student=student, piece=piece).first() if piece else None
    return {"piece": piece, **({name: getattr(row, name) for name in verbs.SAID} if row else {})}


@for_teachers
@require_POST
def unsay_played(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes back what was said of a student and a piece."""
    rows = PlayedPiece.objects.filter(studio_id=request.user.studio_id).select_related("piece", "student")
    row = get_object_or_404(rows, pk=pk)
    token = verbs.unsay_status(row)
    say(
        request,
        _("“%(piece)s” stands as the lessons say.") % {"piece": row.piece},
        undo=reverse("say-again", args=[token]),
    )
    return redirect("students-repertoire", pk=row.student_id)


@for_teachers
@require_POST
def say_again(request: HttpRequest, token: str) -> HttpResponse:
    try:
        row = verbs.say_again(studio=request.user.studio, token=token)
    except (signing.BadSignature, ObjectDoesNotExist):
        raise Http404 from None
    return redirect("students-repertoire", pk=row.student_id)
