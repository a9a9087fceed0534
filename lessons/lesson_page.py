"""What the page of one lesson shows, gathered into one dataclass."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import OuterRef, Prefetch, Q, QuerySet, Subquery

from lessons.attending import proposed_cancellation
from lessons.models import AssignedPassage, Assignment, Attendance, Handout, Lesson, Mark, Policy, PracticeEntry
from lessons.today_page import with_previous
from scores.models import Passage, Piece

MUSIC = ("original", "packed_music", "packed_score")
SHOWN_ENTRIES = 6  # of each passage, the newest
SHOWN_PASSAGES = 40  # in the list to choose from


@dataclass(frozen=True)
class Practised:
    """A passage given last time with what was written in the log since, the newest entries first, and what was said of
    it at this lesson."""

    assigned: AssignedPassage
    entries: Sequence[PracticeEntry]
    mark: Mark | None = None

    @property
    def minutes(self) -> int:
        return sum(entry.minutes for entry in self.entries)

    @property
    def days(self) -> int:
        return len({entry.day for entry in self.entries})

    @property
    def newest(self) -> Sequence[PracticeEntry]:
        return self.entries[:SHOWN_ENTRIES]

    @property
    def logged_tempo(self) -> int | None:
        """The newest tempo in the log."""
        return next((entry.tempo for entry in self.entries if entry.tempo), None)


@dataclass(frozen=True)
class PastPiece:
    assignment: Assignment
    passages: Sequence[Practised]


@dataclass(frozen=True)
class LessonPage:
    """`previous` is the student's last lesson with work, `before` what was given at it, `handouts` newest first,
    `together` the lessons of those who come with the student, `proposed` which kind of cancellation it would be now."""

    lesson: Lesson
    previous: Lesson | None
    before: Sequence[PastPiece]
    assignments: Sequence[Assignment]
    handouts: Sequence[Handout]
    together: Sequence[Lesson] = ()
    proposed: Attendance = Attendance.CANCELLED_LATE


def for_desk(lessons: QuerySet[Lesson]) -> QuerySet[Lesson]:
    """With what a lesson's desk asks of its row: the lesson before it with work, the student's next one
    (`following_id`, `following_at`; None where none is planned), the policy."""
    later = Lesson.objects.held().filter(student=OuterRef("student"), starts_at__gt=OuterRef("starts_at"))
    following = later.order_by("starts_at", "pk")
    return with_previous(lessons).annotate(
        following_id=Subquery(following.values("pk")[:1]), following_at=Subquery(following.values("starts_at")[:1])
    )


def gather_lesson(lesson: Lesson, *, policy: Policy, at: datetime) -> LessonPage:
    """Everything on the desk of a lesson from `for_desk`, in as many queries whatever the number of rows."""
    given = list(work_of(lesson))
    earlier = [one for one in given if one.lesson_id == lesson.previous_id]
    return LessonPage(
        lesson=lesson,
        previous=earlier[0].lesson if earlier else None,
        before=[past_piece(one) for one in earlier],
        assignments=[one for one in given if one.lesson_id == lesson.pk],
        handouts=list(lesson.handouts.defer("content", "pdf")),
        together=together_with(lesson),
        proposed=proposed_cancellation(lesson, policy, at=at),
    )


def together_with(lesson: Lesson) -> list[Lesson]:
    """The lessons of those who come to the same meeting of a pair or group."""
    if lesson.slot_id is None:
        return []
    others = Lesson.objects.filter(slot_id=lesson.slot_id, meant_for=lesson.meant_for, starts_at=lesson.starts_at)
    return list(others.exclude(pk=lesson.pk).select_related("student").order_by("student__name", "pk"))


def work_of(lesson: Lesson) -> QuerySet[Assignment]:
    """What was given at a lesson and at the one before it, with all that the page says of it."""
    passages = AssignedPassage.objects.select_related("passage__edition__piece").defer(
        *(f"passage__edition__{name}" for name in MUSIC)
    )
    return (
        Assignment.objects.filter(lesson__in=[pk for pk in (lesson.pk, lesson.previous_id) if pk])
        .select_related("piece", "lesson")
        .prefetch_related(
            Prefetch("passages", passages),
            Prefetch("passages__practice", PracticeEntry.objects.standing()),
            Prefetch("passages__marks", Mark.objects.filter(lesson=lesson)),
            "passages__offered",
        )
    )


def past_piece(assignment: Assignment) -> PastPiece:
    return PastPiece(assignment, [practised(assigned) for assigned in assignment.passages.all()])


def practised(assigned: AssignedPassage) -> Practised:
    return Practised(assigned, list(assigned.practice.all()), next(iter(assigned.marks.all()), None))


# What can be assigned


@dataclass(frozen=True)
class Shelf:
    """One piece with its passages that match what was looked for. `there`: already given at this lesson."""

    piece_id: int
    title: str
    composer: str
    is_there: bool
    passages: Sequence[tuple[Passage, bool]]


@dataclass(frozen=True)
class Shelves:
    asked: str
    pieces: Sequence[Shelf]
    is_cut: bool

    @property
    def is_bare(self) -> bool:
        """There is nothing in the repertoire yet."""
        return not self.pieces and not self.asked


def shelves(lesson: Lesson, asked: str) -> Shelves:
    """The studio's passages by piece, those whose words match `asked`; pieces without passages too."""
    passages = (
        Passage.objects.standing()
        .filter(studio_id=lesson.studio_id)
        .select_related("edition__piece")
        .defer(*(f"edition__{name}" for name in MUSIC))
        .order_by("edition__piece__title", "edition__piece__pk", "first_measure", "pk")
    )
    for word in asked.split()[:6]:
        passages = passages.filter(matching(word))
    found = list(passages[: SHOWN_PASSAGES + 1])
    given = set(lesson.assignments.values_list("piece_id", "passages__passage_id"))
    return Shelves(
        asked=asked,
        pieces=[*by_piece(found[:SHOWN_PASSAGES], given), *bare_pieces(lesson, asked, {piece for piece, _ in given})],
        is_cut=len(found) > SHOWN_PASSAGES,
    )


def matching(word: str) -> Q:
    here = (
        Q(edition__piece__title__icontains=word)
        | Q(edition__piece__composer__icontains=word)
        | Q(edition__piece__catalogue__icontains=word)
        | Q(edition__label__icontains=word)
        | Q(name__icontains=word)
    )
    return here | Q(first_number=word) if word.isdecimal() else here


def by_piece(passages: Iterable[Passage], given: set[tuple[int, int]]) -> list[Shelf]:
    found: dict[int, list[tuple[Passage, bool]]] = {}
    for passage in passages:
        piece = passage.edition.piece
        found.setdefault(piece.pk, []).append((passage, (piece.pk, passage.pk) in given))
    there = {piece for piece, _ in given}
    return [
        Shelf(pk, rows[0][0].edition.piece.title, rows[0][0].edition.piece.composer, pk in there, rows)
        for pk, rows in found.items()
    ]


def bare_pieces(lesson: Lesson, asked: str, there: set[int]) -> list[Shelf]:
    """Pieces on which no passage is marked: they can be given whole."""
    pieces = Piece.objects.filter(studio_id=lesson.studio_id).exclude(
        pk__in=Passage.objects.standing().filter(studio_id=lesson.studio_id).values("edition__piece_id")
    )
    for word in asked.split()[:6]:
        pieces = pieces.filter(Q(title__icontains=word) | Q(composer__icontains=word) | Q(catalogue__icontains=word))
    return [Shelf(one.pk, one.title, one.composer, one.pk in there, []) for one in pieces[:SHOWN_PASSAGES]]
