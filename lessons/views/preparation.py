"""The preparation list of an edition for one student: what is new to her, what asks much of her hands."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_safe

from lessons.preparing import difficulties_had
from scores.views.editions import readable_edition
from scores.views.survey import show_preparation
from studio.access import for_teachers, students_of


@for_teachers
@require_safe
def preparation_for(request: HttpRequest, pk: int) -> HttpResponse:
    """For the student named in the address; without one, the list as it is for everyone."""
    edition = readable_edition(request.user, pk)
    asked = request.GET.get("student", "")
    if not asked:
        return redirect("preparation", pk=pk)
    key = int(asked) if asked.isdecimal() and len(asked) < 18 else 0
    student = get_object_or_404(students_of(request.user).prefetch_related("hands"), pk=key)
    return show_preparation(request, edition, student, difficulties_had(student, without=edition.piece))
