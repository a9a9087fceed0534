"""Who gets what at the addresses of progress and of reports on terms."""

from datetime import UTC, date, datetime

from lessons import reporting
from lessons.models import TermReport
from tests.people import Cast
from tests.roles import Row, teachers

THEIRS = (200, 200, 200, 404, 404, 404, 302)


def of_oda(cast: Cast) -> dict[str, int]:
    return {"pk": cast.oda.pk}


def of_passage(cast: Cast) -> dict[str, int]:
    return {"pk": cast.oda.pk, "passage": cast.assigned.passage_id}


def report_fields(cast: Cast) -> dict[str, object]:
    days = {"first_day": date(2020, 9, 1), "last_day": date(2020, 12, 18)}
    return {"name": "Autumn", "words": "You listen well.", "paper": "A4", **days}


def a_report(cast: Cast) -> TermReport:
    return reporting.write_report(student=cast.oda, fields=report_fields(cast))


def of_report(cast: Cast) -> dict[str, int]:
    return {"pk": a_report(cast).pk}


def of_given(cast: Cast) -> dict[str, int]:
    report = a_report(cast)
    reporting.give_report(report=report, by=cast.teacher, at=datetime(2020, 12, 18, 12, tzinfo=UTC))
    return {"pk": report.pk}


POSTED = {"get": teachers(405, next_door=405), "post": teachers(302), "target": of_report}

TABLE: dict[str, Row] = {
    "progress-of-all": Row(teachers(200, next_door=200)),
    "students-progress": Row(THEIRS, target=of_oda),
    "passage-progress": Row(THEIRS, target=of_passage),
    "students-reports": Row(THEIRS, target=of_oda),
    "new-report": Row(teachers(200), teachers(302), target=of_oda, data=report_fields),
    "report": Row(teachers(200), target=of_report),
    "change-report": Row(teachers(200), teachers(302), target=of_report, data=report_fields),
    "report-pdf": Row(THEIRS, target=of_given),
    "give-report": Row(**POSTED),
    "take-report-back": Row(**POSTED),
    "remove-report": Row(**POSTED),
    "restore-report": Row(**POSTED),
}
