"""A passage taken to another edition of its piece: looked at first, then done, then perhaps undone."""

from django.core import signing
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from scores import reattaching
from scores.access import editions_of, passage_for, passages_of
from scores.models import Edition
from scores.music.refusal import Refusal
from scores.views.answers import words
from studio.access import for_teachers
from studio.pages import page, say

SALT = "passage taken to another edition"
KEPT = 24 * 3600  # seconds that an undo holds


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def reattach(request: HttpRequest, pk: int) -> HttpResponse:
    """What a passage becomes in the edition that `to` names; done on a POST."""
    passage = passage_for(request.user, pk)
    others = Edition.objects.light().filter(piece=passage.edition.piece_id).exclude(pk=passage.edition_id)
    asked = (request.POST if request.method == "POST" else request.GET).get("to", "")
    context = {"section": "repertoire", "passage": passage, "others": others}
    if not asked:
        return page(request, "scores/reattach.html", context)
    chosen = asked if asked.isdecimal() and len(asked) < 19 else "0"
    there = get_object_or_404(
        editions_of(request.user).filter(piece=passage.edition.piece_id).exclude(pk=passage.edition_id), pk=chosen
    )
    try:
        plan = reattaching.plan(passage, there)
    except Refusal as refused:
        context |= {"to": there, "trouble": words(refused)}
        return page(request, "scores/reattach.html", context, status=422 if request.method == "POST" else 200)
    if request.method == "POST":
        made = reattaching.reattach(plan, at=timezone.now(), keep="keep" in request.POST)
        token = signing.dumps([passage.pk, made.pk], salt=SALT)
        say(
            request,
            _("The passage stands in “%(edition)s” now.") % {"edition": there},
            undo=reverse("take-reattaching-back", args=[token]),
        )
        return redirect("desk", pk=made.pk)
    return page(request, "scores/reattach.html", {**context, "to": there, "plan": plan})


@for_teachers
@require_POST
def take_back(request: HttpRequest, token: str) -> HttpResponse:
    try:
        keys = signing.loads(token, salt=SALT, max_age=KEPT)
    except signing.BadSignature:
        raise Http404 from None
    old, new = (get_object_or_404(passages_of(request.user), pk=key) for key in keys)
    reattaching.take_back(old=old, new=new, at=timezone.now())
    return redirect("desk", pk=old.pk)
