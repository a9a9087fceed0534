"""The few ways in which a view answers."""

from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def page(
    request: HttpRequest, template: str, context: dict[str, Any] | None = None, *, status: int = 200
) -> HttpResponse:
    """A page; with status 422 where one of its forms did not hold, so that a script can tell it from success."""
    context = context or {}
    failed = any(isinstance(part, BaseForm) and part.is_bound and not part.is_valid() for part in context.values())
    return render(request, template, context, status=422 if failed else status)


def say(request: HttpRequest, text: str, *, undo: str = "") -> None:
    """Says something on the next page; with `undo`, a URL that takes a POST, an undo button stands beside it."""
    messages.success(request, text, extra_tags=undo)
