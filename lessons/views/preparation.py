"""The preparation list of an edition for one student: what is new to her, what asks much of her hands."""

from django.db.models import prefetch_related_objects
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
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
        rest = request.GET.copy()
        rest.pop("student", None)
        return redirect(reverse("preparation", args=[pk]) + (f"?{rest.urlencode()}" if rest else ""))
    everyone = list(students_of(request.user))
    student = next((one for one in everyone if str(one.pk) == asked), None)
    if student is None:
        raise Http404
    prefetch_related_objects([student], "hands")
    had = difficulties_had(student, without=edition.piece)
    return show_preparation(request, edition, student, had, everyone)
