"""What the clock asks for."""

from datetime import UTC, datetime, time
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from lessons import due
from lessons.models import Holiday, Lesson
from lessons.scheduling import SlotPlan, make_slot
from tests.people import Cast

NOW = datetime(2020, 11, 4, 10, 0, tzinfo=UTC)


def quiet(studio, at) -> str:
    return ""


def broken(studio, at) -> str:
    Holiday.objects.create(studio=studio, name="half done", first_day=at.date(), last_day=at.date())
    raise RuntimeError("no string")


def zone_of(studio, at) -> str:
    return timezone.get_current_timezone_name()


def test_every_job_runs_in_every_studio_and_in_its_time_zone(cast: Cast):
    done = list(due.run(at=NOW, jobs=[("zone", zone_of)]))
    assert [(one.studio, one.words) for one in done] == [
        (cast.studio, "Europe/Helsinki"),
        (cast.next_door, "America/Sao_Paulo"),
    ]


def test_a_job_that_fails_changes_nothing_and_stops_no_other(cast: Cast):
    done = list(due.run(at=NOW, jobs=[("broken", broken), ("quiet", quiet)]))
    assert [(one.job, one.failed) for one in done] == [("broken", True), ("quiet", False)] * 2
    assert done[0].words == "RuntimeError: no string"
    assert not Holiday.objects.exists()


def test_the_command_lays_lessons_out_once(cast: Cast, monkeypatch):
    plan = SlotPlan([cast.oda], NOW.date(), time(15), 45, "FREQ=WEEKLY")
    make_slot(studio=cast.studio, plan=plan, at=NOW)
    monkeypatch.setattr(timezone, "now", lambda: NOW.replace(day=18))
    out = StringIO()
    call_command("due", stdout=out)
    assert f"{cast.studio}: lessons: 2 lessons laid out" in out.getvalue()
    before = Lesson.objects.count()
    call_command("due", stdout=StringIO())
    assert Lesson.objects.count() == before == 29


def test_the_command_says_that_a_job_failed(cast: Cast, monkeypatch):
    monkeypatch.setattr(due, "JOBS", [("broken", broken)])
    told = StringIO()
    with pytest.raises(CommandError, match="2 of the jobs failed"):
        call_command("due", stderr=told)
    assert "broken: RuntimeError: no string" in told.getvalue()
