"""`{% measured_again student %}`: what a new measurement changes in the student's work, for her teacher's page."""

from django import template
from django.utils import timezone

from lessons.measured_again import changed_work
from studio.models import Student

register = template.Library()


@register.inclusion_tag("lessons/_measured_again.html", name="measured_again")
def measured_again(student: Student) -> dict[str, object]:
    return {"changes": changed_work(student, at=timezone.now())}
