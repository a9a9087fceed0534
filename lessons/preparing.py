"""What a student has met before, for the preparation list of a piece that is new to her."""

from lessons.repertoire import played_by
from scores.models import Difficulty, Piece
from studio.models import Student


def difficulties_had(student: Student, *, without: Piece) -> frozenset[tuple[str, str]]:
    """Kinds of difficulty, with their detail, in the pieces that the student plays or has played, `without` this one.
    In one query."""
    pieces = played_by(Piece.objects.filter(studio_id=student.studio_id), student).exclude(pk=without.pk)
    rows = Difficulty.objects.filter(edition__piece__in=pieces).order_by()
    return frozenset(rows.values_list("kind", "detail").distinct())
