"""What changes the repertoire, as verbs."""

import re
import uuid
import zlib
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import PurePath
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import RestrictedError

from scores.models import Edition, Piece, SearchLine, Unsearched, Upload
from scores.music.recurrences import Group
from scores.music.tonality import key_of
from scores.reading_files import Limits, ReadEdition
from scores.reading_files.stored import to_json
from scores.recurring import found_in, keep_recurrences
from scores.searching import piece_changed
from scores.surveying import survey_new
from scores.workshop import run
from studio.models import User

STALE = timedelta(days=1)
READ = "scores.reading_files.reading:read"
READ_BY = 80  # percent of the whole at which the file is read; what follows is looking for what returns
UNPRINTABLE = re.compile(r"[\x00-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]+")


class StillUsed(Exception):
    """Work hangs on what was to be taken away."""


def keep_edition(
    *,
    piece: Piece,
    label: str,
    read: ReadEdition,
    file_name: str = "",
    original: bytes = b"",
    typed: str = "",
    groups: Sequence[Group] | None = None,
) -> Edition:
    """Keeps what was read as an edition of the piece: one row, so that it is there whole or not at all. What a survey
    of it finds and what returns in it (`groups`, else it is looked for now) are kept beside it."""
    edition = Edition.objects.create(
        studio_id=piece.studio_id,
        piece=piece,
        label=label,
        file_name=file_name[:255],
        format=read.format,
        typed=typed,
        original=original,
        packed_music=zlib.compress(read.music),
        packed_score=zlib.compress(to_json(read.score).encode()),
        measures=len(read.score.measures),
        notes=len(read.score.notes),
        notices=[[message, params] for message, params in read.notices],
    )
    survey_new(edition=edition, score=read.score)
    keep_recurrences(edition=edition, groups=found_in(read.score) if groups is None else groups)
    return edition


@transaction.atomic
def keep_piece(piece: Piece) -> Piece:
    """Keeps a new piece, or what was changed of one."""
    piece.save()
    piece_changed(piece)
    return piece


def remove_edition(edition: Edition) -> None:
    """Takes an edition away for good, its file with it. Raises `StillUsed` while passages are marked in it or a
    student has one of them."""
    if edition.passages.standing().exists():
        raise StillUsed
    try:
        edition.delete()
    except RestrictedError as error:
        raise StillUsed from error


def remove_piece(piece: Piece) -> None:
    """Takes a piece away for good. Raises `StillUsed` while anything hangs on it: an edition, a student's work."""
    for relation in Piece._meta.related_objects:
        made_from_it = relation.related_model in (SearchLine, Unsearched)
        if not made_from_it and relation.related_model.objects.filter(**{relation.field.name: piece}).exists():
            raise StillUsed
    piece.delete()


def tidy_name(name: str) -> str:
    """The name of a sent file as it may be kept and shown: no folders, no signs that cannot be seen, not endless."""
    plain = UNPRINTABLE.sub("", name.replace("\\", "/").rsplit("/", 1)[-1]).strip(" .")
    path = PurePath(plain or "score")
    suffix = path.suffix[:20]
    return path.name[: len(path.name) - len(path.suffix)][: 200 - len(suffix)] + suffix


def begin_upload(*, user: User, key: uuid.UUID, at: datetime) -> Upload:
    """The row that tells how far the reading is: the same for a key whose reading came to nothing, from its beginning.
    A key that is another's, or gave an edition, is not this one's: a new one is made. What was left behind by sendings
    long over is cleared away."""
    Upload.objects.filter(created_at__lt=at - STALE).delete()
    mine = {"studio_id": user.studio_id, "user": user}
    upload, is_new = Upload.objects.get_or_create(key=key, defaults=mine)
    if is_new:
        return upload
    if upload.user_id != user.pk or upload.edition_id:
        return Upload.objects.create(key=uuid.uuid4(), **mine)
    upload.step, upload.percent, upload.error = "", 0, ""
    upload.save(update_fields=["step", "percent", "error"])
    return upload


def edition_sent(*, user: User, key: uuid.UUID, data: bytes) -> Edition | None:
    """What this very sending gave already: the same page with the same file, sent once more."""
    upload = Upload.objects.filter(key=key, user=user).first()
    return edition_from(upload, data) if upload else None


def edition_from(upload: Upload, data: bytes) -> Edition | None:
    edition = upload.edition
    return edition if edition and bytes(edition.original) == data else None


def read_upload(*, upload: Upload, name: str, data: bytes) -> ReadEdition:
    """Reads the file in the workshop, telling the upload's row how far it is.

    Raises `CannotRead` and `WorkshopFailed`, with the cause kept in the row too.
    """
    return read_apart(READ, name, data, on_report=reporter(upload, last=READ_BY))


def read_apart(function: str, *args: Any, **options: Any) -> ReadEdition:
    """Reads in the workshop, within the limits of the settings, which the function is given too."""
    given = settings.SCORE_LIMITS
    limits = Limits(bytes=given["bytes"], measures=given["measures"])
    return run(function, *args, limits=limits, seconds=given["seconds"], megabytes=given["megabytes"], **options)


def find_recurrences(*, upload: Upload, read: ReadEdition) -> tuple[Group, ...]:
    """What returns in the music that was read, telling the upload's row how far it is: a long work takes seconds."""
    return found_in(read.score, reporter(upload, first=READ_BY))


def reporter(upload: Upload, *, first: int = 0, last: int = 100) -> Callable[[str, int], None]:
    """Tells the upload's row how far a part of the work is that begins and ends at these percents of the whole."""

    def report(step: str, part: int) -> None:
        percent = first + (last - first) * part // 100
        if step != upload.step or percent >= upload.percent + 5:
            upload.step, upload.percent = step[:60], max(0, min(100, percent))
            Upload.objects.filter(pk=upload.pk).update(step=upload.step, percent=upload.percent)

    return report


def fail_upload(upload: Upload, *, error: str) -> None:
    Upload.objects.filter(pk=upload.pk).update(error=error)


@transaction.atomic
def finish_upload(
    *,
    upload: Upload,
    piece: Piece,
    label: str,
    read: ReadEdition,
    name: str,
    data: bytes,
    groups: Sequence[Group] | None = None,
) -> Edition:
    """Keeps what was read; a piece that is not in the repertoire yet comes in with its first edition, and takes from
    the file the title and composer that were left empty. A sending that overtook itself gives its one edition."""
    there = edition_from(Upload.objects.select_for_update().get(pk=upload.pk), data)
    if there:
        return there
    stem = PurePath(name).stem
    if piece.pk is None:
        piece.title = piece.title or shown(read.score.title, 200) or stem[:200]
        piece.composer = piece.composer or shown(read.score.composer, 120)
        piece.key = piece.key or key_of(read.score)
        keep_piece(piece)
    edition = keep_edition(
        piece=piece, label=label or stem[:120], read=read, file_name=name, original=data, groups=groups
    )
    Upload.objects.filter(pk=upload.pk).update(edition=edition, percent=100, error="")
    return edition


def shown(text: str, length: int) -> str:
    """Words out of a file, on one line and not too long."""
    return UNPRINTABLE.sub(" ", " ".join(text.split()))[:length].strip()
