"""Lines about what was asked on pages of others: `{% asked_line %}` for the teacher, for a family
`{% answers_for student week.lesson %}`; `{{ asked|question }}`, `{{ offer|accept_url }}`.
"""

from typing import Any

from django import template
from django.urls import reverse
from django.utils import timezone

from lessons import asking, asking_mails, asking_words
from lessons.asked_page import ANSWER_SHOWN, answer_from, answered_since
from lessons.models import Asked, Lesson, Offer
from studio.models import Student

register = template.Library()


@register.inclusion_tag("lessons/_asked_line.html", takes_context=True)
def asked_line(context: dict[str, Any]) -> dict[str, Any]:
    """How much waits for the teacher's answer."""
    return {"count": asking.open_for(context["user"].studio_id).count()}


@register.inclusion_tag("lessons/_answers.html")
def answers_for(student: Student, lesson: Lesson | None) -> dict[str, Any]:
    """The way to ask, and what the teacher last answered: from a lesson that has it along (`asked_page.with_answer`),
    else asked for."""
    if lesson:
        return {"student": student, "one": answer_from(lesson)}
    rows = Asked.objects.filter(lesson__student=student).select_related("lesson")
    return {"student": student, "one": answered_since(rows, timezone.now() - ANSWER_SHOWN).first()}


@register.filter
def question(asked: Asked) -> str:
    return asking_words.question(asked)


@register.filter
def accept_url(offer: Offer) -> str:
    return reverse("offer", args=[asking_mails.token_of(offer)])
