"""All students in one page: who practised, who is stuck, what to look at first.

However long the logs are, only the last weeks of them are read, by the index of student and day; of what lies before,
only each student's last day. So the page needs the same few queries and about the same time in the tenth year.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import OuterRef, Subquery
from django.utils.functional import cached_property
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from lessons import pictures, progress
from lessons.logs import FIELDS, RULES, Period, Work, entries_in, midnight, period_of, said, works_of
from lessons.models import AssignedPassage, PracticeEntry
from lessons.progress import Entry, Suggestion, on_spacing
from studio.models import Student

WEEKS = 6  # that are read: as far as the rules' trend looks back
WORK_DAYS = 21  # what was given longer ago and not again is not asked after
MOST_SAID = 3  # of one student

# What to look at first: kinds of suggestions in their order. What is not named needs nobody's eye.
FIRST = {"rest": 0, "plateau": 1, "down": 2, "again": 3, "away": 3, "long": 4, "spread": 5, "reached": 6}
ORDER = (
    gettext_lazy("where something hurt"),
    gettext_lazy("where a passage has not moved for a while"),
    gettext_lazy("where a tempo went back"),
    gettext_lazy("where nothing was written down for two weeks"),
    gettext_lazy("where practice was very long on one day, or all on one day"),
    gettext_lazy("where a tempo is reached and something new can begin"),
)


@dataclass(frozen=True)
class Look:
    """One thing to look at: its rank, which passage it is about ("" for all), and why."""

    rank: int
    passage: str
    address: int | None
    why: str


@dataclass(frozen=True)
class Line:
    """One student. `days` and `minutes` are of the last seven days, `weekly` the days of each week."""

    student: Student
    days: int
    minutes: int
    weekly: tuple[int, ...]
    last_day: date | None
    works: int
    looks: tuple[Look, ...]

    @property
    def rank(self) -> int:
        return self.looks[0].rank if self.looks else len(FIRST)

    @property
    def more(self) -> int:
        return max(0, len(self.looks) - MOST_SAID)

    @property
    def first_looks(self) -> tuple[Look, ...]:
        return self.looks[:MOST_SAID]

    @cached_property
    def strip(self) -> SafeString:
        title = _("Days with practice in each of the last %(weeks)d weeks: %(days)s") % {
            "weeks": len(self.weekly),
            "days": ", ".join(map(str, self.weekly)),
        }
        return mark_safe(pictures.strip(self.weekly, title=title).svg)


def overview_of(students: Sequence[Student], *, today: date) -> list[Line]:
    """A line for each student, those to look at first above; in three queries, however many there are. Whoever asks may
    see all that is these students'."""
    period = period_of(WEEKS, today)
    rows = rows_of(students, period)
    works = works_by_student(students, period, rows)
    last = last_days(students, today)
    lines = [
        line_of(student, rows.get(student.pk, []), works.get(student.pk, ()), last.get(student.pk), period)
        for student in students
    ]
    return sorted(lines, key=lambda line: (line.rank, line.student.name, line.student.pk))


def rows_of(students: Iterable[Student], period: Period) -> dict[int, list[tuple]]:
    """The log's rows of the period by student: (passage, assigned, then what an entry has)."""
    found: dict[int, list[tuple]] = {}
    rows = PracticeEntry.objects.standing().filter(
        student__in=[student.pk for student in students], day__range=(period.first, period.last)
    )
    for student, *row in rows.order_by("day", "pk").values_list("student", "assigned__passage", "assigned", *FIELDS):
        found.setdefault(student, []).append(tuple(row))
    return found


def last_days(students: Iterable[Student], today: date) -> dict[int, date]:
    """The last day in each log, however long ago: one step in the index for each student."""
    newest = PracticeEntry.objects.standing().filter(student=OuterRef("pk"), day__lte=today).order_by("-day")
    rows = Student.objects.filter(pk__in=[student.pk for student in students])
    days = rows.annotate(last_day=Subquery(newest.values("day")[:1])).values_list("pk", "last_day")
    return {pk: day for pk, day in days if day}


def works_by_student(
    students: Iterable[Student], period: Period, rows: dict[int, list[tuple]]
) -> dict[int, tuple[Work, ...]]:
    """The passages that were given lately, by student. Lessons are read twice as far back as the log, so that it is
    known since when a passage has had its tempos. The lessons are found by the index of studio and moment; were
    the passages narrowed to the studio too, a database might walk through all that it ever gave."""
    first = period.first - timedelta(weeks=WEEKS)
    given = AssignedPassage.objects.filter(
        assignment__lesson__studio__in={student.studio_id for student in students},
        assignment__lesson__student__in=[student.pk for student in students],
        assignment__lesson__cancelled_at=None,
        assignment__lesson__starts_at__gte=midnight(first),
        assignment__lesson__starts_at__lt=period.end,
    )
    by_student: dict[int, list] = {}
    for row in given.select_related("assignment__lesson", "assignment__piece", "passage"):
        by_student.setdefault(row.assignment.lesson.student_id, []).append(row)
    return {student: works_of(every, rows.get(student, ())) for student, every in by_student.items()}


def line_of(
    student: Student, rows: Sequence[tuple], works: Sequence[Work], last_day: date | None, period: Period
) -> Line:
    entries, today = entries_in(row[2:] for row in rows), period.last
    now = [work for work in works if work.lessons[0] > today - timedelta(days=WORK_DAYS)]
    spaced = progress.spacing(entries, today=today, rules=RULES)
    weeks = {week.day: week.days for week in progress.by_week(entries)}
    return Line(
        student=student,
        days=spaced.days,
        minutes=spaced.minutes,
        weekly=tuple(weeks.get(monday, 0) for monday in period.weeks),
        last_day=last_day,
        works=len(now),
        looks=tuple(sorted(looks_of(entries, now, last_day, today), key=lambda look: look.rank)),
    )


def looks_of(entries: Sequence[Entry], works: Sequence[Work], last_day: date | None, today: date) -> list[Look]:
    """What there is to look at. Where nothing was written down for long, that is said once, not of every passage."""
    away = away_look(works, last_day, today)
    found = [away] if away else []
    for work in works:
        advice = work.advice(today)
        for one in (advice.next, *advice.notices) if advice else ():
            if one.kind in FIRST and not (away and one.kind == "again"):
                found.append(look_at(one, work))
    found += [look_at(one) for one in on_spacing(entries, today=today, rules=RULES)]
    return found


def look_at(one: Suggestion, work: Work | None = None) -> Look:
    return Look(FIRST[one.kind], work.name if work else "", work.passage.pk if work else None, said(one.why))


def away_look(works: Sequence[Work], last_day: date | None, today: date) -> Look | None:
    """Says that nothing was written down since `RULES.away_days`, where there was work to do for as long."""
    if not works:
        return None
    begun = min(work.lessons[-1] for work in works)
    days = (today - max(filter(None, (last_day, begun)))).days
    if days < RULES.away_days:
        return None
    if last_day and last_day >= begun:
        text = ngettext(
            "Nothing has been written down for %(days)d day.", "Nothing has been written down for %(days)d days.", days
        )
    else:
        text = ngettext(
            "Work was given %(days)d day ago, and nothing has been written down since.",
            "Work was given %(days)d days ago, and nothing has been written down since.",
            days,
        )
    return Look(FIRST["away"], "", None, text % {"days": days})
