"""Students, their guardians and their hands."""

from django.core.signing import BadSignature
from django.db.models import Prefetch, QuerySet, prefetch_related_objects
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio import people
from studio.access import for_teachers, guardian_for, guardians_of, hands_of, student_for, students_of
from studio.forms import GuardianForm, HandForm, StudentForm
from studio.invitations import open_invitations
from studio.models import Guardian, Hand, Student
from studio.pages import page, say
from studio.reach import hands_together, latest_hands

SECTION = {"section": "students"}


def with_people(students: QuerySet[Student]) -> QuerySet[Student]:
    return students.prefetch_related("guardians", "hands")


@for_teachers
@require_GET
def students(request: HttpRequest) -> HttpResponse:
    everyone = list(with_people(students_of(request.user)))
    current = [student for student in everyone if student.left_on is None]
    left = [student for student in everyone if student.left_on is not None]
    return page(request, "studio/students.html", {"students": current, "left": left, **SECTION})


@for_teachers
@require_http_methods(["GET", "POST"])
def new_student(request: HttpRequest) -> HttpResponse:
    form = StudentForm(request.POST or None)
    if not form.is_valid():
        return page(request, "studio/student_form.html", {"form": form, **SECTION})
    student = people.add_student(studio=request.user.studio, **form.cleaned_data)
    say(request, _("%(name)s is in the studio.") % {"name": student})
    return redirect("student", pk=student.pk)


@for_teachers
@require_GET
def student(request: HttpRequest, pk: int) -> HttpResponse:
    student = get_object_or_404(students_of(request.user).select_related("user"), pk=pk)
    guardians = list(student.guardians.select_related("user"))
    invitation, theirs = open_invitations(student, guardians, at=timezone.now())
    for guardian in guardians:
        guardian.invitation = theirs.get(guardian.pk)
    prefetch_related_objects([student], Prefetch("hands", queryset=Hand.objects.newest_first()))
    hands = list(student.hands.all())
    context = {
        "student": student,
        "guardians": guardians,
        "hands": hands,
        "latest": hands_together(latest_hands(hands)),
        "invitation": invitation,
        "enrolments": student.enrolments.select_related("plan", "account").order_by("-first_day"),
        **SECTION,
    }
    return page(request, "studio/student.html", context)


@for_teachers
@require_http_methods(["GET", "POST"])
def change_student(request: HttpRequest, pk: int) -> HttpResponse:
    student = student_for(request.user, pk)
    form = StudentForm(request.POST or None, instance=student)
    if not form.is_valid():
        return page(request, "studio/student_form.html", {"form": form, "student": student, **SECTION})
    form.save()
    say(request, _("Kept."))
    return redirect("student", pk=pk)


@for_teachers
@require_POST
def leave(request: HttpRequest, pk: int) -> HttpResponse:
    student = student_for(request.user, pk)
    people.leave(student=student, on=timezone.localdate())
    say(request, _("%(name)s has left the studio.") % {"name": student}, undo=reverse("come-back", args=[pk]))
    return redirect("student", pk=pk)


@for_teachers
@require_POST
def come_back(request: HttpRequest, pk: int) -> HttpResponse:
    student = student_for(request.user, pk)
    people.come_back(student=student)
    say(request, _("%(name)s is in the studio.") % {"name": student})
    return redirect("student", pk=pk)


@for_teachers
@require_http_methods(["GET", "POST"])
def new_hand(request: HttpRequest, pk: int) -> HttpResponse:
    """Measures a hand; what the newest measurement says stands there to begin with."""
    student = student_for(request.user, pk)
    latest = latest_hands(student.hands.all())
    form = HandForm(request.POST or None, today=timezone.localdate(), initial=HandForm.like(latest))
    if not form.is_valid():
        return page(
            request,
            "studio/hand_form.html",
            {"form": form, "student": student, "latest": next(iter(latest.values()), None), **SECTION},
        )
    fields = {name: form.cleaned_data[name] for name in ("measured_on", "comfortable", "largest", "width")}
    people.measure_hand(student=student, sides=form.sides(), pairs=form.pairs, **fields)
    say(request, _("Noted."))
    return redirect("student", pk=pk)


@for_teachers
@require_POST
def remove_hand(request: HttpRequest, pk: int) -> HttpResponse:
    hand = get_object_or_404(hands_of(request.user), pk=pk)
    kept = people.remove_hand(hand=hand)
    say(request, _("The measurement is gone."), undo=reverse("restore-hand", args=[kept]))
    return redirect("student", pk=hand.student_id)


@for_teachers
@require_POST
def restore_hand(request: HttpRequest, kept: str) -> HttpResponse:
    try:
        student = student_for(request.user, people.student_of_removed_hand(kept))
        people.restore_hand(student=student, kept=kept)
    except BadSignature:
        raise Http404 from None
    say(request, _("The measurement is back."))
    return redirect("student", pk=student.pk)


@for_teachers
@require_http_methods(["GET", "POST"])
def new_guardian(request: HttpRequest, pk: int) -> HttpResponse:
    """A new guardian; those whom the studio already knows can be linked from the same page."""
    student = student_for(request.user, pk)
    form = GuardianForm(request.POST or None)
    if not form.is_valid():
        known = guardians_of(request.user).exclude(students=student).prefetch_related("students")
        return page(request, "studio/guardian_form.html", {"form": form, "student": student, "known": known, **SECTION})
    guardian = people.add_guardian(student=student, **form.cleaned_data)
    say(request, _("%(guardian)s answers for %(student)s.") % {"guardian": guardian, "student": student})
    return redirect("student", pk=pk)


def a_child_of(guardian: Guardian) -> HttpResponse:
    """Back to a page on which this guardian stands."""
    child = guardian.students.first()
    return redirect("student", pk=child.pk) if child else redirect("students")


@for_teachers
@require_http_methods(["GET", "POST"])
def change_guardian(request: HttpRequest, pk: int) -> HttpResponse:
    guardian = guardian_for(request.user, pk)
    form = GuardianForm(request.POST or None, instance=guardian)
    if not form.is_valid():
        return page(request, "studio/guardian_form.html", {"form": form, "guardian": guardian, **SECTION})
    form.save()
    say(request, _("Kept."))
    return a_child_of(guardian)


@for_teachers
@require_POST
def link_guardian(request: HttpRequest, pk: int, guardian: int) -> HttpResponse:
    student, person = student_for(request.user, pk), guardian_for(request.user, guardian)
    people.link_guardian(student=student, guardian=person)
    say(
        request,
        _("%(guardian)s answers for %(student)s.") % {"guardian": person, "student": student},
        undo=reverse("unlink-guardian", args=[pk, guardian]),
    )
    return redirect("student", pk=pk)


@for_teachers
@require_POST
def unlink_guardian(request: HttpRequest, pk: int, guardian: int) -> HttpResponse:
    student = student_for(request.user, pk)
    person = get_object_or_404(guardians_of(request.user).filter(students=student), pk=guardian)
    people.unlink_guardian(student=student, guardian=person)
    say(
        request,
        _("%(guardian)s no longer sees %(student)s.") % {"guardian": person, "student": student},
        undo=reverse("link-guardian", args=[pk, guardian]),
    )
    return redirect("student", pk=pk)
