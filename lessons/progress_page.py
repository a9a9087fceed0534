"""What the pages of a student's progress show: pictures, each with a sentence and the table behind it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial

from django.utils.formats import date_format
from django.utils.functional import cached_property
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from lessons import pictures, progress
from lessons.climbing import Advice, whole_ladder
from lessons.logs import RULES, Log, Period, Work
from lessons.pen import Cell, Drawing
from lessons.pictures import Point
from lessons.progress import Entry, Stretch
from lessons.repertoire import RESTING
from lessons.repertoire import Entry as Played

NARROW, WIDE = 340, 720  # a phone and a desk or a sheet of paper, in pixels


@dataclass(frozen=True)
class Shown:
    """A picture for every width, the sentence that says what it shows, and the table behind it."""

    name: str
    title: str
    sentence: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    draw: Callable[..., Drawing]

    def drawn(self, width: int) -> Drawing:
        return self.draw(width=width, title=self.sentence)

    @cached_property
    def narrow(self) -> SafeString:
        return mark_safe(self.drawn(NARROW).svg)  # its words are escaped where they are drawn

    @cached_property
    def wide(self) -> SafeString:
        return mark_safe(self.drawn(WIDE).svg)


def minutes_shown(entries: Sequence[Entry], period: Period) -> Shown:
    """Minutes by day."""
    days = progress.minutes_by_day(entries, period.first, period.last)
    practised = [(day, minutes) for day, minutes in days if minutes]
    total, fullest = sum(minutes for _, minutes in practised), max((minutes for _, minutes in practised), default=0)
    sentence = ngettext(
        "Practice was written down on %(days)d day, %(minutes)d minutes in all.",
        "Practice was written down on %(days)d days, %(minutes)d minutes in all and at most %(most)d on one day.",
        len(practised),
    ) % {"days": len(practised), "minutes": total, "most": fullest}
    if fullest > RULES.long_minutes:
        sentence += " " + _("The dashed line stands at %(minutes)d minutes.") % {"minutes": RULES.long_minutes}
    return Shown(
        "minutes",
        _("Minutes by day"),
        sentence,
        (_("Day"), _("Minutes")),
        tuple((date_format(day, "D j M Y"), str(minutes)) for day, minutes in reversed(practised)),
        partial(pictures.minutes_picture, days, days=period.ticks, long_day=RULES.long_minutes),
    )


def share_shown(entries: Sequence[Entry], period: Period) -> Shown:
    """Clean runs out of tries, by week."""
    weeks = [week for week in progress.by_week(entries) if week.tries]
    clean, tries = progress.counted(entries)
    sentence = (
        _("%(clean)d of %(tries)d tries were clean, which is %(share)d %%.")
        % {"clean": clean, "tries": tries, "share": round(100 * clean / tries)}
        if tries
        else _("Nobody counted tries in these weeks.")
    )
    return Shown(
        "share",
        _("Clean runs out of tries, by week"),
        sentence,
        (_("Week from"), _("Clean runs"), _("Tries"), _("Share")),
        tuple(
            (date_format(week.day, "j M Y"), str(week.clean), str(week.tries), percent(week))
            for week in reversed(weeks)
        ),
        partial(
            pictures.share_picture,
            [(week.day, week.clean, week.tries) for week in weeks],
            first=period.first,
            last=period.last,
            days=period.ticks,
            key={"some": _("filled: clean, the whole box: all tries")},
        ),
    )


def percent(week: Stretch) -> str:
    return "" if week.share is None else f"{round(100 * week.share)} %"


def tempo_shown(work: Work, period: Period, advice: Advice | None) -> Shown:
    """Tempo over the weeks with the tempo to reach, the ladder and the marks it led to."""
    days = [day for day in progress.by_day(work.entries) if day.tempo is not None]
    points = [Point(day.day, day.tempo, kind_of(day)) for day in days]
    marks = [(day, tempo) for day, tempo in work.given if tempo and day <= work.since]
    marks += [(step.day, step.after) for step in advice.stand.steps] if advice else []
    seen = [point.tempo for point in points] + [tempo for tempo in (work.now, work.goal) if tempo]
    key = {
        "clean": _("at least %(share)d %% of the day's tries clean") % {"share": RULES.share_up},
        "unclean": _("fewer"),
        "uncounted": _("not counted"),
        "mark": _("mark to practise at, by the teacher, then by the rules")
        if advice
        else _("mark to practise at, by the teacher"),
        "goal": _("tempo to reach"),
        "lesson": _("lesson"),
    }
    return Shown(
        "tempo",
        _("Tempo over the weeks"),
        tempo_sentence(days, work.goal),
        (_("Day"), _("Fastest tempo"), _("Clean runs"), _("Tries")),
        tuple(
            (
                date_format(day.day, "D j M Y"),
                str(day.tempo),
                *((str(day.clean), str(day.tries)) if day.tries else "––"),
            )
            for day in reversed(days)
        ),
        partial(
            pictures.tempo_picture,
            points,
            goal=work.goal,
            rungs=whole_ladder(min(seen), max(seen)) if seen else (),
            marks=marks,
            lessons=work.lessons,
            first=period.first,
            last=period.last,
            days=period.ticks,
            key=key,
        ),
    )


def kind_of(day: Stretch) -> pictures.Kind:
    if day.share is None:
        return "uncounted"
    return "clean" if 100 * day.clean >= RULES.share_up * day.tries else "unclean"


def tempo_sentence(days: Sequence[Stretch], goal: int | None) -> str:
    if not days:
        words = _("No tempo was written down in these weeks.")
    elif len(days) == 1:
        words = _("%(tempo)d on %(day)s.") % {"tempo": days[0].tempo, "day": date_format(days[0].day, "j F")}
    else:
        words = _("The fastest of a day was %(before)d on %(first)s and %(after)d on %(last)s.") % {
            "before": days[0].tempo,
            "first": date_format(days[0].day, "j F"),
            "after": days[-1].tempo,
            "last": date_format(days[-1].day, "j F"),
        }
    return words + (" " + _("To reach: %(goal)d quarters a minute.") % {"goal": goal} if goal else "")


def weeks_shown(log: Log) -> Shown:
    """Passages against weeks."""
    mondays = log.period.weeks
    rows = []
    for work in log.works:
        weeks = {week.day: week for week in progress.by_week(work.entries)}
        rows.append((work, [weeks.get(monday) for monday in mondays]))
    practised = sum(any(weeks) for _, weeks in rows)
    sentence = ngettext(
        "Of %(count)d passage, %(practised)d has practice written down in these weeks.",
        "Of %(count)d passages, %(practised)d have practice written down in these weeks.",
        len(rows),
    ) % {"count": len(rows), "practised": practised}
    key = {
        "some": _("a week with practice, filled as far as tries were clean"),
        "plain": _("practised, not counted"),
        "none": _("nothing written down"),
    }
    return Shown(
        "weeks",
        _("Passages and weeks"),
        sentence,
        (_("Passage"), _("Week from"), _("Days"), _("Minutes"), _("Clean runs"), _("Fastest tempo")),
        tuple(week_row(work, week) for work, weeks in rows for week in reversed(weeks) if week),
        partial(
            pictures.weeks_picture,
            [(work.name, [week and Cell(week.days, week.clean, week.tries) for week in weeks]) for work, weeks in rows],
            first=mondays[0],
            days=log.period.ticks,
            key=key,
        ),
    )


def week_row(work: Work, week: Stretch) -> tuple[str, ...]:
    clean = f"{week.clean}/{week.tries}" if week.tries else "–"
    return (
        work.name,
        date_format(week.day, "j M Y"),
        str(week.days),
        str(week.minutes),
        clean,
        str(week.tempo or "–"),
    )


def timeline_shown(played: Sequence[Played], today: date) -> Shown | None:
    """The repertoire over the years; None while nothing of it has a day."""
    spans = [span for entry in played if (span := span_of(entry, today))]
    if not spans:
        return None
    spans.sort(key=lambda span: (span.first, span.name))
    first = min(span.first for span in spans)
    sentence = ngettext(
        "%(count)d piece since %(day)s.", "%(count)d pieces since %(day)s, the oldest first.", len(spans)
    ) % {"count": len(spans), "day": date_format(first, "F Y")}
    first = first.replace(day=1)
    key = {"learned": _("learned"), "played": _("before an audience")}
    return Shown(
        "timeline",
        _("Repertoire over time"),
        sentence,
        (_("Piece"), _("Where it stands"), _("Begun"), _("Last given"), _("Learned"), _("Before an audience")),
        tuple(played_row(entry) for entry in played),
        partial(pictures.timeline_picture, spans, first=first, last=today, days=months_between(first, today), key=key),
    )


def span_of(entry: Played, today: date) -> pictures.Span | None:
    row = entry.row
    learned, performed = (row.learned_on, row.performed_on) if row else (None, None)
    known = [day for day in (entry.begun_on, entry.last_given, learned, performed) if day and day <= today]
    if not known or entry.status == "wished":
        return None
    goes_on = entry.status in ("work", "kept")
    return pictures.Span(
        name=f"{entry.piece.title} ({words_of(entry)})",
        first=min(known),
        last=today if goes_on else max(known),
        goes_on=goes_on,
        is_aside=entry.status == "aside",
        learned=learned,
        performed=performed,
    )


def words_of(entry: Played) -> str:
    return str(entry.words) if entry.status != RESTING else _("resting")


def played_row(entry: Played) -> tuple[str, ...]:
    row = entry.row
    days = (entry.begun_on, entry.last_given, row and row.learned_on, row and row.performed_on)
    return (str(entry.piece), words_of(entry), *(date_format(day, "j M Y") if day else "–" for day in days))


def months_between(first: date, last: date) -> list[tuple[date, str]]:
    """The firsts of months, of years where there are many."""
    months = (last.year - first.year) * 12 + last.month - first.month
    if months > 30:
        return [(date(year, 1, 1), str(year)) for year in range(first.year, last.year + 1)]
    every = [divmod(first.month - 1 + number, 12) for number in range(months + 1)]
    days = [date(first.year + years, month + 1, 1) for years, month in every]
    return [(day, date_format(day, "M Y")) for day in days]
