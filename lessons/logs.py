"""The practice log as the rules of progress know it: rows become entries here and nowhere else.

Also the passages that a student has, each with where it stands by the newest lesson that gave it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q
from django.utils.formats import date_format
from django.utils.timezone import localdate, make_aware
from django.utils.translation import gettext as _

from lessons.access import assigned_of, entries_of
from lessons.climbing import Advice, advise
from lessons.models import AssignedPassage
from lessons.progress import Entry, Rules, Sentence
from scores.models import Passage
from scores.music.refusal import Refusal
from studio.models import Student, User

PERIODS = (12, 26)  # weeks that a page may show; it begins with the first
RULES = Rules()
FIELDS = ("day", "minutes", "tempo", "clean_runs", "tries")


@dataclass(frozen=True)
class Period:
    """Days that are shown, both included. `first` is a Monday where the period is one of `PERIODS`."""

    first: date
    last: date

    @property
    def weeks(self) -> list[date]:
        """The Mondays of its weeks."""
        monday = monday_of(self.first)
        return [monday + timedelta(days=7 * n) for n in range((self.last - monday).days // 7 + 1)]

    @property
    def end(self) -> datetime:
        """The moment at which it is over, where the page is read."""
        return midnight(self.last + timedelta(days=1))

    @property
    def ticks(self) -> list[tuple[date, str]]:
        return [(monday, short_day(monday)) for monday in self.weeks]


def period_of(weeks: int, today: date) -> Period:
    """So many weeks, this one included."""
    return Period(monday_of(today) - timedelta(days=7 * (weeks - 1)), today)


def midnight(day: date) -> datetime:
    """The beginning of a day, where the page is read: moments are compared, so that an index can be used."""
    return make_aware(datetime.combine(day, time()))


def monday_of(day: date) -> date:
    return day - timedelta(days=day.weekday())


def short_day(day: date) -> str:
    return date_format(day, "j M")


def said(sentence: Sentence) -> str:
    """A sentence of the rules in the reader's language."""
    return _(sentence.msgid) % sentence.params


# Rows


@dataclass(frozen=True)
class Work:
    """A passage as one student has it: where it stands by the newest lesson that gave it, and its entries.

    `since` is the first lesson of the unbroken run that gave it with the same tempos: from then on the log counts,
    since a new word of the teacher's overrules it. `lessons` are all days on which it was
    given, the newest first, and `given` the tempo that was written on each, the oldest first.
    """

    passage: Passage
    piece: str
    now: int | None
    goal: int | None
    since: date
    lessons: tuple[date, ...]
    given: tuple[tuple[date, int | None], ...]
    entries: tuple[Entry, ...]

    @property
    def name(self) -> str:
        return f"{self.piece}, {self.passage}"

    def advice(self, today: date) -> Advice | None:
        """What the rules suggest; None where the teacher gave no tempos."""
        if self.now is None or self.goal is None:
            return None
        return advise(self.entries, now=self.now, goal=self.goal, today=today, since=self.since, rules=RULES)


@dataclass(frozen=True)
class Log:
    """A student's entries of a period, and the passages that they or its lessons are about, the newest first."""

    student: Student
    period: Period
    entries: tuple[Entry, ...]
    works: tuple[Work, ...]


def entry_of(day: date, minutes: int, tempo: int | None, clean: int | None, tries: int | None) -> Entry | None:
    """A row of the log as the rules know it; None for one that its own form would refuse."""
    try:
        return Entry(day, minutes, tempo, clean, tries)
    except Refusal:
        return None


def log_of(user: User, student: Student, period: Period, *, passage: int | None = None) -> Log:
    """What this user may see of a student's log, of one passage where it is named; in three queries."""
    rows = entries_of(user).filter(student=student, day__range=(period.first, period.last)).standing()
    if passage is not None:
        rows = rows.filter(assigned__passage=passage)
    found = list(rows.order_by("day", "pk").values_list("assigned__passage", "assigned", *FIELDS))
    known = AssignedPassage.objects.filter(
        assignment__lesson__student=student,
        assignment__lesson__cancelled_at=None,
        assignment__lesson__starts_at__lt=period.end,
    )
    if passage is not None:
        known = known.filter(passage=passage)
    else:
        logged = {row[1] for row in found if row[1]}
        known = known.filter(Q(assignment__lesson__starts_at__gte=midnight(period.first)) | Q(pk__in=logged))
    # First which rows, by the student's own lessons, then which of them this user may see: asked in one, a database may
    # walk through all that the studio ever gave.
    given = assigned_of(user).filter(pk__in=list(known.order_by().values_list("pk", flat=True)))
    given = given.select_related(None).select_related("assignment__lesson", "assignment__piece", "passage")
    return Log(student, period, entries_in(row[2:] for row in found), works_of(given, found))


def entries_in(rows: Iterable[tuple]) -> tuple[Entry, ...]:
    return tuple(entry for row in rows if (entry := entry_of(*row)))


def works_of(given: Iterable[AssignedPassage], found: Sequence[tuple]) -> tuple[Work, ...]:
    """The passages of what was given, with the entries among `found` (passage, assigned, then what an entry has)."""
    ordered = sorted(given, key=lambda row: (row.assignment.lesson.starts_at, -row.position), reverse=True)
    by_passage: dict[int, list[AssignedPassage]] = {}
    for row in ordered:
        by_passage.setdefault(row.passage_id, []).append(row)
    rows: dict[int, list[tuple]] = {}
    for passage, _assigned, *fields in found:
        rows.setdefault(passage, []).append(tuple(fields))
    return tuple(work_of(every, entries_in(rows.get(passage, ()))) for passage, every in by_passage.items())


def work_of(rows: Sequence[AssignedPassage], entries: tuple[Entry, ...]) -> Work:
    """`rows` are those of one passage, the newest first."""
    newest = rows[0]
    days = tuple(localdate(row.assignment.lesson.starts_at) for row in rows)
    since = days[0]
    for row, day in zip(rows, days, strict=True):
        if (row.tempo_now, row.tempo_goal) != (newest.tempo_now, newest.tempo_goal):
            break
        since = day
    return Work(
        passage=newest.passage,
        piece=newest.assignment.piece.title,
        now=newest.tempo_now,
        goal=newest.tempo_goal,
        since=since,
        lessons=tuple(dict.fromkeys(days)),
        given=tuple((day, row.tempo_now) for row, day in reversed(list(zip(rows, days, strict=True)))),
        entries=entries,
    )
