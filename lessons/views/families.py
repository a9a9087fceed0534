"""What students and guardians see: this week's work."""

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from lessons import practice
from lessons.access import assigned_for, entries_of, lessons_of
from lessons.asked_page import ANSWER_SHOWN, with_answer
from lessons.choosing import NotOpen, choose_fingering, choose_placement
from lessons.credits import with_policy
from lessons.families import bare_week, newest_work, week_page
from lessons.practice_forms import EntryForm
from lessons.views.practice import back_to, passages_to_log
from scores.models import Placement
from studio.access import for_everyone_here, for_families, for_guardians, students_of
from studio.models import Student
from studio.pages import page, say

RECENT_ENTRIES = 60
COLUMN = (320, 720)


def column_of(request: HttpRequest) -> int:
    """The width of the reader's column in CSS pixels, as a script measured it; a phone's until it has."""
    try:
        asked = int(request.COOKIES.get("column", "358"))
    except ValueError:
        asked = 358
    return max(COLUMN[0], min(COLUMN[1], asked))


def work_of(request: HttpRequest, students: QuerySet[Student]) -> dict[str, object]:
    """This week's page of the one student among these, and the form for today's entry."""
    now = timezone.now()
    lessons = with_policy(lessons_of(request.user).filter(student__in=students))
    lesson = newest_work(with_answer(lessons, since=now - ANSWER_SHOWN), at=now)
    student = lesson.student if lesson else get_object_or_404(students)
    week = week_page(lesson, width=column_of(request)) if lesson else bare_week(student, at=now)
    entries = entries_of(request.user).filter(student=student).standing()[:RECENT_ENTRIES]
    form = EntryForm(today=timezone.localdate(), passages=passages_to_log(request.user, student))
    form.fields["assigned"].choices = [("", _("something else"))] + [
        (given.assigned.pk, f"{given.work.title}, {given.work.where}") for given in week.given
    ]
    return {"student": student, "week": week, "log": practice.by_week(entries)[:2], "form": form}


@for_everyone_here
@require_GET
def this_week(request: HttpRequest) -> HttpResponse:
    """The student's own page. A handout's QR code leads here, and a guardian or the teacher may scan it too: they go on
    to where they are at home."""
    if not request.user.is_student:
        return redirect("home")
    context = work_of(request, students_of(request.user))
    return page(request, "lessons/families_week.html", {**context, "section": "this-week"})


@for_guardians
@require_GET
def children(request: HttpRequest) -> HttpResponse:
    """The children of this guardian; straight to the page of an only child."""
    students = list(students_of(request.user))
    if len(students) == 1:
        return redirect("child", pk=students[0].pk)
    return page(request, "lessons/families_children.html", {"students": students, "section": "children"})


@for_guardians
@require_GET
def child(request: HttpRequest, pk: int) -> HttpResponse:
    context = work_of(request, students_of(request.user).filter(pk=pk))
    return page(request, "lessons/families_week.html", {**context, "section": "children"})


@for_families
@require_POST
def choose(request: HttpRequest, pk: int) -> HttpResponse:
    """A choice between what was left open: a fingering of a part, or the placement of an ornament."""
    assigned = assigned_for(request.user, pk)
    student = assigned.assignment.lesson.student
    try:
        if "fingering" in request.POST:
            offered = (
                assigned.offered.filter(fingering_id=request.POST["fingering"]).select_related("fingering").first()
            )
            if offered is None:
                raise NotOpen
            choose_fingering(assigned=assigned, offered=offered)
        else:
            placement = Placement(request.POST.get("placement", ""))
            choose_placement(assigned=assigned, note=request.POST.get("note", ""), placement=placement)
    except (NotOpen, ValueError, OverflowError):  # a number that no row can have
        say(request, _("That is not open to choose any more; the page shows how it stands now."))
    return redirect(back_to(request.user, student) + f"#passage-{assigned.pk}")
