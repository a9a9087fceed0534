"""Making a studio, logging in and out, and passwords."""

from typing import Any

from django.conf import settings
from django.contrib.auth import login, logout, update_session_auth_hash
from django.contrib.auth.forms import PasswordChangeForm
from django.contrib.auth.views import PasswordResetConfirmView
from django.db import IntegrityError
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse_lazy
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio import people
from studio.access import for_everyone_here
from studio.forms import ForgottenForm, LogInForm, NewLoginForm, StudioForm
from studio.pages import page, say

# A user who was just made, or has just shown a link from a mail, need not show the password again.
BACKEND = "django.contrib.auth.backends.ModelBackend"


@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def start(request: HttpRequest) -> HttpResponse:
    """Makes a studio and its teacher, and logs her in."""
    if request.user.is_authenticated:
        return redirect("home")
    studio = StudioForm(request.POST or None, initial={"currency": "", "timezone": ""})
    you = NewLoginForm(request.POST or None, prefix="you")
    if not all([studio.is_valid(), you.is_valid()]):
        return page(request, "studio/start.html", {"studio": studio, "you": you})
    try:
        teacher = people.begin_studio(studio=studio.cleaned_data, **you.cleaned_data)
    except IntegrityError:
        you.taken_meanwhile()
        return page(request, "studio/start.html", {"studio": studio, "you": you})
    login(request, teacher, backend=BACKEND)
    say(request, _("%(studio)s is open. Add your first student, or your first piece.") % {"studio": teacher.studio})
    return redirect("students")


def where_to_go(request: HttpRequest) -> str:
    """The page that was asked for before the log-in, if it is one of ours."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    ours = url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return wanted if ours else ""


@sensitive_post_parameters()
@never_cache
@require_http_methods(["GET", "POST"])
def log_in(request: HttpRequest) -> HttpResponse:
    wanted = where_to_go(request)
    if request.user.is_authenticated:
        return redirect(wanted or "home")
    form = LogInForm(request.POST or None, request=request)
    if not form.is_valid():
        return page(request, "studio/log_in.html", {"form": form, "next": wanted})
    login(request, form.user)
    return redirect(wanted or "home")


@require_POST
def log_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return redirect("home")


@for_everyone_here
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def change_password(request: HttpRequest) -> HttpResponse:
    form = PasswordChangeForm(request.user, request.POST or None)
    if not form.is_valid():
        return page(request, "studio/change_password.html", {"form": form})
    form.save()
    update_session_auth_hash(request, form.user)
    say(request, _("Your password is changed. Wherever else you were logged in, you no longer are."))
    return redirect("home")


@require_http_methods(["GET", "POST"])
def forgotten(request: HttpRequest) -> HttpResponse:
    """Asks where to send a link. The answer is the same whether or not anyone logs in with the address."""
    form = ForgottenForm(request.POST or None)
    if not form.is_valid():
        return page(request, "studio/forgotten.html", {"form": form})
    form.send_links(site=settings.SITE_URL)
    return redirect("forgotten-sent")


@require_GET
def forgotten_sent(request: HttpRequest) -> HttpResponse:
    return page(request, "studio/forgotten_sent.html", {"hours": settings.PASSWORD_RESET_TIMEOUT // 3600})


class NewPassword(PasswordResetConfirmView):
    """Django's own view: it moves the token out of the address before it shows the form."""

    template_name = "studio/new_password.html"
    success_url = reverse_lazy("home")
    post_reset_login = True
    post_reset_login_backend = BACKEND

    def form_valid(self, form: BaseForm) -> HttpResponse:
        say(self.request, _("You have a new password and are logged in."))
        return super().form_valid(form)

    def form_invalid(self, form: BaseForm) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)

    def render_to_response(self, context: dict[str, Any], **response: Any) -> HttpResponse:
        if not self.validlink:
            response["status"] = 404
        return super().render_to_response(context, **response)


new_password = NewPassword.as_view()
