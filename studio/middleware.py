"""Every page of a studio tells the time of that studio."""

import zoneinfo
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone


class StudioTimeMiddleware:
    """Activates the time zone of the user's studio for one request."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        user = request.user
        zone = user.studio.timezone if user.is_authenticated and user.studio_id else "UTC"
        with timezone.override(zoneinfo.ZoneInfo(zone)):
            return self.get_response(request)
