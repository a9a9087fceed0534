"""The preparation list: what in an edition will need a word, ticked and made into passages."""

from collections.abc import Iterable

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from scores.desk import tidy_width
from scores.leafing import leaf_from
from scores.models import Edition
from scores.music.survey import Finding
from scores.preparing import Had, Wanted, finding_named, gather_preparation, options_for
from scores.surveying import look_again, look_at, make_passage, switch_kinds
from scores.views.editions import readable_edition
from studio.access import for_teachers, students_of
from studio.models import Student
from studio.pages import page, say

COLUMN = 700  # CSS pixels of the music beside the list, until a script has measured it
LONGEST_KEY = 300


@for_teachers
@require_safe
def preparation(request: HttpRequest, pk: int) -> HttpResponse:
    """The list beside the engraved score."""
    return show_preparation(request, readable_edition(request.user, pk))


def show_preparation(
    request: HttpRequest,
    edition: Edition,
    student: Student | None = None,
    had: Had = frozenset(),
    everyone: Iterable[Student] | None = None,
) -> HttpResponse:
    """The list, for a student's hands if one is named, with what is new beside what she has `had`. `everyone` are the
    students to choose from, where they are at hand already."""
    everyone = students_of(request.user) if everyone is None else everyone
    gathered = gather_preparation(edition, request.user, Wanted.read(request.GET.dict()), student, had)
    width = tidy_width(request.GET.get("width") or request.COOKIES.get("list_column") or COLUMN)
    context = {
        "section": "repertoire",
        "list": gathered,
        "edition": edition,
        "leaf": leaf_from(edition, gathered.first_measure, width),
        "students": [one for one in everyone if one.left_on is None or one == student],
        "here": request.get_full_path(),
    }
    return page(request, "scores/preparation.html", context)


@for_teachers
@require_POST
def look(request: HttpRequest, pk: int) -> HttpResponse:
    """Ticks a finding (`look`), or takes its tick away (`forget`)."""
    edition = readable_edition(request.user, pk)
    forget, key = request.POST.get("forget", ""), request.POST.get("look", "")
    if forget:
        look_again(edition=edition, key=forget)
    else:
        look_at(edition=edition, key=asked_finding(request, edition, key).key, at=timezone.now())
    if request.headers.get("X-Requested-With") == "XMLHttpRequest":
        return JsonResponse({"looked": not forget})
    return back_to_list(request, edition)


@for_teachers
@require_POST
def passage_of_finding(request: HttpRequest, pk: int) -> HttpResponse:
    """A passage with the right kind of note begun."""
    edition = readable_edition(request.user, pk)
    finding = asked_finding(request, edition, request.POST.get("key", ""))
    if not finding.notes:
        say(request, _("There is no note there to mark."))
        return back_to_list(request, edition)
    passage, anchor, is_new = make_passage(edition=edition, finding=finding, at=timezone.now())
    if is_new:
        say(request, _("The passage is marked."), undo=reverse("remove-passage", args=[passage.pk]))
    return redirect(reverse("desk", args=[passage.pk]) + (f"#{anchor}" if anchor else ""))


@for_teachers
@require_POST
def switch(request: HttpRequest, pk: int) -> HttpResponse:
    """Which kinds of finding are listed, for this teacher and in all editions."""
    edition = readable_edition(request.user, pk)
    switch_kinds(user=request.user, on=request.POST.getlist("kind"))
    return back_to_list(request, edition)


def asked_finding(request: HttpRequest, edition: Edition, key: str) -> Finding:
    """The finding of that name, for the hand and the speeds that the list was made for. Raises `Http404`."""
    asked = request.POST.get("student", "")
    student = None
    if asked.isdecimal() and len(asked) < 18:
        student = get_object_or_404(students_of(request.user).prefetch_related("hands"), pk=asked)
    try:
        options = options_for(student, Wanted.read(request.POST.dict()))
    except ValueError:
        options = options_for(student)
    found = finding_named(edition, key, options) if key and len(key) <= LONGEST_KEY else None
    if found is None:
        raise Http404
    return found


def back_to_list(request: HttpRequest, edition: Edition) -> HttpResponse:
    """To the list as it was: for whom and of which hand."""
    home = reverse("preparation", args=[edition.pk])
    back = request.POST.get("back", "")
    is_ours = back.startswith(home) and url_has_allowed_host_and_scheme(back, allowed_hosts=None)
    return redirect(back if is_ours else home)
