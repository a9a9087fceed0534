"""Giving work to a student: what changes assignments, as verbs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from django.core import signing
from django.db import transaction
from django.db.models import Max

from lessons.choosing import lock, offered_here, same_part
from lessons.models import AssignedPassage, Assignment, Lesson, Mark, OfferedFingering, PlacementChoice, PracticeEntry
from lessons.models.assignments import ChosenBy
from scores.inheriting import here_now
from scores.lines import can_be_given
from scores.models import Passage, Piece
from studio.models import Studio

Answer = Literal["chosen", "open", "no"]
SALT = "work taken back"
KEPT_HOURS = 24  # how long an undo holds
KEPT_FIELDS = ("position", "tempo_now", "tempo_goal", "remark", "show_others")


@dataclass(frozen=True)
class Choices:
    """What is decided for one assigned passage: an answer for each fingering (by its key), and for each ornament's note
    "before", "on" or "" for open."""

    fingerings: Mapping[int, Answer]
    placements: Mapping[str, str] = field(default_factory=dict)


@transaction.atomic
def assign_piece(*, lesson: Lesson, piece: Piece) -> Assignment:
    """Gives a piece at a lesson; the same one again is the same assignment."""
    highest = lesson.assignments.aggregate(highest=Max("position"))["highest"]
    assignment, _ = Assignment.objects.get_or_create(
        lesson=lesson,
        piece=piece,
        defaults={"studio_id": lesson.studio_id, "position": 0 if highest is None else highest + 1},
    )
    return assignment


@transaction.atomic
def assign_passage(*, lesson: Lesson, passage: Passage) -> AssignedPassage:
    """Gives a passage at a lesson. It begins with what this student had when she last worked on it; else each part
    with one playable fingering has it chosen, one with several is left open, and ornaments fall as the teacher prefers.
    """
    Lesson.objects.select_for_update().get(pk=lesson.pk)  # so that two clicks at once give one passage
    assignment = assign_piece(lesson=lesson, piece=passage.edition.piece)
    there = assignment.passages.filter(passage=passage).first()
    if there:
        return there
    before = (
        AssignedPassage.objects.filter(passage=passage, assignment__lesson__student_id=lesson.student_id)
        .order_by("-assignment__lesson__starts_at", "-pk")
        .first()
    )
    if before:
        return copy_assigned(before, assignment)
    assigned = new_assigned(assignment, passage)
    write_choices(assigned, usual_choices(passage))
    return assigned


def new_assigned(assignment: Assignment, passage: Passage, **fields: object) -> AssignedPassage:
    highest = assignment.passages.aggregate(highest=Max("position"))["highest"]
    return AssignedPassage.objects.create(
        studio_id=assignment.studio_id,
        assignment=assignment,
        passage=passage,
        position=0 if highest is None else highest + 1,
        **fields,
    )


def usual_choices(passage: Passage) -> Choices:
    """What a passage is given with when nothing is known of the student and it."""
    notes = here_now(passage)
    playable = [fingering for fingering in notes.fingerings if can_be_given(fingering)]
    alone = {one.pk for one in playable if sum(same_part(one, other) for other in playable) == 1}
    fingerings: dict[int, Answer] = {one.pk: "chosen" if one.pk in alone else "open" for one in playable}
    placed = {choice.note: choice.placement for choice in notes.choices if choice.placement}
    return Choices(fingerings, placed)


def write_choices(assigned: AssignedPassage, choices: Choices) -> None:
    """Writes the choices of a passage in place of what stood there."""
    assigned.offered.all().delete()
    OfferedFingering.objects.bulk_create(
        OfferedFingering(
            studio_id=assigned.studio_id,
            assigned=assigned,
            fingering_id=pk,
            chosen_by=ChosenBy.TEACHER if answer == "chosen" else ChosenBy.NOBODY,
        )
        for pk, answer in choices.fingerings.items()
        if answer != "no"
    )
    assigned.placements.all().delete()
    PlacementChoice.objects.bulk_create(
        PlacementChoice(
            studio_id=assigned.studio_id,
            assigned=assigned,
            note=note,
            placement=placement,
            chosen_by=ChosenBy.TEACHER if placement else ChosenBy.NOBODY,
        )
        for note, placement in choices.placements.items()
    )


@transaction.atomic
def keep_assigned(
    *,
    assigned: AssignedPassage,
    choices: Choices,
    tempo_now: int | None,
    tempo_goal: int | None,
    remark: str,
    show_others: bool,
) -> AssignedPassage:
    """Keeps what the teacher decided for one passage. What a student chose between open options stays hers, as long as
    it is still open."""
    lock(assigned)
    hers = set(assigned.offered.filter(chosen_by=ChosenBy.STUDENT).values_list("fingering_id", flat=True))
    placed = dict(assigned.placements.filter(chosen_by=ChosenBy.STUDENT).values_list("note", "placement"))
    write_choices(assigned, choices)
    part = offered_here(assigned)
    for row in part:
        if row.fingering_id in hers and not any(
            other.chosen_by and same_part(other.fingering, row.fingering) for other in part
        ):
            row.chosen_by = ChosenBy.STUDENT
            row.save(update_fields=["chosen_by"])
    for choice in assigned.placements.filter(note__in=placed, placement=""):
        choice.placement, choice.chosen_by = placed[choice.note], ChosenBy.STUDENT
        choice.save(update_fields=["placement", "chosen_by"])
    assigned.tempo_now, assigned.tempo_goal = tempo_now, tempo_goal
    assigned.remark, assigned.show_others = remark, show_others
    assigned.save(update_fields=["tempo_now", "tempo_goal", "remark", "show_others"])
    return assigned


def keep_assignment(*, assignment: Assignment, remark: str) -> None:
    assignment.remark = remark
    assignment.save(update_fields=["remark"])


# From lesson to lesson


@transaction.atomic
def carry_on(*, lesson: Lesson, previous: Lesson) -> int:
    """Gives the work of an earlier lesson again, with its choices and tempos; what is there already stays as it is, and
    what was marked done or set aside stays out. Says how many passages and whole pieces were added."""
    added = 0
    for old in previous.assignments.select_related("piece").prefetch_related("passages__passage"):
        is_new = not lesson.assignments.filter(piece_id=old.piece_id).exists()
        assignment = assign_piece(lesson=lesson, piece=old.piece)
        if is_new and old.remark:
            keep_assignment(assignment=assignment, remark=old.remark)
        there = set(assignment.passages.values_list("passage_id", flat=True))
        settled = Mark.objects.filter(lesson=lesson, assigned__assignment=old).exclude(kind=Mark.Kind.CARRY_ON)
        there.update(settled.values_list("assigned__passage_id", flat=True))
        rows = [row for row in old.passages.all() if row.passage_id not in there and not row.passage.removed_at]
        for row in rows:
            copy_assigned(row, assignment)
        if is_new and old.passages.all() and not assignment.passages.exists():
            assignment.delete()  # all of it is done or set aside
        added += len(rows) or (is_new and not old.passages.all())
    return added


def copy_assigned(row: AssignedPassage, assignment: Assignment) -> AssignedPassage:
    """The same passage at another lesson, choices included: the student's own stay hers."""
    copy = new_assigned(
        assignment,
        row.passage,
        tempo_now=row.tempo_now,
        tempo_goal=row.tempo_goal,
        remark=row.remark,
        show_others=row.show_others,
    )
    for offered in row.offered.select_related("fingering").filter(fingering__removed_at=None):
        OfferedFingering.objects.create(
            studio_id=row.studio_id, assigned=copy, fingering=offered.fingering, chosen_by=offered.chosen_by
        )
    for choice in row.placements.all():
        PlacementChoice.objects.create(
            studio_id=row.studio_id,
            assigned=copy,
            note=choice.note,
            placement=choice.placement,
            chosen_by=choice.chosen_by,
        )
    return copy


def previous_lesson(lesson: Lesson) -> Lesson | None:
    """The student's last lesson before this one at which something was given; none that was cancelled."""
    return (
        Lesson.objects.held()
        .filter(student_id=lesson.student_id, starts_at__lt=lesson.starts_at, assignments__isnull=False)
        .order_by("-starts_at", "-pk")
        .first()
    )


# Order


@transaction.atomic
def move_assigned(*, assigned: AssignedPassage, up: bool) -> None:
    """Changes place with the neighbour; at the end of its piece's passages, the piece with the neighbouring piece."""
    if swap(list(assigned.assignment.passages.all()), assigned, up=up):
        return
    swap(list(assigned.assignment.lesson.assignments.all()), assigned.assignment, up=up)


def swap(
    rows: Sequence[AssignedPassage] | Sequence[Assignment], row: AssignedPassage | Assignment, *, up: bool
) -> bool:
    keys = [other.pk for other in rows]
    place = keys.index(row.pk)
    other = place - 1 if up else place + 1
    if not 0 <= other < len(rows):
        return False
    order = list(rows)
    order[place], order[other] = order[other], order[place]
    for position, one in enumerate(order):
        one.position = position
        one.save(update_fields=["position"])
    return True


# Taking back


@transaction.atomic
def remove_assigned(*, assigned: AssignedPassage) -> str:
    """Takes a passage out of a lesson's work; its piece goes with it if that was its only passage. Practice entries
    stay in the log. Gives a token for `restore`."""
    assignment = assigned.assignment
    token = token_of(assignment, [assigned])
    assigned.delete()
    if not assignment.passages.exists():
        assignment.delete()
    return token


@transaction.atomic
def remove_assignment(*, assignment: Assignment) -> str:
    """Takes a piece out of a lesson's work with all its passages. Practice entries stay in the log. Gives a token."""
    token = token_of(assignment, list(assignment.passages.all()))
    assignment.delete()
    return token


def token_of(assignment: Assignment, passages: Sequence[AssignedPassage]) -> str:
    kept = {
        "lesson": assignment.lesson_id,
        "piece": assignment.piece_id,
        "remark": assignment.remark,
        "position": assignment.position,
        "passages": [kept_of(assigned) for assigned in passages],
    }
    return signing.dumps(kept, salt=SALT, compress=True)


def kept_of(assigned: AssignedPassage) -> dict[str, Any]:
    return {
        "passage": assigned.passage_id,
        "fields": {name: getattr(assigned, name) for name in KEPT_FIELDS},
        "offered": list(assigned.offered.values_list("fingering_id", "chosen_by")),
        "placements": list(assigned.placements.values_list("note", "placement", "chosen_by")),
        "practice": list(assigned.practice.values_list("pk", flat=True)),
        "marks": list(assigned.marks.values_list("lesson_id", "kind", "tempo")),
    }


@transaction.atomic
def restore(*, studio: Studio, token: str) -> Lesson:
    """Brings back what was taken out, as it was. Raises `signing.BadSignature` for a token that is not ours or too
    old, and `ObjectDoesNotExist` where the lesson or the piece is gone."""
    kept = signing.loads(token, salt=SALT, max_age=KEPT_HOURS * 3600)
    lesson = Lesson.objects.get(pk=kept["lesson"], studio=studio)
    piece = Piece.objects.get(pk=kept["piece"], studio=studio)
    assignment, _ = Assignment.objects.get_or_create(
        lesson=lesson,
        piece=piece,
        defaults={"studio": studio, "position": kept["position"], "remark": kept["remark"]},
    )
    for one in kept["passages"]:
        passage = Passage.objects.filter(pk=one["passage"], edition__piece=piece).first()
        if passage and not assignment.passages.filter(passage=passage).exists():
            restore_passage(assignment, passage, one)
    return lesson


def restore_passage(assignment: Assignment, passage: Passage, kept: Mapping[str, Any]) -> None:
    studio_id = assignment.studio_id
    assigned = AssignedPassage.objects.create(
        studio_id=studio_id, assignment=assignment, passage=passage, **kept["fields"]
    )
    notes = here_now(passage)
    there = {fingering.pk for fingering in (*notes.fingerings, *notes.gone)}
    OfferedFingering.objects.bulk_create(
        OfferedFingering(studio_id=studio_id, assigned=assigned, fingering_id=fingering, chosen_by=chosen_by)
        for fingering, chosen_by in kept["offered"]
        if fingering in there
    )
    PlacementChoice.objects.bulk_create(
        PlacementChoice(studio_id=studio_id, assigned=assigned, note=note, placement=placement, chosen_by=chosen_by)
        for note, placement, chosen_by in kept["placements"]
    )
    PracticeEntry.objects.filter(pk__in=kept["practice"], studio_id=studio_id, assigned=None).update(assigned=assigned)
    lessons = set(
        Lesson.objects.filter(studio_id=studio_id, pk__in=[mark[0] for mark in kept["marks"]]).values_list(
            "pk", flat=True
        )
    )
    Mark.objects.bulk_create(
        Mark(studio_id=studio_id, assigned=assigned, lesson_id=lesson, kind=kind, tempo=tempo)
        for lesson, kind, tempo in kept["marks"]
        if lesson in lessons
    )
