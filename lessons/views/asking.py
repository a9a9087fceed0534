"""Families ask to cancel or move a lesson; the teacher answers."""

from datetime import datetime, timedelta
from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from django.core.signing import BadSignature
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from lessons import asking
from lessons.access import lessons_of
from lessons.asked_page import shown
from lessons.asking_forms import AnswerForm, CancelForm, MoveForm
from lessons.asking_words import before_cancelling, before_moving, done_words, question, when
from lessons.models import Asked, Lesson
from lessons.planning import ChangedSince
from lessons.waiting import offers_shown_to
from studio.access import for_everyone_here, for_families, for_teachers, student_for
from studio.pages import page, say

AHEAD = 12  # lessons shown
LATELY = timedelta(days=30)
MOST_LATELY = 20


def section_of(request: HttpRequest) -> str:
    return {"teacher": "today", "student": "this-week", "guardian": "children"}[request.user.role]


# What families do


@for_families
@require_GET
def coming_lessons(request: HttpRequest, pk: int) -> HttpResponse:
    """The next lessons, what was asked about them, and the times that are offered."""
    student, now = student_for(request.user, pk), timezone.now()
    rows = asking.with_asking(lessons_of(request.user).filter(student=student, starts_at__gt=now))
    lessons = list(rows.order_by("starts_at", "pk")[:AHEAD])
    asked = asking.asked_of(lessons_of(request.user).filter(student=student))
    asked = list(asked.filter(asked_at__gt=now - LATELY)[:MOST_LATELY])
    waiting = {one.lesson_id: one for one in asked if one.answer == Asked.Answer.WAITING}
    context = {
        "student": student,
        "lessons": [(lesson, waiting.get(lesson.pk)) for lesson in lessons],
        "answered": [one for one in asked if one.answer in (Asked.Answer.GRANTED, Asked.Answer.REFUSED)],
        "offers": offers_shown_to(request.user, student, at=now),
        "section": section_of(request),
    }
    return page(request, "lessons/asking_lessons.html", context)


@for_families
@require_http_methods(["GET", "POST"])
def ask(request: HttpRequest, pk: int) -> HttpResponse:
    """Asking to cancel or to move one lesson. What follows is said before anything is sent."""
    lesson, now = get_object_or_404(asking.with_asking(lessons_of(request.user)), pk=pk), timezone.now()
    context: dict[str, Any] = {"lesson": lesson, "section": section_of(request)}
    if lesson.cancelled_at or lesson.starts_at <= now or lesson.is_asked:
        return page(request, "lessons/asking.html", {**context, "is_over": True})
    often = asking.too_often(lesson)
    cancelling = asking.ruling(lesson, by=request.user, kind=Asked.Kind.CANCEL, at=now, often=often)
    moving = asking.ruling(lesson, by=request.user, kind=Asked.Kind.MOVE, at=now, often=often)
    times = asking.times_for(lesson, at=now, by_rule=moving.by_rule)
    is_move = request.POST.get("kind") == Asked.Kind.MOVE
    move = MoveForm(
        request.POST if is_move else None, times=times, zone=request.user.studio.timezone, at=now, prefix="move"
    )
    cancel = CancelForm(request.POST if request.method == "POST" and not is_move else None, prefix="cancel")
    form = move if is_move else cancel
    if form.is_bound and form.is_valid():
        answer = sent(request, lesson, form, at=now)
        if answer:
            return answer
    context |= {
        "move": move,
        "cancel": cancel,
        "times": times,
        "cancelling": list(before_cancelling(lesson, cancelling, at=now)),
        "moving": list(before_moving(lesson, moving)),
        "cancels_at_once": cancelling.by_rule,
        "moves_at_once": moving.by_rule,
    }
    return page(request, "lessons/asking.html", context)


def sent(request: HttpRequest, lesson: Lesson, form: CancelForm | MoveForm, *, at: datetime) -> HttpResponse | None:
    """Sends what was asked; None, with a word in the form, where the time went to someone else meanwhile."""
    given: dict[str, Any] = {"kind": Asked.Kind.CANCEL}
    if isinstance(form, MoveForm):
        given = {"kind": Asked.Kind.MOVE, "wanted": form.cleaned_data["wanted"], "listed": form.is_listed}
    try:
        asked, token = asking.ask(
            lesson=lesson, by=request.user, at=at, remark=form.cleaned_data["remark"].strip(), **given
        )
    except asking.TimeTaken:
        form.add_error("to", _("That time was taken just now. Choose another one; your word is kept."))
        return None
    except asking.NotAnyMore:
        say(request, _("Nothing was sent: this lesson was changed, or asked about, meanwhile."))
        return redirect("coming-lessons", pk=lesson.student_id)
    say(request, done_words(asked), undo=reverse("undo-answer", args=[token]) if token else "")
    return redirect("coming-lessons", pk=lesson.student_id)


@for_families
@require_POST
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    asked = get_object_or_404(asking.asked_of(lessons_of(request.user)), pk=pk)
    try:
        asking.withdraw(asked=asked, at=timezone.now())
        say(request, _("Withdrawn: the lesson stays as it is."))
    except asking.Answered:
        say(request, _("It was answered meanwhile; the answer stands below."))
    return redirect("coming-lessons", pk=asked.lesson.student_id)


# What the teacher does


@for_teachers
@require_GET
def asked(request: HttpRequest) -> HttpResponse:
    """What waits for an answer, and what was answered lately, by her or by the rules."""
    now = timezone.now()
    waiting = shown(list(asking.open_for(request.user.studio_id)), at=now)
    lately = asking.asked_of(lessons_of(request.user)).exclude(answer__in=[Asked.Answer.WAITING])
    lately = lately.filter(answered_at__gt=now - LATELY).order_by("-answered_at", "-pk")[:MOST_LATELY]
    context = {
        "waiting": [(one, question(one.asked)) for one in waiting],
        "lately": [(one, question(one)) for one in lately],
        "section": "today",
    }
    return page(request, "lessons/asked.html", context)


def asked_for(request: HttpRequest, pk: int) -> Asked:
    return get_object_or_404(asking.asked_of(lessons_of(request.user)), pk=pk)


@for_teachers
@require_POST
def grant(request: HttpRequest, pk: int) -> HttpResponse:
    row, form = asked_for(request, pk), AnswerForm(request.POST)
    if not form.is_valid():
        raise Http404
    try:
        token = asking.grant(asked=row, by=request.user, at=timezone.now(), **form.cleaned_data)
    except asking.TimeTaken:
        say(request, _("Nothing was changed: something stands in the way of that time, or none was chosen."))
        return redirect("asked")
    except (asking.Answered, asking.NotAnyMore):
        say(request, _("It was answered, withdrawn or settled meanwhile; nothing was changed."))
        return redirect("asked")
    row.refresh_from_db()
    words = _("%(name)s: granted, %(what)s.") % {"name": row.lesson.student, "what": question(row)}
    say(request, words, undo=reverse("undo-answer", args=[token]))
    return redirect("asked")


@for_teachers
@require_POST
def refuse(request: HttpRequest, pk: int) -> HttpResponse:
    row = asked_for(request, pk)
    try:
        why = request.POST.get("why", "")
        token = asking.refuse(asked=row, by=request.user, at=timezone.now(), why=why)
    except asking.Answered:
        say(request, _("It was answered or withdrawn meanwhile; nothing was changed."))
        return redirect("asked")
    words = _("%(name)s: refused; the lesson of %(when)s stays.")
    words %= {"name": row.lesson.student, "when": when(row.lesson.starts_at)}
    say(request, words, undo=reverse("undo-answer", args=[token]))
    return redirect("asked")


@for_everyone_here
@require_POST
def undo_answer(request: HttpRequest, token: str) -> HttpResponse:
    """Undo, for who answered or did it by the rules."""
    try:
        row = asking.undo(by=request.user, token=token, at=timezone.now())
    except (BadSignature, ObjectDoesNotExist):
        raise Http404 from None
    except (ChangedSince, asking.TimeTaken):
        say(request, _("That cannot be undone any more: the lesson was changed since, or its time given away."))
        return redirect("home")
    say(request, _("It is as it was before."))
    return redirect("asked") if request.user.is_teacher else redirect("coming-lessons", pk=row.lesson.student_id)
