"""Giving work: what is assigned at a lesson, and the choices made for the student."""

from django.core.exceptions import ObjectDoesNotExist
from django.core.signing import BadSignature
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from lessons import assigning
from lessons.access import assigned_for, assigned_of, assignments_of, lesson_for
from lessons.assigned_page import gather_assigned
from lessons.forms import AssignedForm
from lessons.handouts.choices import choices_of
from lessons.lesson_page import shelves, together_with
from lessons.models import AssignedPassage, Assignment, Lesson
from lessons.ornaments import student_choices
from lessons.views.lessons import desk_of
from scores.access import passage_for, piece_for
from scores.writing_files import excerpt, with_choices
from studio.access import for_everyone_here, for_teachers
from studio.pages import page, say

SECTION = {"section": "week"}
MOST_ASKED = 120  # letters looked for


@for_teachers
@require_http_methods(["GET", "POST"])
def assign(request: HttpRequest, pk: int) -> HttpResponse:
    """The studio's passages to choose from; and giving one, a whole piece, or the last lesson's work again."""
    lesson = lesson_for(request.user, pk)
    if request.method == "GET":
        found = shelves(lesson, request.GET.get("find", "")[:MOST_ASKED])
        others = together_with(lesson)
        template = "lessons/_shelves.html" if request.htmx else "lessons/assign.html"
        return page(request, template, {"lesson": lesson, "shelves": found, "together": others, **SECTION})
    return give_again(request, lesson) if "again" in request.POST else give_one(request, lesson)


def give_one(request: HttpRequest, lesson: Lesson) -> HttpResponse:
    """Gives a passage or a whole piece at this lesson; with `all`, to everyone who comes to the same one."""
    lessons = [lesson, *(together_with(lesson) if "all" in request.POST else ())]
    if "passage" in request.POST:
        passage = passage_for(request.user, number_in(request.POST["passage"]))
        if passage.removed_at:
            raise Http404
        for one in lessons:
            assigning.assign_passage(lesson=one, passage=passage)
    else:
        piece = piece_for(request.user, number_in(request.POST.get("piece", "")))
        for one in lessons:
            assigning.assign_piece(lesson=one, piece=piece)
    return show_work(request, lesson)


def give_again(request: HttpRequest, lesson: Lesson) -> HttpResponse:
    previous = assigning.previous_lesson(lesson)
    if previous is None:
        raise Http404
    assigning.carry_on(lesson=lesson, previous=previous)
    return show_work(request, lesson)


def number_in(text: str) -> int:
    if not text.isdecimal() or len(text) > 17:
        raise Http404
    return int(text)


def show_work(request: HttpRequest, lesson: Lesson, anchor: str = "work") -> HttpResponse:
    """The lesson's work, as the part of its page that a script puts in place, or as the page itself."""
    if request.htmx:
        return render(request, "lessons/_work.html", {"page": desk_of(request, lesson.pk)})
    return redirect(reverse("lesson", args=[lesson.pk]) + f"#{anchor}")


def assignment_for(request: HttpRequest, pk: int) -> Assignment:
    return get_object_or_404(assignments_of(request.user), pk=pk)


@for_teachers
@require_POST
def remove_assignment(request: HttpRequest, pk: int) -> HttpResponse:
    assignment = assignment_for(request, pk)
    lesson, title = assignment.lesson, str(assignment)
    token = assigning.remove_assignment(assignment=assignment)
    say(request, _("%(title)s is taken out.") % {"title": title}, undo=reverse("restore-work", args=[token]))
    return redirect("lesson", pk=lesson.pk)


def with_notes(rows: QuerySet[AssignedPassage]) -> QuerySet[AssignedPassage]:
    """With all that is chosen for the student; what stands at the passage is gathered when it is asked for."""
    return rows.prefetch_related("offered__fingering", "placements")


@for_teachers
@require_http_methods(["GET", "POST"])
def assigned(request: HttpRequest, pk: int) -> HttpResponse:
    """The choices made for the student in one passage."""
    row = get_object_or_404(with_notes(assigned_of(request.user)), pk=pk)
    form = AssignedForm(request.POST or None, instance=row)
    if not form.is_valid():
        return page(request, "lessons/assigned.html", {"page": gather_assigned(row, form), "form": form, **SECTION})
    fields = {name: form.cleaned_data[name] for name in ("tempo_now", "tempo_goal", "remark", "show_others")}
    assigning.keep_assigned(assigned=row, choices=form.choices(), **fields)
    say(request, _("Kept."))
    return redirect(reverse("lesson", args=[row.assignment.lesson_id]) + f"#assigned-{pk}")


@for_teachers
@require_POST
def move_assigned(request: HttpRequest, pk: int) -> HttpResponse:
    """One place up or down."""
    row = assigned_for(request.user, pk)
    assigning.move_assigned(assigned=row, up=request.POST.get("to") == "up")
    return show_work(request, row.assignment.lesson, f"assigned-{pk}")


@for_teachers
@require_POST
def remove_assigned(request: HttpRequest, pk: int) -> HttpResponse:
    row = assigned_for(request.user, pk)
    lesson, title = row.assignment.lesson, f"{row.assignment}, {row}"
    token = assigning.remove_assigned(assigned=row)
    say(request, _("%(title)s is taken out.") % {"title": title}, undo=reverse("restore-work", args=[token]))
    return redirect("lesson", pk=lesson.pk)


@for_teachers
@require_POST
def restore_work(request: HttpRequest, token: str) -> HttpResponse:
    try:
        lesson = assigning.restore(studio=request.user.studio, token=token)
    except (BadSignature, ObjectDoesNotExist):
        raise Http404 from None
    say(request, _("It is back."))
    return redirect(reverse("lesson", args=[lesson.pk]) + "#work")


@for_everyone_here
@require_GET
def music_file(request: HttpRequest, pk: int) -> HttpResponse:
    """The passage as MusicXML, with the fingers and the ornaments chosen for the student."""
    row = get_object_or_404(with_notes(assigned_of(request.user)), pk=pk)
    passage, choices = row.passage, choices_of(row)
    music = with_choices(
        passage.edition.music,
        choices.on_notes,
        score=passage.edition.score,
        choices=student_choices(row),
        tempo=row.tempo_goal or row.tempo_now,
    )
    answer = HttpResponse(
        excerpt(music, passage.first_measure, passage.last_measure),
        content_type="application/vnd.recordare.musicxml+xml",
    )
    name = f"{row.assignment.piece.title} {passage.first_number}-{passage.last_number}.musicxml"
    answer["Content-Disposition"] = content_disposition_header(True, name.replace("/", "-"))
    return answer
