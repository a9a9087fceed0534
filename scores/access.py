"""Who may see and change which music: the one place that answers it. Scores and their notes are the teacher's;
what a student sees of them comes through her assignments (`lessons.access`)."""

from typing import TypeVar

from django.db.models import Model, QuerySet
from django.shortcuts import get_object_or_404

from scores.models import Cue, Edition, Fingering, Passage, Piece, Replacement, RhythmDrill, Upload
from studio.models import User

Row = TypeVar("Row", bound=Model)


def teachers_own(user: User, rows: QuerySet[Row]) -> QuerySet[Row]:
    """The rows of the teacher's studio; none for anyone else."""
    return rows.filter(studio_id=user.studio_id) if user.is_teacher else rows.none()


def pieces_of(user: User) -> QuerySet[Piece]:
    return teachers_own(user, Piece.objects.all())


def editions_of(user: User) -> QuerySet[Edition]:
    return teachers_own(user, Edition.objects.select_related("piece"))


def replacements_of(user: User) -> QuerySet[Replacement]:
    return teachers_own(user, Replacement.objects.select_related("edition__piece"))


def uploads_of(user: User) -> QuerySet[Upload]:
    return teachers_own(user, Upload.objects.all())


def passages_of(user: User) -> QuerySet[Passage]:
    """Those taken away included: they can be brought back."""
    return teachers_own(user, Passage.objects.select_related("edition__piece"))


def fingerings_of(user: User) -> QuerySet[Fingering]:
    return teachers_own(user, Fingering.objects.select_related("passage__edition__piece"))


def cues_of(user: User) -> QuerySet[Cue]:
    return teachers_own(user, Cue.objects.select_related("passage__edition__piece"))


def drills_of(user: User) -> QuerySet[RhythmDrill]:
    return teachers_own(user, RhythmDrill.objects.select_related("passage__edition__piece"))


def piece_for(user: User, pk: int) -> Piece:
    return get_object_or_404(pieces_of(user), pk=pk)


def edition_for(user: User, pk: int) -> Edition:
    return get_object_or_404(editions_of(user), pk=pk)


def passage_for(user: User, pk: int) -> Passage:
    return get_object_or_404(passages_of(user), pk=pk)
