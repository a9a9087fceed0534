"""Lines about what was asked on pages of others: `{% asked_line %}` for the teacher, `{% answers_for student %}` for a
family, `{{ asked|question }}`, `{{ offer|accept_url }}`.
"""

from datetime import timedelta
from typing import Any

from django import template
from django.urls import reverse
from django.utils import timezone

from lessons import asking, asking_mails, asking_words
from lessons.models import Asked, Offer
from studio.models import Student

register = template.Library()
LATELY = timedelta(days=7)


@register.inclusion_tag("lessons/_asked_line.html", takes_context=True)
def asked_line(context: dict[str, Any]) -> dict[str, Any]:
    """How much waits for the teacher's answer."""
    return {"count": asking.open_for(context["user"].studio_id).count()}


@register.inclusion_tag("lessons/_answers.html")
def answers_for(student: Student) -> dict[str, Any]:
    """What the teacher answered in the last days, beside the way to ask."""
    rows = Asked.objects.filter(lesson__student=student, by_rule=False, answered_at__gt=timezone.now() - LATELY)
    rows = rows.filter(answer__in=[Asked.Answer.GRANTED, Asked.Answer.REFUSED]).select_related("lesson")
    return {"student": student, "answers": list(rows.order_by("-answered_at")[:3])}


@register.filter
def question(asked: Asked) -> str:
    return asking_words.question(asked)


@register.filter
def accept_url(offer: Offer) -> str:
    return reverse("offer", args=[asking_mails.token_of(offer)])
