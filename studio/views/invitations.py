"""Inviting, and accepting an invitation."""

from django.contrib.auth import login
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from studio import invitations
from studio.access import for_teachers, guardian_for, invitations_of, student_for
from studio.forms import InviteForm, NewLoginForm
from studio.models import Guardian, Student
from studio.pages import page, say
from studio.views.accounts import BACKEND


@for_teachers
@never_cache
@require_http_methods(["GET", "POST"])
def invite_student(request: HttpRequest, pk: int) -> HttpResponse:
    return invite(request, student_for(request.user, pk), back=pk)


@for_teachers
@never_cache
@require_http_methods(["GET", "POST"])
def invite_guardian(request: HttpRequest, pk: int) -> HttpResponse:
    guardian = guardian_for(request.user, pk)
    child = guardian.students.first()
    return invite(request, guardian, back=child.pk if child else None)


def invite(request: HttpRequest, person: Student | Guardian, *, back: int | None) -> HttpResponse:
    """Asks for an address, then shows the link: the only time that it can be seen."""
    if person.user_id:
        say(request, _("%(name)s logs in already.") % {"name": person})
        return redirect("student", pk=back) if back else redirect("students")
    form = InviteForm(request.POST if request.method == "POST" else None, initial={"email": address_of(person)})
    context = {"person": person, "is_student": isinstance(person, Student), "back": back, "section": "students"}
    if not form.is_valid():
        older = invitations.open_invitation(person, at=timezone.now())
        return page(request, "studio/invite.html", {"form": form, "older": older, **context})
    invitation, token = invitations.invite(person=person, email=form.cleaned_data["email"], at=timezone.now())
    mailed = bool(invitation.email) and invitations.mail_invitation(
        invitation=invitation, token=token, sender=request.user
    )
    context |= {"invitation": invitation, "link": invitations.link_of(token), "mailed": mailed}
    return page(request, "studio/invited.html", context)


def address_of(person: Student | Guardian) -> str:
    """Where this person was invited last, or for a guardian the address that is known."""
    last = invitations.invitations_for(person).exclude(email="").order_by("-pk").first()
    return last.email if last else getattr(person, "email", "")


@for_teachers
@require_POST
def take_back(request: HttpRequest, pk: int) -> HttpResponse:
    invitation = get_object_or_404(invitations_of(request.user).open(at=timezone.now()), pk=pk)
    invitations.take_back(invitation=invitation, at=timezone.now())
    say(request, _("The link opens nothing any more. Invite again to make a new one."))
    child = invitation.student or invitation.guardian.students.first()
    return redirect("student", pk=child.pk) if child else redirect("students")


@sensitive_post_parameters()
@never_cache
@require_http_methods(["GET", "POST"])
def accept(request: HttpRequest, token: str) -> HttpResponse:
    """The page behind the link. A link that opens nothing gets one and the same answer, whatever the reason."""
    invitation = invitations.find(token, at=timezone.now())
    if invitation is None:
        return page(request, "studio/invitation_gone.html", status=404)
    person = invitation.student or invitation.guardian
    form = NewLoginForm(request.POST or None, initial={"name": person.name, "email": invitation.email})
    context = {"form": form, "invitation": invitation, "person": person}
    if not form.is_valid():
        return page(request, "studio/accept.html", context)
    try:
        user = invitations.accept(invitation=invitation, at=timezone.now(), **form.cleaned_data)
    except invitations.InvitationGone:
        return page(request, "studio/invitation_gone.html", status=404)
    except IntegrityError:
        form.taken_meanwhile()
        return page(request, "studio/accept.html", context)
    login(request, user, backend=BACKEND)
    say(request, _("Welcome. From now on you log in with %(email)s.") % {"email": user.email})
    return redirect("home")
