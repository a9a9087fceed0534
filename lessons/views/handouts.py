"""Handouts: the draft on the screen and on paper, giving it, and those that were given."""

from typing import Any
from urllib.parse import quote

from django.db.models import OuterRef, Subquery
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.text import slugify
from django.utils.timezone import localdate
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from lessons.access import handouts_of, lessons_of
from lessons.forms import GiveForm
from lessons.giving import give as give_handout
from lessons.giving import says_the_same
from lessons.handouts.content import Content, from_data
from lessons.handouts.gathering import gather, with_following
from lessons.handouts.screen import on_screen
from lessons.handouts.sheet import draw_sheet
from lessons.models import Handout, Lesson
from studio.access import for_everyone_here, for_teachers
from studio.pages import page, say
from studio.sheets.faces import missing


def lesson_to_give(request: HttpRequest, pk: int) -> Lesson:
    """The lesson with what its handout asks of it, and with its newest handout: `newest` (id), `newest_at` and
    `newest_content`, None where none was given."""
    newest = Handout.objects.filter(lesson=OuterRef("pk")).order_by("-revision")
    lessons = with_following(lessons_of(request.user)).annotate(
        newest=Subquery(newest.values("pk")[:1]),
        newest_at=Subquery(newest.values("given_at")[:1]),
        newest_content=Subquery(newest.values("content")[:1]),
    )
    lesson = get_object_or_404(lessons, pk=pk)
    lesson.studio = request.user.studio
    return lesson


def asked_form(request: HttpRequest, lesson: Lesson) -> GiveForm:
    """Paper and size of print as asked for; the studio's paper where nothing is."""
    asked = request.POST if request.method == "POST" else request.GET
    return GiveForm({"paper": asked.get("paper") or lesson.studio.paper, "large_print": asked.get("large_print", "")})


def draft_of(form: GiveForm, lesson: Lesson) -> Content:
    return gather(lesson, **form.cleaned_data) if form.is_valid() else gather(lesson)


@for_teachers
@require_GET
def preview(request: HttpRequest, pk: int) -> HttpResponse:
    """The handout as it would be given now."""
    lesson = lesson_to_give(request, pk)
    form = asked_form(request, lesson)
    content = draft_of(form, lesson)
    context: dict[str, Any] = {
        "lesson": lesson,
        "form": form,
        "sheet": on_screen(content),
        "is_new": not says_the_same(lesson.newest_content, content),
        "missing": missing(texts_of(content)),
        "section": "week",
    }
    return page(request, "lessons/handout_preview.html", context)


def texts_of(content: Content) -> list[str]:
    """What teacher and pieces bring in: the words that may be in any script."""
    texts = [content.student, content.studio, content.notes]
    for task in content.tasks:
        texts += [task.title, task.composer, task.remark]
    for work in content.works:
        texts += [work.title, work.composer, work.edition, work.where, work.task]
        texts += [remark.text for remark in work.remarks] + [ornament.remark for ornament in work.ornaments]
    return texts


@for_teachers
@require_GET
def draft_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """The draft on paper; not kept."""
    lesson = lesson_to_give(request, pk)
    content = draft_of(asked_form(request, lesson), lesson)
    return pdf_answer(draw_sheet(content), content.student, f"{content.day}-draft")


@for_teachers
@require_POST
def give(request: HttpRequest, pk: int) -> HttpResponse:
    """Keeps the handout as it stands now, as a new revision."""
    lesson = lesson_to_give(request, pk)
    handout = give_handout(lesson=lesson, content=draft_of(asked_form(request, lesson), lesson))
    say(request, _("The handout is given. It stays as it is; a later change makes a new one."))
    return redirect("handout", pk=handout.pk)


@for_everyone_here
@require_GET
def handout(request: HttpRequest, pk: int) -> HttpResponse:
    """A handout that was given, from what was kept with it."""
    row = get_object_or_404(handouts_of(request.user).defer("pdf"), pk=pk)
    others = handouts_of(request.user).filter(lesson=row.lesson).defer("pdf", "content")
    context = {
        "handout": row,
        "revisions": list(others),
        "sheet": on_screen(from_data(row.content)),
        "section": {"teacher": "week", "student": "this-week"}.get(request.user.role, "children"),
    }
    return page(request, "lessons/handout.html", context)


@for_everyone_here
@require_GET
def pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """The kept PDF, byte for byte."""
    row = get_object_or_404(handouts_of(request.user).defer("content"), pk=pk)
    answer = pdf_answer(bytes(row.pdf), row.lesson.student.name, f"{localdate(row.lesson.starts_at)}-{row.revision}")
    answer["Cache-Control"] = "private, max-age=3600"
    return answer


def pdf_answer(pdf: bytes, name: str, detail: str) -> HttpResponse:
    """A PDF to look at in the browser, with a file name that every system takes."""
    answer = HttpResponse(pdf, content_type="application/pdf")
    plain = f"{slugify(name) or 'handout'}-{detail}.pdf"
    full = quote(f"{' '.join(name.split())} {detail}.pdf".replace("/", "-"))
    answer["Content-Disposition"] = f"inline; filename=\"{plain}\"; filename*=UTF-8''{full}"
    return answer
