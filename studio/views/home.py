"""The first page."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_safe

from studio.models import Role
from studio.pages import page

FIRST_PAGE = {Role.TEACHER: "today", Role.STUDENT: "this-week", Role.GUARDIAN: "children"}


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """Says to a stranger what this is; sends everyone else to where their day begins."""
    if request.user.is_authenticated:
        return redirect(FIRST_PAGE[Role(request.user.role)])
    return page(request, "studio/home.html")
