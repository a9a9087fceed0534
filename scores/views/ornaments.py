"""How the ornaments of a passage are played: choosing, taking over a period's habits, taking back."""

from dataclasses import asdict

from django.core.signing import BadSignature
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import conditional_page, require_POST, require_safe

from scores import ornamenting
from scores.access import passage_for
from scores.desk import DEFAULT_WIDTH, tidy_width
from scores.inheriting import here
from scores.models import Passage
from scores.music.refusal import Refusal
from scores.ornament_forms import OrnamentForm, StyleForm
from scores.ornament_places import ornaments_in
from scores.ornaments_desk import gather_ornaments
from scores.views.answers import back, refused
from scores.views.desk import asked_for, ornament_panels, show_desk, tempo_for
from studio.access import for_teachers
from studio.pages import say


@for_teachers
@require_POST
def keep_ornament(request: HttpRequest, pk: int) -> HttpResponse:
    """Where one ornament falls, how many notes it has, how it begins and ends."""
    passage = passage_for(request.user, pk)
    standing = here(passage).choices
    note = request.POST.get("note", "")
    place = next((place for place in ornaments_in(passage, standing) if place.note == note), None)
    if place is None:
        return refused(request, passage, Refusal(ornamenting.NO_ORNAMENT))
    form = OrnamentForm(request.POST, place=place)
    if not form.is_valid():
        return show_desk(request, passage, status=422, ornament_form=form)
    before = ornamenting.keep_ornament(passage=passage, at=timezone.now(), **form.cleaned_data)
    say(request, _("%(what)s: kept.") % {"what": place.what}, undo=undo(passage, before))
    return back(request, passage, "ornaments")


@for_teachers
@require_safe
@conditional_page
def shown_ornaments(request: HttpRequest, pk: int) -> HttpResponse:
    """The ornaments alone, engraved for a column `width` CSS pixels wide."""
    passage = passage_for(request.user, pk)
    width = tidy_width(request.GET.get("width", DEFAULT_WIDTH))
    rows = list(here(passage).choices)
    gathered = gather_ornaments(passage, rows, width, tempo_for(request))
    context = {
        "passage": passage,
        "ornaments": gathered,
        "ornament_systems": ornament_panels(gathered, None),
        "asked": asdict(asked_for(request)),
    }
    return render(request, "scores/_desk_ornaments.html", context)


@for_teachers
@require_POST
def take_over_style(request: HttpRequest, pk: int) -> HttpResponse:
    """A period's habits for the ornaments of which nothing is said."""
    passage = passage_for(request.user, pk)
    form = StyleForm(request.POST)
    if not form.is_valid():
        return show_desk(request, passage, status=422, refusal=_("Choose one of the periods."))
    before = ornamenting.take_over_style(passage=passage, period=form.cleaned_data["period"], at=timezone.now())
    say(request, _("What was open is filled in. Change any of it as you like."), undo=undo(passage, before))
    return back(request, passage, "ornaments")


@for_teachers
@require_POST
def restore_ornaments(request: HttpRequest, pk: int, token: str) -> HttpResponse:
    passage = passage_for(request.user, pk)
    try:
        ornamenting.restore(passage=passage, token=token, at=timezone.now())
    except BadSignature:
        raise Http404 from None
    say(request, _("It is as it was."))
    return back(request, passage, "ornaments")


def undo(passage: Passage, before: ornamenting.Before) -> str:
    token = ornamenting.token_of(passage, before)
    return reverse("restore-ornaments", kwargs={"pk": passage.pk, "token": token})
