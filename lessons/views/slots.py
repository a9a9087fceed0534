"""Weekly lessons: the slots, one page for all of them and a form for one."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.core.exceptions import ObjectDoesNotExist
from django.core.signing import BadSignature
from django.db.models import Prefetch
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from lessons import planning, scheduling
from lessons.access import slot_for, slots_seen_by
from lessons.calendar_forms import EndForm, SlotForm, initial_of
from lessons.laying_out import Laid, next_day
from lessons.meetings import clashes_of_slot, names_of
from lessons.models import Lesson, Slot
from lessons.slot_words import slot_in_words
from studio.access import for_teachers, students_of
from studio.models import Student, Term
from studio.pages import page, say

SECTION = {"section": "week"}
MOST_TOLD = 3  # of what stands in the way
UNTIL_TOLD = timedelta(weeks=26)


@dataclass(frozen=True)
class Row:
    """One slot as the list shows it; `next` is the first day for which it still stands, None when it is over."""

    slot: Slot
    names: str
    words: str
    next: date | None

    @property
    def weekday(self) -> date:
        return self.next or self.slot.first_day


@for_teachers
@require_GET
def slots(request: HttpRequest) -> HttpResponse:
    """All weekly lessons, those that go on by weekday and time, those that are over below."""
    today, zone = timezone.localdate(), ZoneInfo(request.user.studio.timezone)
    found = (
        slots_seen_by(request.user).standing().prefetch_related(Prefetch("students", Student.objects.order_by("name")))
    )
    rows = [row_of(slot, today, zone) for slot in found if slot.rule or slot.first_day >= today]
    going = sorted((row for row in rows if row.next), key=lambda row: (row.weekday.weekday(), row.slot.at, row.slot.pk))
    context = {
        "going": going,
        "over": [row for row in rows if not row.next],
        "has_students": students_of(request.user).current().exists(),
        **SECTION,
    }
    return page(request, "lessons/slots.html", context)


def row_of(slot: Slot, today: date, zone: ZoneInfo) -> Row:
    names = slot.name or names_of(slot.students.all())
    return Row(slot, names, slot_in_words(slot), next_day(slot, today, zone))


def slot_form(request: HttpRequest, *, initial: dict[str, Any], keep: Slot | None = None) -> SlotForm:
    students = students_of(request.user).current()
    if keep:
        students = (students | students_of(request.user).filter(slots=keep)).distinct()
    return SlotForm(
        request.POST or None,
        initial=initial,
        students=students,
        zone=request.user.studio.timezone,
        has_terms=Term.objects.filter(studio=request.user.studio).exists(),
        sequence=keep.sequence if keep else None,
    )


@for_teachers
@require_http_methods(["GET", "POST"])
def new_slot(request: HttpRequest) -> HttpResponse:
    """A new weekly lesson; for a student who has had one, like the last."""
    asked = request.GET.get("student", "")
    student = students_of(request.user).filter(pk=asked).first() if asked.isdecimal() and len(asked) < 18 else None
    form = slot_form(request, initial=usual_slot(request, student))
    if not form.is_valid():
        has_students = students_of(request.user).current().exists()
        return page(request, "lessons/slot_form.html", {"form": form, "has_students": has_students, **SECTION})
    slot, laid = scheduling.make_slot(studio=request.user.studio, plan=form.plan(), at=timezone.now())
    words = ngettext("%(count)s lesson is laid out.", "%(count)s lessons are laid out.", laid.made) % {
        "count": laid.made
    }
    say(request, words, undo=reverse("remove-slot", args=[slot.pk]))
    tell_clashes(request, slot)
    return redirect("slots")


def usual_slot(request: HttpRequest, student: Student | None) -> dict[str, Any]:
    initial: dict[str, Any] = {"first_day": timezone.localdate(), "minutes": 45, "where": "studio"}
    if student is None:
        return initial
    usual = planning.usual_time(student, at=timezone.now(), zone=request.user.studio.timezone)
    named = {"first_day": usual.pop("day", initial["first_day"]), "at": usual.pop("time", None)}
    return initial | {"students": [student.pk]} | usual | named


def tell_clashes(request: HttpRequest, slot: Slot) -> None:
    """Says what lessons of the slot stand in the way of, and which of them fall outside the teacher's rules."""
    found = clashes_of_slot(slot, at=timezone.now(), until=timezone.now() + UNTIL_TOLD)
    if found:
        told = [f"{date_format(timezone.localtime(begin), 'j F')}: {words}" for begin, words in found[:MOST_TOLD]]
        if len(found) > MOST_TOLD:
            told.append(_("and %(count)s more") % {"count": len(found) - MOST_TOLD})
        say(request, _("Mind: %(what)s.") % {"what": "; ".join(told)})


def tell_kept(request: HttpRequest, laid: Laid) -> None:
    """Says which lessons stay though nothing names them any more."""
    if laid.kept:
        told = [told_lesson(lesson) for lesson in laid.kept[:MOST_TOLD]]
        if len(laid.kept) > MOST_TOLD:
            told.append(_("and %(count)s more") % {"count": len(laid.kept) - MOST_TOLD})
        words = _(
            "These lessons stay, because something is written or decided in them; cancel them if they are not to be:"
        )
        say(request, f"{words} {'; '.join(told)}.")


def told_lesson(lesson: Lesson) -> str:
    return f"{lesson.student}, {date_format(timezone.localtime(lesson.starts_at), 'j F, H:i')}"


@for_teachers
@require_http_methods(["GET", "POST"])
def change_slot(request: HttpRequest, pk: int) -> HttpResponse:
    """Changes a weekly lesson from a week on; what was before stays."""
    slot = slot_for(request.user, pk)
    today, zone = timezone.localdate(), ZoneInfo(request.user.studio.timezone)
    begins = next_day(slot, today, zone) or today
    form = slot_form(request, initial=initial_of(slot, begins) | {"known": slot.sequence}, keep=slot)
    if not form.is_valid():
        context = {"form": form, "slot": slot, "row": row_of(slot, today, zone), "has_students": True, **SECTION}
        return page(request, "lessons/slot_form.html", context)
    try:
        now, laid, token = scheduling.change_slot(slot=slot, plan=form.plan(), at=timezone.now())
    except scheduling.ChangedSince:
        say(request, _("It was changed again since; it stays as it is."))
        return redirect("slots")
    words = _("Changed from %(day)s on; what was before stays as it was.") % {"day": date_format(now.first_day, "j F")}
    say(request, words, undo=reverse("undo-slot", args=[token]))
    tell_kept(request, laid)
    tell_clashes(request, now)
    return redirect("slots")


@for_teachers
@require_http_methods(["GET", "POST"])
def end_slot(request: HttpRequest, pk: int) -> HttpResponse:
    """Lets a weekly lesson end with a day."""
    slot = slot_for(request.user, pk)
    form = EndForm(request.POST or None, initial={"last": timezone.localdate()})
    if not form.is_valid():
        row = row_of(slot, timezone.localdate(), ZoneInfo(request.user.studio.timezone))
        return page(request, "lessons/end_slot.html", {"form": form, "slot": slot, "row": row, **SECTION})
    last = form.cleaned_data["last"]
    laid, token = scheduling.end_slot(slot=slot, last=last, at=timezone.now())
    words = _("It ends on %(day)s.") % {"day": date_format(last, "j F Y")}
    say(request, words, undo=reverse("undo-slot", args=[token]))
    tell_kept(request, laid)
    return redirect("slots")


@for_teachers
@require_POST
def remove_slot(request: HttpRequest, pk: int) -> HttpResponse:
    slot = slot_for(request.user, pk)
    laid = scheduling.remove_slot(slot=slot, at=timezone.now())
    say(request, _("The weekly lesson is taken out."), undo=reverse("restore-slot", args=[pk]))
    tell_kept(request, laid)
    return redirect("slots")


@for_teachers
@require_POST
def restore_slot(request: HttpRequest, pk: int) -> HttpResponse:
    scheduling.restore_slot(slot=slot_for(request.user, pk), at=timezone.now())
    say(request, _("The weekly lesson is back."))
    return redirect("slots")


@for_teachers
@require_POST
def undo_slot(request: HttpRequest, token: str) -> HttpResponse:
    try:
        scheduling.undo_slot(studio=request.user.studio, token=token, at=timezone.now())
    except (BadSignature, ObjectDoesNotExist):
        raise Http404 from None
    except scheduling.ChangedSince:
        say(request, _("It was changed again since; it stays as it is."))
        return redirect("slots")
    say(request, _("The weekly lesson is as it was."))
    return redirect("slots")
