"""How practice goes: one student in pictures, one passage, and all students in one page."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_safe

from lessons import repertoire
from lessons.climbing import CAUTION
from lessons.logs import PERIODS, RULES, Log, log_of, period_of, said
from lessons.overview import ORDER, overview_of
from lessons.progress import Sentence, on_spacing
from lessons.progress_page import minutes_shown, share_shown, tempo_shown, timeline_shown, weeks_shown
from lessons.views.practice import section_for
from scores.models import Passage
from studio.access import for_everyone_here, for_teachers, student_for, students_of
from studio.pages import page


def asked_log(request: HttpRequest, pk: int, passage: int | None = None) -> tuple[int, Log]:
    """The number of weeks that were asked for, and the student's log of them."""
    asked = request.GET.get("weeks", "")
    weeks = int(asked) if asked in map(str, PERIODS) else PERIODS[0]
    student = student_for(request.user, pk)
    return weeks, log_of(request.user, student, period_of(weeks, timezone.localdate()), passage=passage)


def shared(request: HttpRequest, log: Log, weeks: int) -> dict[str, Any]:
    return {
        "section": section_for(request.user),
        "student": log.student,
        "weeks": weeks,
        "periods": PERIODS,
        "caution": said(Sentence(CAUTION)),
    }


@for_everyone_here
@require_safe
def students_progress(request: HttpRequest, pk: int) -> HttpResponse:
    """A student at a glance: weeks and passages, minutes by day, the repertoire, what is suggested for each passage."""
    weeks, log = asked_log(request, pk)
    today = timezone.localdate()
    log.student.studio = request.user.studio
    played = repertoire.entries_of(log.student, at=timezone.now())
    context = shared(request, log, weeks) | {
        "works": [(work, advice and said(advice.next.why)) for work in log.works for advice in [work.advice(today)]],
        "notices": [said(one.why) for one in on_spacing(log.entries, today=today, rules=RULES)],
        "glance": weeks_shown(log) if log.works else None,
        "minutes": minutes_shown(log.entries, log.period) if log.entries else None,
        "share": share_shown(log.entries, log.period) if log.entries else None,
        "timeline": timeline_shown(played, today),
    }
    return page(request, "lessons/students_progress.html", context)


@for_everyone_here
@require_safe
def passage_progress(request: HttpRequest, pk: int, passage: int) -> HttpResponse:
    """One passage of a student: tempo, clean runs, minutes."""
    known = get_object_or_404(Passage, pk=passage, studio_id=request.user.studio_id)
    weeks, log = asked_log(request, pk, known.pk)
    if not log.works:
        raise Http404
    work, today = log.works[0], timezone.localdate()
    advice = work.advice(today)
    context = shared(request, log, weeks) | {
        "work": work,
        "advice": advice,
        "why": advice and said(advice.next.why),
        "notices": [said(one.why) for one in advice.notices] if advice else [],
        "pictures": [
            tempo_shown(work, log.period, advice),
            share_shown(work.entries, log.period),
            minutes_shown(work.entries, log.period),
        ],
    }
    return page(request, "lessons/passage_progress.html", context)


@for_teachers
@require_safe
def progress_of_all(request: HttpRequest) -> HttpResponse:
    """All students who come to lessons: who practised, who is stuck, what to look at first."""
    students = list(students_of(request.user).current())
    lines = overview_of(students, today=timezone.localdate())
    context = {"section": "students", "lines": lines, "order": ORDER, "caution": said(Sentence(CAUTION))}
    return page(request, "lessons/progress_of_all.html", context)
