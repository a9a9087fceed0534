"""The studio's policy and what it comes to for one student.

`{% policy_for student week.lesson %}`, `{% make_ups_of student %}`, `{% learned_by student %}`,
`{{ policy|rules_in_words }}`.
"""

from typing import Any

from django import template

from lessons.credits import balance_of
from lessons.hearing import learned
from lessons.models import Attendance, Lesson, Policy
from lessons.policies import FOLLOWS
from studio.models import Student

register = template.Library()
MOST = 12  # of what was learned, the newest


@register.filter
def rules_in_words(policy: Policy) -> list[tuple[str, str]]:
    """Each attendance with what follows from it."""
    said = [one for one in Attendance if one != Attendance.UNSAID]
    return [(str(one.label), str(FOLLOWS[policy.consequence(one)])) for one in said]


@register.inclusion_tag("lessons/_policy.html")
def policy_for(student: Student, lesson: Lesson | None) -> dict[str, Any]:
    """The policy's words beside the week's work, and how many make-up lessons are owed: from a lesson that has them
    along (`credits.with_policy`), else asked for."""
    if lesson:
        return {"words": lesson.policy_words, "student": student, "owed": lesson.owed or 0}
    policy = Policy.objects.filter(studio=student.studio_id).first()
    return {"words": policy.words if policy else "", "student": student, "owed": balance_of(student)}


@register.inclusion_tag("lessons/_make_ups_of.html")
def make_ups_of(student: Student) -> dict[str, Any]:
    return {"student": student, "owed": balance_of(student)}


@register.inclusion_tag("lessons/_learned.html")
def learned_by(student: Student) -> dict[str, Any]:
    return {"marks": list(learned(student)[:MOST])}
