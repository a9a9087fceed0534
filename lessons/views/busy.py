"""Busy times from the teacher's other calendars."""

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST

from lessons import busy
from lessons.reading_calendars import CannotReadCalendar
from scores.workshop import WorkshopFailed
from studio.access import for_teachers
from studio.pages import page, say


class CalendarFileForm(forms.Form):
    """A calendar file, sent or pasted. What was looked at is pasted along: keeping it needs no second sending."""

    file = forms.FileField(
        label=gettext_lazy("Calendar file (.ics)"),
        required=False,
        widget=forms.FileInput(attrs={"accept": ".ics,text/calendar"}),
        help_text=gettext_lazy("Your other calendar exports it. Up to 2 MB; the year to come is read."),
    )
    pasted = forms.CharField(
        label=gettext_lazy("Or its text"), required=False, widget=forms.Textarea(attrs={"rows": 3}), strip=False
    )
    source = forms.CharField(
        label=gettext_lazy("Called"),
        max_length=120,
        required=False,
        help_text=gettext_lazy("For example “choir”. Read again under this name, it takes the place of the old one."),
    )

    def clean(self) -> dict[str, object]:
        cleaned = super().clean()
        file = cleaned.get("file")
        if file and file.size > busy.LARGEST:
            self.add_error("file", _("This file is larger than 2 MB. Export one calendar, or fewer years of it."))
            return cleaned
        cleaned["data"] = file.read() if file else cleaned.get("pasted", "").encode()
        if not cleaned["data"].strip() and not self.errors:
            self.add_error("file", _("Choose a calendar file, or paste its text."))
        name = cleaned.get("source") or (file.name if file else "") or _("calendar")
        cleaned["source"] = " ".join(name.split())[:120]
        return cleaned


@for_teachers
@require_http_methods(["GET", "HEAD", "POST"])
def busy_times(request: HttpRequest) -> HttpResponse:
    """What was read before, and a file to be looked at."""
    form = CalendarFileForm(request.POST, request.FILES) if request.method == "POST" else CalendarFileForm()
    context = {"form": form, "sources": busy.sources_of(request.user.studio), "section": "week"}
    if request.method == "POST" and form.is_valid():
        found = looked_into(request, form)
        if found is not None and "keep" in request.POST:
            count = busy.keep(studio=request.user.studio, source=form.cleaned_data["source"], found=found)
            say(request, _("%(count)s busy times stand in the week now.") % {"count": count})
            return redirect("busy-times")
        text = form.cleaned_data["data"].decode("utf-8", errors="replace")
        context |= {"found": found, "text": text, "source": form.cleaned_data["source"]}
    return page(request, "lessons/busy_times.html", context)


def looked_into(request: HttpRequest, form: CalendarFileForm) -> busy.Found | None:
    """What the file has; None, with the error at the file, where it cannot be read."""
    try:
        return busy.look_into(form.cleaned_data["data"], studio=request.user.studio, at=timezone.now())
    except CannotReadCalendar as trouble:
        form.add_error("file", words_for(trouble.reason))
    except WorkshopFailed:
        form.add_error("file", _("This calendar took too long to read; nothing was kept. Export less of it."))
    return None


def words_for(reason: str) -> str:
    return {
        "calendar": _("This is no calendar file. Export the calendar once more, as iCalendar (.ics)."),
        "empty": _("There is no appointment in this calendar."),
        "many": _("There are more than 5,000 appointments in the year to come. Export one calendar alone."),
    }[reason]


@for_teachers
@require_POST
def take_out(request: HttpRequest) -> HttpResponse:
    """Takes out all that came under one name."""
    source = request.POST.get("source", "")
    key = busy.take_out(studio=request.user.studio, source=source)
    say(
        request,
        _("The busy times of “%(source)s” are taken out.") % {"source": source},
        undo=reverse("bring-busy-back", args=[key]),
    )
    return redirect("busy-times")


@for_teachers
@require_POST
def bring_back(request: HttpRequest, key: str) -> HttpResponse:
    try:
        busy.bring_back(studio=request.user.studio, key=key)
    except KeyError:
        raise Http404 from None
    return redirect("busy-times")
