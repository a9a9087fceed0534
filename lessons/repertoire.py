"""What students play and have played: gathered from what was given and what the teacher says of it, and changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.core import signing
from django.db.models import Count, Max, Min, Q, QuerySet
from django.utils.translation import ngettext

from lessons.models import Assignment, PlayedPiece, Status
from scores.models import Piece
from scores.searching import catch_up
from scores.surveying import survey_waiting
from studio.models import Student, Studio

RECENT = timedelta(days=42)  # Six weeks after it was last given a piece rests, unless the teacher says otherwise.
RESTING = "resting"
SAID = ("status", "begun_on", "learned_on", "performed_on", "remark")
SALT = "what was said of a piece"
KEPT_HOURS = 24  # how long an undo holds
A_RUN = 200  # editions looked through in one run of the clock


@dataclass(frozen=True)
class Entry:
    """One piece of a student: how often it was given, the first and the last day, and where it stands. `status` is a
    `Status`, or `RESTING` where nobody said and it was not given lately; `row` is what the teacher said."""

    piece: Piece
    status: str
    begun_on: date | None
    given: int
    last_given: date | None
    row: PlayedPiece | None

    @property
    def words(self) -> str:
        return Status(self.status).label if self.status != RESTING else ""


def entries_of(student: Student, *, at: datetime) -> list[Entry]:
    """The student's repertoire, what was given last first; in two queries."""
    zone = ZoneInfo(student.studio.timezone)
    given = {
        row["piece"]: row
        for row in Assignment.objects.filter(lesson__student=student, lesson__starts_at__lte=at)
        .values("piece")
        .annotate(times=Count("lesson"), first=Min("lesson__starts_at"), last=Max("lesson__starts_at"))
        .order_by()
    }
    said = {row.piece_id: row for row in student.played.all()}
    pieces = Piece.objects.filter(studio_id=student.studio_id, pk__in=given.keys() | said.keys())
    entries = [entry_of(piece, given.get(piece.pk), said.get(piece.pk), at, zone) for piece in pieces]
    return sorted(entries, key=lambda one: (one.last_given or one.begun_on or date.min, one.piece.title), reverse=True)


def entry_of(
    piece: Piece, given: Mapping[str, Any] | None, row: PlayedPiece | None, at: datetime, zone: ZoneInfo
) -> Entry:
    lately = given is not None and given["last"] >= at - RECENT
    return Entry(
        piece=piece,
        status=row.status if row else Status.WORK if lately else RESTING,
        begun_on=(row and row.begun_on) or (given["first"].astimezone(zone).date() if given else None),
        given=given["times"] if given else 0,
        last_given=given["last"].astimezone(zone).date() if given else None,
        row=row,
    )


def make_findable(studio: Studio, at: datetime) -> str:
    """The clock's job: what changed in the repertoire is found by the next search without waiting."""
    count = catch_up(studio.pk)
    if not count:
        return ""
    return ngettext("%(count)s piece made findable", "%(count)s pieces made findable", count) % {"count": count}


def make_filterable(studio: Studio, at: datetime) -> str:
    """The clock's job: editions that came in before what is looked for in them, or that were too long to look through
    while someone waited, are found by their difficulties."""
    count = survey_waiting(studio, most=A_RUN)
    if not count:
        return ""
    return ngettext("%(count)s edition looked through", "%(count)s editions looked through", count) % {"count": count}


def played_by(pieces: QuerySet[Piece], student: Student) -> QuerySet[Piece]:
    """Of these pieces the ones that the student plays or has played."""
    given = Assignment.objects.filter(lesson__student=student).values("piece")
    said = student.played.exclude(status=Status.WISHED).values("piece")
    return pieces.filter(Q(pk__in=given) | Q(pk__in=said))


def say_status(*, student: Student, piece: Piece, fields: Mapping[str, Any]) -> PlayedPiece:
    """Keeps what the teacher says of a piece and a student: a status, days, a remark."""
    row, _ = PlayedPiece.objects.update_or_create(
        student=student, piece=piece, defaults={**fields, "studio_id": student.studio_id}
    )
    return row


def unsay_status(row: PlayedPiece) -> str:
    """Takes back what was said, so that the assignments speak again; gives a token with which `say_again` undoes it."""
    kept = {name: getattr(row, name) for name in SAID} | {"student": row.student_id, "piece": row.piece_id}
    row.delete()
    return signing.dumps(
        {name: str(value) if isinstance(value, date) else value for name, value in kept.items()}, salt=SALT
    )


def say_again(*, studio: Studio, token: str) -> PlayedPiece:
    """Raises `signing.BadSignature` for a token that is not ours or too old, `Student.DoesNotExist` and
    `Piece.DoesNotExist`."""
    kept = signing.loads(token, salt=SALT, max_age=KEPT_HOURS * 3600)
    return say_status(
        student=Student.objects.get(pk=kept.pop("student"), studio=studio),
        piece=Piece.objects.get(pk=kept.pop("piece"), studio=studio),
        fields={
            name: date.fromisoformat(kept[name]) if name.endswith("_on") and kept[name] else kept[name] for name in SAID
        },
    )
