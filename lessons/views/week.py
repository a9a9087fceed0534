"""Today and the week: the teacher's lessons by day."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import Count, QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_GET

from lessons.access import lessons_of
from lessons.assigning import previous_lesson
from lessons.models import AssignedPassage, Lesson
from lessons.practice import week_of
from studio.access import for_teachers, students_of
from studio.pages import page


@dataclass(frozen=True)
class Day:
    day: date
    lessons: list[Lesson]
    is_today: bool


def lessons_between(request: HttpRequest, first: date, days: int) -> QuerySet[Lesson]:
    """The teacher's lessons from the start of a day on, in order, with how many passages each gives."""
    start = midnight(first)
    end = midnight(first + timedelta(days=days))
    lessons = lessons_of(request.user).filter(starts_at__gte=start, starts_at__lt=end)
    return lessons.annotate(
        passages=Count("assignments__passages", distinct=True), sheets=Count("handouts", distinct=True)
    ).order_by("starts_at", "pk")


def midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time()))


@for_teachers
@require_GET
def today(request: HttpRequest) -> HttpResponse:
    """The day's lessons: what is still to come first, the next one at the top."""
    now, day = timezone.now(), timezone.localdate()
    lessons = list(lessons_between(request, day, 1))
    context: dict[str, Any] = {
        "day": day,
        "coming": [lesson for lesson in lessons if lesson.ends_at > now],
        "past": [lesson for lesson in lessons if lesson.ends_at <= now],
        "now": now,
        "section": "today",
    }
    if context["coming"]:
        context["last"] = given_before(context["coming"][0])
    if not lessons:
        context["following"] = lessons_of(request.user).upcoming(at=now).first()
        context["has_students"] = students_of(request.user).exists()
    return page(request, "lessons/today.html", context)


def given_before(lesson: Lesson) -> list[AssignedPassage]:
    """What was given at the student's last lesson with work."""
    previous = previous_lesson(lesson)
    return list(
        AssignedPassage.objects.filter(assignment__lesson=previous)
        .select_related("assignment__piece", "passage")
        .order_by("assignment__position", "position", "pk")
        if previous
        else ()
    )


@for_teachers
@require_GET
def week(request: HttpRequest) -> HttpResponse:
    """Seven days from Monday."""
    today = timezone.localdate()
    monday = week_of(asked_day(request.GET.get("from", "")) or today)
    lessons = list(lessons_between(request, monday, 7))
    days = [
        Day(day, [one for one in lessons if timezone.localdate(one.starts_at) == day], day == today)
        for day in (monday + timedelta(days=number) for number in range(7))
    ]
    context = {
        "days": days,
        "monday": monday,
        "sunday": monday + timedelta(days=6),
        "before": monday - timedelta(days=7),
        "after": monday + timedelta(days=7),
        "is_bare": not lessons,
        "this_week": week_of(today),
        "section": "week",
    }
    return page(request, "lessons/week.html", context)


def asked_day(text: str) -> date | None:
    """A day of a year that a calendar has room around."""
    try:
        day = parse_date(text)
    except ValueError:
        return None
    return day if day and 1900 < day.year < 2200 else None
