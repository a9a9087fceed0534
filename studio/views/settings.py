"""The studio's own settings."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from studio.access import for_teachers
from studio.forms import StudioForm
from studio.pages import page, say


@for_teachers
@require_http_methods(["GET", "POST"])
def studio(request: HttpRequest) -> HttpResponse:
    form = StudioForm(request.POST or None, instance=request.user.studio)
    if not form.is_valid():
        request.user.studio.refresh_from_db()  # the masthead shows what is kept, not what was typed
        return page(request, "studio/studio.html", {"form": form})
    form.save()
    say(request, _("Kept."))
    return redirect("studio")
