"""The studio's policy and what it comes to for one student: `{% policy_for student %}`, `{% make_ups_of student %}`,
`{{ policy|rules_in_words }}`, `{% learned_by student %}`."""

from typing import Any

from django import template
from django.template import Context

from lessons.attending import policy_of
from lessons.credits import balance_of
from lessons.hearing import learned
from lessons.models import Attendance, Policy
from studio.models import Student

register = template.Library()
MOST = 12  # of what was learned, the newest


@register.filter
def rules_in_words(policy: Policy) -> list[tuple[str, str]]:
    """Each attendance with what follows from it."""
    said = [one for one in Attendance if one != Attendance.UNSAID]
    return [(str(one.label), str(policy.consequence(one).label)) for one in said]


@register.inclusion_tag("lessons/_policy.html", takes_context=True)
def policy_for(context: Context, student: Student) -> dict[str, Any]:
    """The policy as a family reads it beside the week's work, and how many make-up lessons are owed."""
    return {"policy": policy_of(context["user"].studio), "student": student, "owed": balance_of(student)}


@register.inclusion_tag("lessons/_make_ups_of.html")
def make_ups_of(student: Student) -> dict[str, Any]:
    return {"student": student, "owed": balance_of(student)}


@register.inclusion_tag("lessons/_learned.html")
def learned_by(student: Student) -> dict[str, Any]:
    return {"marks": list(learned(student)[:MOST])}
