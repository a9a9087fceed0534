"""The week and the day: the teacher's lessons on a grid of days and hours."""

from datetime import date, timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_GET

from lessons.access import lessons_of
from lessons.practice import week_of
from lessons.timetable import GRID, gather_days
from studio.access import for_teachers
from studio.pages import page


@for_teachers
@require_GET
def week(request: HttpRequest) -> HttpResponse:
    """Seven days from Monday."""
    today = timezone.localdate()
    monday = week_of(asked_day(request.GET.get("from", "")) or today)
    context = days_from(request, monday, 7) | {
        "monday": monday,
        "sunday": monday + timedelta(days=6),
        "this_week": week_of(today),
    }
    return page(request, "lessons/week.html", context)


@for_teachers
@require_GET
def day(request: HttpRequest) -> HttpResponse:
    """One day."""
    shown = asked_day(request.GET.get("on", "")) or timezone.localdate()
    return page(request, "lessons/day.html", days_from(request, shown, 1) | {"day": shown, "monday": week_of(shown)})


def days_from(request: HttpRequest, first: date, many: int) -> dict[str, Any]:
    now = timezone.now()
    return {
        "page": gather_days(request.user.studio, lessons_of(request.user), first, many, at=now),
        "now": timezone.localtime(now),
        "now_row": timezone.localtime(now).minute // GRID,
        "today": timezone.localdate(),
        "before": first - timedelta(days=many),
        "after": first + timedelta(days=many),
        "section": "week",
    }


def asked_day(text: str) -> date | None:
    """A day of a year that a calendar has room around."""
    try:
        day = parse_date(text)
    except ValueError:
        return None
    return day if day and 1950 < day.year < 2190 else None
