"""Who may see and change what in the studio: the one place that answers it.

What is missing and what is forbidden look alike: both are 404.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any
from urllib.parse import urlsplit

from django.contrib.auth.views import redirect_to_login
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django_htmx.http import HttpResponseClientRedirect

from studio.models import Account, Guardian, Hand, Invitation, Role, Student, User

View = Callable[..., HttpResponse]


def ask_to_log_in(request: HttpRequest) -> HttpResponse:
    """Sends a stranger to the log-in and from there back to the page she was on, never to an address that takes only
    a POST. A part of a page that was asked for by htmx takes the whole page along."""
    if request.htmx:
        here = request.htmx.current_url_abs_path or reverse("home")
        return HttpResponseClientRedirect(redirect_to_login(here).url)
    if request.method in ("GET", "HEAD"):
        return redirect_to_login(request.get_full_path())
    came_from = urlsplit(request.META.get("HTTP_REFERER", ""))
    is_ours = came_from.netloc == request.get_host()
    return redirect_to_login(came_from.path if is_ours else reverse("home"))


def for_roles(*roles: Role) -> Callable[[View], View]:
    """Lets a view be used by these roles. Strangers are asked to log in, everyone else finds nothing there."""

    def guard(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if not request.user.is_authenticated:
                return ask_to_log_in(request)
            if request.user.role not in roles:
                raise Http404
            return view(request, *args, **kwargs)

        return guarded

    return guard


for_teachers = for_roles(Role.TEACHER)
for_guardians = for_roles(Role.GUARDIAN)
for_payers = for_roles(Role.TEACHER, Role.GUARDIAN)
for_families = for_roles(Role.STUDENT, Role.GUARDIAN)
for_everyone_here = for_roles(*Role)


def students_of(user: User) -> QuerySet[Student]:
    """A teacher's students, a guardian's children, a student's own self."""
    mine = Student.objects.filter(studio_id=user.studio_id)
    if user.is_teacher:
        return mine
    if user.is_guardian:
        return mine.filter(guardians__user=user)
    return mine.filter(user=user)


def student_for(user: User, pk: int) -> Student:
    return get_object_or_404(students_of(user), pk=pk)


def guardians_of(user: User) -> QuerySet[Guardian]:
    """The guardians that a teacher may see and change: all of her studio. Nobody else's business."""
    if not user.is_teacher:
        return Guardian.objects.none()
    return Guardian.objects.filter(studio_id=user.studio_id)


def guardian_for(user: User, pk: int) -> Guardian:
    return get_object_or_404(guardians_of(user), pk=pk)


def hands_of(user: User) -> QuerySet[Hand]:
    if not user.is_teacher:
        return Hand.objects.none()
    return Hand.objects.filter(studio_id=user.studio_id)


def invitations_of(user: User) -> QuerySet[Invitation]:
    if not user.is_teacher:
        return Invitation.objects.none()
    return Invitation.objects.filter(studio_id=user.studio_id)


def accounts_of(user: User) -> QuerySet[Account]:
    """A teacher's all; a guardian's own, those that name her; nobody else's business."""
    accounts = Account.objects.filter(studio_id=user.studio_id)
    if user.is_teacher:
        return accounts
    if user.is_guardian:
        return accounts.filter(guardians__user=user)
    return accounts.none()


def account_for(user: User, pk: int) -> Account:
    return get_object_or_404(accounts_of(user), pk=pk)
