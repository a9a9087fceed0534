"""A studio's calendar between two days, gathered once, so that any number of times can be tried in it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from lessons.calendar import Conflict, Days, Stretch, conflicts_of
from lessons.meetings import Here, Hours, Wanted, free_for, here_between, hours_of, in_words, outside_hours
from lessons.models import Absence, Holiday, Lesson
from lessons.recurrence import moment_of
from studio.models import Student, Studio


@dataclass(frozen=True)
class Ahead:
    """What stands in the calendar from `first` to `last`, as it is at the moment `at`."""

    here: Here
    hours: dict[int | None, Hours]
    holidays: Days
    absences: dict[int, Days]
    first: date
    last: date
    at: datetime

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.here.studio.timezone)

    def wanted(self, lesson: Lesson, starts_at: datetime) -> Wanted:
        """A lesson at another time, with all who come to it as far as these days know of them."""
        own = next((one for one in self.here.together if any(row.pk == lesson.pk for row in one.lessons)), None)
        students = [row.student for row in own.lessons] if own else [lesson.student]
        key = own.lessons[0].pk if own else lesson.pk
        return Wanted(students, starts_at, lesson.minutes, lesson.where, lesson.place, key=key)

    def is_closed(self, day: date, students: Iterable[Student]) -> bool:
        """Whether the studio is closed that day, or one of the students does not come."""
        return day in self.holidays or any(day in self.absences.get(student.pk, ()) for student in students)

    def free(self, wanted: Wanted, *, hours: Sequence[Hours] | None = None) -> list[Stretch]:
        """Where the meeting would fit: within the teacher's hours and the students' own, or within `hours` instead."""
        days = [self.first + timedelta(days=number) for number in range((self.last - self.first).days + 1)]
        closed = [day for day in days if self.is_closed(day, wanted.students)]
        asked = {None, *(student.pk for student in wanted.students)}
        said = {key: value for key, value in self.hours.items() if key in asked}
        if hours is not None:
            said = dict(enumerate(hours))
        meeting = wanted.meeting(self.here.families)
        return free_for(wanted, meeting, self.here, said, closed, self.first, self.last, at=self.at)

    def against(self, wanted: Wanted) -> list[Conflict]:
        """The meetings and busy times that stand in the way of one time."""
        meeting, day = wanted.meeting(self.here.families), timedelta(days=1)
        others = [one.meeting for one in self.here.together]
        others = [one for one in others if one.begin < meeting.end + day and meeting.begin - day < one.end]
        return conflicts_of(meeting, others, travel=self.here.travel)

    def words_against(self, wanted: Wanted) -> list[str]:
        """The same in sentences for the teacher, with days on which nobody comes and hours in which she does not teach.
        The student's hours are not looked at: it is the family that asks."""
        meeting, named = wanted.meeting(self.here.families), self.here.named()
        found = []
        for conflict in self.against(wanted):
            other = conflict.first if conflict.second.key == meeting.key else conflict.second
            found.append(in_words(conflict, named[other.key]))
        if self.is_closed(wanted.starts_at.astimezone(self.zone).date(), wanted.students):
            found.append(_("a holiday, or a day on which the student does not come"))
        hers = {None: self.hours[None]}
        return list(dict.fromkeys(found + outside_hours(meeting, hers, wanted.students, self.zone)))

    def is_free(self, wanted: Wanted) -> bool:
        """Whether nothing stands in the way, whatever anyone's hours are."""
        day = wanted.starts_at.astimezone(self.zone).date()
        ahead = wanted.starts_at > self.at
        return ahead and not self.against(wanted) and not self.is_closed(day, wanted.students)

    def holds(self, wanted: Wanted) -> bool:
        """Whether nothing stands in the way and everyone's hours hold it."""
        end = wanted.starts_at + timedelta(minutes=wanted.minutes)
        return any(begin <= wanted.starts_at and end <= stop for begin, stop in self.free(wanted))


def gather_ahead(
    studio: Studio,
    students: Sequence[Student],
    first: date,
    last: date,
    *,
    at: datetime,
    lessons: Iterable[Lesson] | None = None,
) -> Ahead:
    """The calendar of these days: seven queries, whatever stands in it; six where the caller has the `lessons`."""
    zone = ZoneInfo(studio.timezone)
    begin, end = moment_of(first, time(), zone), moment_of(last + timedelta(days=1), time(), zone)
    absences: dict[int, list[tuple[date, date]]] = defaultdict(list)
    rows = Absence.objects.filter(studio=studio, student__in=students).touching(first, last)
    for student, first_day, last_day in rows.values_list("student_id", "first_day", "last_day"):
        absences[student].append((first_day, last_day))
    return Ahead(
        here=here_between(studio, begin, end, lessons=lessons),
        hours=hours_of(studio, students),
        holidays=Days(Holiday.objects.filter(studio=studio).touching(first, last).values_list("first_day", "last_day")),
        absences={student: Days(spans) for student, spans in absences.items()},
        first=first,
        last=last,
        at=at,
    )
