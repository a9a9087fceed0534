"""What a new measurement of a student's hand changes in the work she has: computed from the last two measurements."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Prefetch, Subquery

from lessons.models import AssignedPassage
from scores.judging import can_be_judged
from scores.lines import shown_lines
from scores.models import Fingering
from scores.whose_hand import Change, changes_in
from studio.models import Student


@dataclass(frozen=True)
class ChangedWork:
    """An assigned passage whose least costly line became another one. `plays` is the numeral of the line chosen for
    that part, "" while it is left open."""

    assigned: AssignedPassage
    change: Change
    plays: str


def changed_work(student: Student, *, at: datetime) -> list[ChangedWork]:
    """In the work of the newest lesson. What the student plays the new line of already is not told."""
    newest = student.lessons.held().filter(assignments__isnull=False).past(at=at).values("pk")[:1]
    given = (
        AssignedPassage.objects.filter(assignment__lesson=Subquery(newest))
        .select_related("passage__edition__piece")
        .defer("passage__edition__original", "passage__edition__packed_music")
        .prefetch_related(
            "offered",
            Prefetch("passage__fingerings", queryset=Fingering.objects.standing(), to_attr="lines_standing"),
        )
    )
    return [changed for assigned in given for changed in changed_in(assigned, student)]


def changed_in(assigned: AssignedPassage, student: Student) -> Iterator[ChangedWork]:
    passage = assigned.passage
    sides = [hand.side for hand in student.hands.all()]
    if len(set(sides)) == len(sides):
        return  # Nothing was measured twice.
    for fingering in passage.lines_standing:
        fingering.passage = passage
    lines = shown_lines(passage, passage.lines_standing)
    chosen = {str(one.fingering_id) for one in assigned.offered.all() if one.chosen_by}
    for change in changes_in(passage, [line for line in lines if can_be_judged(line)], [student]):
        part = [line for line in lines if line.side == change.side and line.where == change.now.where]
        plays = next((line for line in part if line.key in chosen), None)
        if plays is None or plays.key != change.now.key:
            yield ChangedWork(assigned, change, plays.numeral if plays else "")
