"""Today: the day's lessons in order."""

from datetime import datetime, time, timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET

from lessons.access import lessons_of
from lessons.attending import policy_of
from lessons.today_page import meetings_of
from studio.access import for_teachers, students_of
from studio.pages import page


@for_teachers
@require_GET
def today(request: HttpRequest) -> HttpResponse:
    """The day's lessons in order, with the one that is going on or comes next marked."""
    now, day = timezone.now(), timezone.localdate()
    midnight = timezone.make_aware(datetime.combine(day, time()))
    tomorrow = timezone.make_aware(datetime.combine(day + timedelta(days=1), time()))
    lessons = lessons_of(request.user).filter(starts_at__gte=midnight, starts_at__lt=tomorrow)
    meetings = meetings_of(lessons, policy=policy_of(request.user.studio), at=now)
    context: dict[str, Any] = {"day": day, "meetings": meetings, "now": now, "section": "today"}
    context["is_over"] = bool(meetings) and all(one.state in ("over", "cancelled") for one in meetings)
    if not meetings or context["is_over"]:
        context["following"] = lessons_of(request.user).held().upcoming(at=now).first()
        context["has_students"] = bool(meetings) or students_of(request.user).exists()
    return page(request, "lessons/today.html", context)
