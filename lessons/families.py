"""What a student and her guardians see of a week: the work given at her last lesson, engraved for their screen, and
what of it is hers to choose."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery
from django.utils.translation import gettext as _

from lessons.choosing import same_part
from lessons.handouts.choices import numbered
from lessons.handouts.content import Task, Work
from lessons.handouts.gathering import assignments_of, tasks_of, work_of
from lessons.models import AssignedPassage, Assignment, Handout, Lesson
from lessons.models.assignments import ChosenBy
from lessons.ornaments import GivenOrnaments, given_ornaments
from scores.lines import ShownLine
from scores.models import Placement
from studio.models import Student
from studio.sheets.paper import Layout

STAFF = 30  # pixels: about 8 mm, which reads at the piano
MOST_NOTES = 6


@dataclass(frozen=True)
class Option:
    """One way to play: `value` is what choosing it sends, `label` its name, `detail` says it in full."""

    value: str
    label: str
    detail: str
    remark: str
    is_chosen: bool


@dataclass(frozen=True)
class Question:
    """Something left open. `field` and `note` are what choosing sends beside the option's value."""

    field: str
    note: str
    text: str
    options: tuple[Option, ...]


@dataclass(frozen=True)
class Given:
    """An assigned passage with its work as on the handout, and the questions that are the student's to answer."""

    assigned: AssignedPassage
    work: Work
    questions: tuple[Question, ...]


@dataclass(frozen=True)
class Week:
    """`lesson` is where the work was given (None: nothing yet), `coming_at` when the next one begins, `handout` the key
    of the newest sheet."""

    lesson: Lesson | None
    coming_at: datetime | None
    handout: int | None
    tasks: tuple[Task, ...]
    given: tuple[Given, ...]


def newest_work(lessons: QuerySet[Lesson], *, at: datetime) -> Lesson | None:
    """The last lesson that gave work, with `coming_at` and `handout`; None before there is one.

    A lesson that has not begun, or was cancelled, shows nothing, unless its handout was given: the teacher may still be
    planning it.
    """
    coming = Lesson.objects.held().filter(student=OuterRef("student"), starts_at__gte=at).order_by("starts_at")
    sheets = Handout.objects.filter(lesson=OuterRef("pk")).order_by("-revision")
    return (
        lessons.filter(Exists(Assignment.objects.filter(lesson=OuterRef("pk"))))
        .filter(Q(starts_at__lt=at, cancelled_at=None) | Exists(sheets))
        .annotate(coming_at=Subquery(coming.values("starts_at")[:1]), handout=Subquery(sheets.values("pk")[:1]))
        .order_by("-starts_at", "-pk")
        .first()
    )


def week_page(lesson: Lesson, *, width: int) -> Week:
    """The work of a lesson from `newest_work`, engraved for a column of `width` CSS pixels."""
    assignments = assignments_of(lesson)
    every = (assigned for assignment in assignments for assigned in assignment.passages.all())
    layout = Layout(size=(width, 0), text=16, small=14, title=20, staff=STAFF, side=0)
    return Week(
        lesson=lesson,
        coming_at=lesson.coming_at,
        handout=lesson.handout,
        tasks=tuple(tasks_of(assignments)),
        given=tuple(
            Given(assigned, work_of(assigned, number, layout, ornaments), tuple(questions_of(assigned, ornaments)))
            for number, assigned in enumerate(every, start=1)
            for ornaments in [given_ornaments(assigned, choosing=True)]
        ),
    )


def bare_week(student: Student, *, at: datetime) -> Week:
    """The week of a student who was given nothing yet."""
    coming = student.lessons.held().upcoming(at=at).first()
    return Week(None, coming.starts_at if coming else None, None, (), ())


def questions_of(assigned: AssignedPassage, ornaments: GivenOrnaments) -> Iterator[Question]:
    yield from fingering_questions(assigned)
    yield from placement_questions(ornaments)


def fingering_questions(assigned: AssignedPassage) -> Iterator[Question]:
    """One for each part of which the teacher offered several fingerings and chose none."""
    lines = {line.fingering.pk: line for line in numbered(assigned.passage, assigned) if line.fingering}
    waiting = [row for row in assigned.offered.all() if row.fingering_id in lines]
    while waiting:
        part = [row for row in waiting if same_part(row.fingering, waiting[0].fingering)]
        waiting = [row for row in waiting if row not in part]
        if len(part) < 2 or any(row.chosen_by == ChosenBy.TEACHER for row in part):
            continue
        first = lines[part[0].fingering_id]
        yield Question(
            field="fingering",
            note="",
            text=question_words(first),
            options=tuple(fingering_option(lines[row.fingering_id], is_chosen=bool(row.chosen_by)) for row in part),
        )


def question_words(line: ShownLine) -> str:
    hand = line.fingering.get_side_display() if line.fingering else ""
    where = f", {line.where}" if line.where else ""
    return _("Which fingering feels better? (%(place)s)") % {"place": f"{hand}{where}"}


def fingering_option(line: ShownLine, *, is_chosen: bool) -> Option:
    fingering = line.fingering
    return Option(
        value=str(fingering.pk) if fingering else "",
        label=line.numeral,
        detail=line.text,
        remark=fingering.remark.strip() if fingering else "",
        is_chosen=is_chosen,
    )


def placement_questions(ornaments: GivenOrnaments) -> Iterator[Question]:
    """One for each ornament whose placement the teacher left open."""
    for one in ornaments.ornaments:
        if one.is_hers:
            written = dict(one.written)
            yield Question(
                field="placement",
                note=one.place.note,
                text=_("%(what)s in measure %(measure)s: which feels better?")
                % {"what": str(one.place.what), "measure": one.place.number},
                options=tuple(
                    Option(value, str(label), brief(written.get(value, "")), "", one.placement == value)
                    for value, label in Placement.choices
                ),
            )


def brief(words: str) -> str:
    """The notes of an ornament in words, as long as they can be taken in at a glance; the music shows the others."""
    return words if words.count(",") < MOST_NOTES else ""
