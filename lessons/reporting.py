"""Reports on terms: writing, giving and taking them back, as verbs; and what stands on one, gathered."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.utils.formats import date_format
from django.utils.timezone import localdate
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from lessons import repertoire
from lessons.climbing import CAUTION
from lessons.logs import Log, Period, log_of, said
from lessons.models import TermReport
from lessons.progress import Sentence
from lessons.progress_page import Shown, minutes_shown, share_shown, tempo_shown, timeline_shown, weeks_shown
from lessons.report_sheet import Report, draw_report
from studio.models import Student, Term, User

MOST_PASSAGES = 6  # that have a picture of their own
USUAL_WEEKS = 12


def usual_days(student: Student, today: date) -> dict[str, Any]:
    """What a new report begins with: the term that is on, else the last one, else the last weeks."""
    terms = Term.objects.filter(studio_id=student.studio_id, first_day__lte=today).order_by("-first_day")
    term = terms.first()
    if term:
        return {"name": term.name, "first_day": term.first_day, "last_day": term.last_day}
    first = Period(today, today).weeks[0]
    return {"first_day": date.fromordinal(first.toordinal() - 7 * (USUAL_WEEKS - 1)), "last_day": today}


def write_report(*, student: Student, fields: Mapping[str, Any], report: TermReport | None = None) -> TermReport:
    """Keeps what the teacher says of a term; of the report that is named, or as a new one. One that was given does not
    change: raises `ValueError`."""
    if report is None:
        return TermReport.objects.create(studio_id=student.studio_id, student=student, **fields)
    if not TermReport.objects.filter(pk=report.pk, given_at=None).update(**fields):
        raise ValueError("a report that was given does not change")
    report.refresh_from_db()
    return report


def give_report(*, report: TermReport, by: User, at: datetime) -> None:
    """Lets the family see it: the sheet is drawn now and kept. Given again, it stays as it is."""
    if not report.given_at:
        sheet = draw_report(content_of(report, by, at))
        TermReport.objects.filter(pk=report.pk, given_at=None).update(pdf=sheet, given_at=at)


def take_back(report: TermReport) -> None:
    """Only the teacher sees it again, and it can be changed."""
    report.pdf = report.given_at = None
    report.save(update_fields=["pdf", "given_at"])


def remove_report(report: TermReport, *, at: datetime) -> None:
    report.removed_at = at
    report.save(update_fields=["removed_at"])


def restore_report(report: TermReport) -> None:
    report.removed_at = None
    report.save(update_fields=["removed_at"])


# What stands on it


def content_of(report: TermReport, user: User, at: datetime) -> Report:
    """The report as it would be given at a moment; days that are still to come are not drawn."""
    period = Period(report.first_day, max(report.first_day, min(report.last_day, localdate(at))))
    log = log_of(user, report.student, period)
    played = timeline_shown(repertoire.entries_of(report.student, at=at), period.last)
    return Report(
        student=report.student.name,
        studio=report.student.studio.name,
        name=report.name,
        days=_("%(first)s to %(last)s") % {"first": long_day(report.first_day), "last": long_day(report.last_day)},
        words=report.words,
        pictures=tuple(pictures_of(log)) + (((played.title, played),) if played else ()),
        small=(
            _(
                "Drawn from what was written down; what was practised and not written down is not in it. It compares "
                "nobody and promises nothing."
            ),
            said(Sentence(CAUTION)),
        ),
        paper=report.paper,
        language=get_language() or "en",
    )


def long_day(day: date) -> str:
    return date_format(day, "j F Y")


def pictures_of(log: Log) -> list[tuple[str, Shown]]:
    """At a glance, minutes, clean runs, then the passages that were practised most."""
    found = [weeks_shown(log)] if log.works else []
    if log.entries:
        found += [minutes_shown(log.entries, log.period), share_shown(log.entries, log.period)]
    practised = [work for work in log.works if any(entry.tempo for entry in work.entries)]
    practised.sort(key=lambda work: -sum(entry.minutes for entry in work.entries))
    passages = [(work.name, tempo_shown(work, log.period, None)) for work in practised[:MOST_PASSAGES]]
    return [(shown.title, shown) for shown in found] + passages
