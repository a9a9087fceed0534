"""Charging what is due, looked at before it is written; reminding who owes."""

from django.core.signing import BadSignature
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from lessons import charging, tuition_reminders
from studio.access import account_for, for_teachers
from studio.locales import money_words
from studio.models import Account
from studio.pages import page, say
from studio.tuition.balances import state_of
from studio.tuition_forms import RemindForm

SECTION = {"section": "tuition"}


@for_teachers
@require_http_methods(["GET", "POST"])
def charge(request: HttpRequest) -> HttpResponse:
    """What is due today and not in the ledger yet; a POST writes it."""
    studio, today = request.user.studio, timezone.localdate()
    if request.method == "POST":
        made = charging.charge_due(studio=studio, at=today, by=request.user)
        count = len(made.charges)
        words = {"count": count, "sum": money_words(made.minor, studio.currency, studio.locale)}
        written = ngettext("%(count)d charge, %(sum)s.", "%(count)d charges, %(sum)s in all.", count) % words
        say(request, written if count else _("Nothing was due; nothing was written."))
        return redirect("tuition")
    studio = charging.with_settings(studio)
    draft = charging.preview(studio=studio, at=today)
    context = {
        "studio": studio,
        "draft": draft,
        "by_itself": charging.writes_by_itself(studio),
        **SECTION,
    }
    return page(request, "lessons/charging.html", context)


@for_teachers
@require_http_methods(["GET", "POST"])
def remind(request: HttpRequest, pk: int) -> HttpResponse:
    """A reminder by e-mail: its words can be changed, and it goes out once."""
    account, studio, now = account_for(request.user, pk), request.user.studio, timezone.now()
    state = state_of(account, on=timezone.localdate())
    to = tuition_reminders.recipients(account)
    words = tuition_reminders.draft(account, state, studio, request.user)
    form = RemindForm(request.POST or None, initial=words)
    if not state.owes or not to or not form.is_valid():
        context = {"form": form, "account": account, "state": state, "studio": studio, "to": to}
        return page(request, "lessons/remind.html", {**context, "last": account.reminders.first(), **SECTION})
    given = form.cleaned_data
    row = tuition_reminders.send(
        account=account,
        to=to,
        subject=given["subject"],
        text=given["text"],
        once=f"hand-{given['key']}",
        by=request.user,
        at=now,
    )
    if row.sent_at:
        say(request, _("The reminder is sent to %(to)s.") % {"to": row.to})
    else:
        say(request, _("The mail could not be sent. Its words are kept with the account; try again later."))
    return redirect("account", pk=pk)


@never_cache
@require_http_methods(["GET", "POST"])
def no_more_mails(request: HttpRequest, token: str) -> HttpResponse:
    """The way out that stands in every reminder; needs no login. A link that is none gets a plain answer."""
    try:
        account, address = tuition_reminders.read_token(token)
    except (BadSignature, Account.DoesNotExist):
        return page(request, "lessons/no_more_mails.html", {"unknown": True}, status=404)
    stopped = request.method == "POST"
    if stopped:
        tuition_reminders.stop(account=account, address=address)
    return page(
        request, "lessons/no_more_mails.html", {"address": address, "studio": account.studio, "stopped": stopped}
    )
