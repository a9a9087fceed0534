"""How the views of the desk answer: with the desk, with the form of one note, or with what could not be done."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django_htmx.http import HttpResponseClientRedirect, retarget

from scores.access import passage_for, passages_of
from scores.models import Passage
from scores.music.refusal import Refusal
from scores.note_forms import CopyForm
from scores.views.desk import show_desk
from studio.pages import page, say


def back(request: HttpRequest, passage: Passage, anchor: str) -> HttpResponse:
    """After a change: the changed desk itself for a script, else the way back to it."""
    if request.htmx:
        return show_desk(request, passage)
    return redirect(reverse("desk", kwargs={"pk": passage.pk}) + f"#{anchor}")


def refused(request: HttpRequest, passage: Passage, refusal: Refusal, **context: Any) -> HttpResponse:
    """The desk again, with what could not be done said at its head."""
    return show_desk(request, passage, status=422, refusal=words(refusal), **context)


def words(refusal: Refusal) -> str:
    return _(refusal.msgid) % refusal.params


def undo(name: str, pk: int) -> str:
    return reverse(name, kwargs={"pk": pk})


def note_page(
    request: HttpRequest, passage: Passage, form: Any, title: str, action: str, pk: int, **context: Any
) -> HttpResponse:
    """The form of one note, on a page of its own; a script puts it where it belongs on the desk."""
    template = "scores/_desk_note.html" if request.htmx else "scores/desk_note.html"
    form_id = f"{action}-{pk}"
    form.auto_id = f"{form_id}-%s"  # Several such forms can stand open on one desk.
    page_context = {
        "section": "repertoire",
        "passage": passage,
        "form": form,
        "form_id": form_id,
        "title": title,
        "action": reverse(action, kwargs={"pk": pk}),
        **context,
    }
    response = page(request, template, page_context)
    return retarget(response, f"#{form_id}") if response.status_code == 422 and request.htmx else response


def copy_page(request: HttpRequest, note: Any, copy: Any, action: str, title: str) -> HttpResponse:
    """Copies a note to another passage: which one, or why not."""
    passages = (
        passages_of(request.user)
        .standing()
        .exclude(pk=note.passage_id)
        .defer("edition__original", "edition__packed_music", "edition__packed_score")
    )
    form = CopyForm(request.POST or None, passages=passages, source=note.passage)
    if request.method == "POST" and form.is_valid():
        to = passage_for(request.user, form.cleaned_data["passage"])
        try:
            copy(to)
        except Refusal as refusal:
            form.add_error("passage", words(refusal))
        else:
            say(request, _("Copied. This is the passage it was copied to."))
            return go(request, reverse("desk", kwargs={"pk": to.pk}))
    return note_page(request, note.passage, form, title, action, note.pk, submit=_("Copy"))


def go(request: HttpRequest, url: str) -> HttpResponse:
    """To another page, whether a script asks or the browser."""
    return HttpResponseClientRedirect(url) if request.htmx else redirect(url)
