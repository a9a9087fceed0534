"""Receiving a sent score: from a form that holds to an edition, or to an error at its file field."""

from datetime import datetime

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from scores.forms import ScoreFileForm
from scores.models import Edition, Piece, Replacement, Upload
from scores.music.refusal import Refusal
from scores.reading_files import CannotRead, ReadEdition
from scores.repertoire import (
    begin_upload,
    edition_sent,
    fail_upload,
    find_recurrences,
    finish_upload,
    read_upload,
    tidy_name,
)
from scores.replacing import propose
from scores.workshop import WorkshopFailed
from studio.models import User


def receive(form: ScoreFileForm, *, user: User, piece: Piece, at: datetime | None = None) -> Edition | None:
    """Reads the file of a valid form and keeps it as an edition of the piece. What went wrong stands at the file field
    afterwards, and nothing is kept: None."""
    file, key = form.cleaned_data["file"], form.cleaned_data["sending"]
    name, data = tidy_name(file.name), file.read()
    there = edition_sent(user=user, key=key, data=data)
    if there:
        return there
    upload = begin_upload(user=user, key=key, at=at or timezone.now())
    read = read_or_tell(form, upload, name, data)
    if read is None:
        return None
    # Before the transaction begins, which would keep other writers waiting.
    groups = find_recurrences(upload=upload, read=read)
    label = form.cleaned_data["label"]
    return finish_upload(upload=upload, piece=piece, label=label, read=read, name=name, data=data, groups=groups)


def receive_replacement(
    form: ScoreFileForm, *, user: User, edition: Edition, at: datetime | None = None
) -> Replacement | None:
    """Reads the file of a valid form as another file for an edition; what went wrong stands at the file field."""
    file, key = form.cleaned_data["file"], form.cleaned_data["sending"]
    name, data = tidy_name(file.name), file.read()
    upload = begin_upload(user=user, key=key, at=at or timezone.now())
    read = read_or_tell(form, upload, name, data)
    if read is None:
        return None
    try:
        return propose(edition=edition, read=read, name=name, original=data)
    except Refusal as refused:
        said = _(refused.msgid) % refused.params
        form.add_error("file", said)
        fail_upload(upload, error=said)
        return None


def read_or_tell(form: ScoreFileForm, upload: Upload, name: str, data: bytes) -> ReadEdition | None:
    """What was read; or None, with the error at the form's file field and in the upload's row."""
    try:
        return read_upload(upload=upload, name=name, data=data)
    except (CannotRead, WorkshopFailed) as problem:
        form.add_error("file", problem_words(problem))
        fail_upload(upload, error=problem_words(problem))
        return None


def problem_words(problem: CannotRead | WorkshopFailed) -> str:
    """What is wrong with a score, and what to do, in the reader's language."""
    if isinstance(problem, CannotRead):
        return _(problem.message) % problem.params
    if problem.reason == "time":
        return _(
            "Reading this took longer than %(seconds)s seconds and was stopped; nothing was kept. Is it a whole "
            "volume? Send one piece or one movement."
        ) % {"seconds": settings.SCORE_LIMITS["seconds"]}
    if problem.reason == "memory":
        return _(
            "Reading this needed more memory than is allowed and was stopped; nothing was kept. Is it a whole "
            "volume? Send one piece or one movement."
        )
    return _(
        "The reader could not cope with this and gave up; nothing was kept. Open the score in a notation program, "
        "export it as MusicXML and send that."
    )


def answer_upload(request: HttpRequest, edition: Edition) -> HttpResponse:
    """To the edition: as a redirect, or told to the script that sent the file."""
    goal = redirect("edition", pk=edition.pk)
    if request.headers.get("X-Requested-With") == "XMLHttpRequest":
        return JsonResponse({"url": goal["Location"]}, status=201)
    return goal


def state_of(upload: Upload) -> dict[str, object]:
    """How far the reading is, for the page that sent the file."""
    return {"step": _(upload.step) if upload.step else "", "percent": upload.percent, "error": upload.error}
