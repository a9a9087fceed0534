"""The waiting list, freed times that are offered, and the page on which one is accepted."""

from django.core.exceptions import ObjectDoesNotExist
from django.core.signing import BadSignature
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from lessons import waiting
from lessons.asking import TimeTaken
from lessons.asking_forms import WaitingForm
from lessons.freed import freed_times, open_offers
from lessons.models import Offer, Waiting
from studio.access import for_teachers, student_for, students_of
from studio.models import Student
from studio.pages import page, say

SECTION = {"section": "students"}


@for_teachers
@require_GET
def waiting_list(request: HttpRequest) -> HttpResponse:
    """Who waits since when, and which freed times fit whom."""
    now, today = timezone.now(), timezone.localdate()
    rows = waiting.waiting_list(request.user.studio, today=today)
    freed = freed_times(request.user.studio, rows, at=now)
    fitting: dict[int, list[object]] = {row.pk: [] for row in rows}
    for one in freed:
        for fit in one.fits:
            fitting[fit.waiting.pk].append((one, fit))
    context = {"waiting": [(row, fitting[row.pk]) for row in rows], "freed": freed, **SECTION}
    if not rows:
        context["has_students"] = students_of(request.user).current().exists()
    return page(request, "lessons/waiting.html", context)


@for_teachers
@require_http_methods(["GET", "POST"])
def put_on_list(request: HttpRequest, pk: int) -> HttpResponse:
    """Puts a student on the list, or changes what she waits for."""
    student = student_for(request.user, pk)
    kept = Waiting.objects.filter(student=student).first()
    form = WaitingForm(request.POST or None, instance=kept, initial={} if kept else usual_minutes(student))
    if not form.is_valid():
        return page(request, "lessons/waiting_form.html", {"form": form, "student": student, "kept": kept, **SECTION})
    waiting.put_on(student=student, at=timezone.now(), **form.cleaned_data)
    say(request, _("%(name)s is on the waiting list.") % {"name": student})
    return redirect("waiting")


def usual_minutes(student: Student) -> dict[str, int]:
    last = student.lessons.order_by("-starts_at").values_list("minutes", flat=True).first()
    return {"minutes": last} if last else {}


@for_teachers
@require_POST
def take_off_list(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(Waiting.objects.filter(studio=request.user.studio).select_related("student"), pk=pk)
    token = waiting.take_off(waiting=row)
    undo = reverse("put-back-on-list", args=[token])
    say(request, _("%(name)s is off the waiting list.") % {"name": row.student}, undo=undo)
    return redirect("waiting")


@for_teachers
@require_POST
def put_back_on_list(request: HttpRequest, token: str) -> HttpResponse:
    try:
        waiting.put_back(studio=request.user.studio, token=token)
    except (BadSignature, ObjectDoesNotExist):
        raise Http404 from None
    return redirect("waiting")


@for_teachers
@require_POST
def offer_time(request: HttpRequest) -> HttpResponse:
    """Offers a freed time to those whom it fits: to all, or to those in `student`."""
    now, studio = timezone.now(), request.user.studio
    rows = waiting.waiting_list(studio, today=timezone.localdate())
    key = request.POST.get("freed", "")
    freed = next((one for one in freed_times(studio, rows, at=now) if one.key == key), None)
    chosen = [int(one) for one in request.POST.getlist("student") if one.isdecimal() and len(one) < 18]
    done = waiting.offer_time(studio=studio, freed=freed, students=chosen, at=now) if freed else None
    if not done or not done.offers:
        say(request, _("Nothing was offered: that time is taken by now, or it fits nobody who was chosen."))
        return redirect("waiting")
    names = ", ".join(offer.student.name for offer in done.offers)
    words = ngettext(
        "Offered to %(names)s: %(count)s mail goes out.", "Offered to %(names)s: %(count)s mails go out.", done.mails
    )
    undo = reverse("take-offer-back", args=[key])
    say(request, words % {"names": names, "count": done.mails}, undo=undo)
    if done.unreached:
        names = ", ".join(student.name for student in done.unreached)
        say(request, _("No mail reaches %(names)s: hand on the link that stands below.") % {"names": names})
    return redirect("waiting")


@for_teachers
@require_POST
def take_offer_back(request: HttpRequest, key: str) -> HttpResponse:
    """Takes the open offers of a freed time back, or those of one student."""
    now = timezone.now()
    rows = waiting.waiting_list(request.user.studio, today=timezone.localdate())
    freed = next((one for one in freed_times(request.user.studio, rows, at=now) if one.key == key), None)
    offers = [fit.offer for fit in freed.fits if fit.offer] if freed else []
    if request.POST.get("offer", "").isdecimal():
        offers = [offer for offer in offers if str(offer.pk) == request.POST["offer"]]
    count = waiting.withdraw_offers(offers=offers, at=now)
    if count:
        words = ngettext("%(count)s offer is taken back.", "%(count)s offers are taken back.", count)
        say(request, words % {"count": count})
    else:
        say(request, _("There was nothing to take back any more."))
    return redirect("waiting")


# The page of one offer


def look_at(request: HttpRequest, offer: Offer) -> HttpResponse:
    now = timezone.now()
    is_open = open_offers(offer.studio, at=now).filter(pk=offer.pk).exists() and waiting.stands_free(offer, at=now)
    context = {"offer": offer, "is_open": is_open, "is_taken": is_taken(offer)}
    context["owed"] = waiting.owed_to(offer, at=now) if is_open else None
    return page(request, "lessons/offer.html", context)


def is_taken(offer: Offer) -> bool:
    """Whether this student has the time by now."""
    return offer.state == Offer.State.TAKEN and offer.lesson is not None


@require_http_methods(["GET", "HEAD", "POST"])
def offer(request: HttpRequest, token: str) -> HttpResponse:
    """An offered time, behind the link of a mail; needs no login. Looking accepts nothing: only the button does."""
    found = waiting.offer_behind(token)
    if found is None:
        return page(request, "lessons/offer.html", {"unknown": True}, status=404)
    with timezone.override(found.studio.timezone):
        if request.method != "POST":
            return look_at(request, found)
        try:
            waiting.accept(offer=found, at=timezone.now())
        except (waiting.OfferOver, TimeTaken):
            found.refresh_from_db()
            return page(request, "lessons/offer.html", {"offer": found, "is_late": True})
        found.refresh_from_db()
        return page(request, "lessons/offer.html", {"offer": found, "is_taken": True})
