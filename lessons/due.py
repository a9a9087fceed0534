"""What the clock asks for: the jobs that `manage.py due` runs, hourly or daily, as often as one likes.

A job takes a studio and a moment, does what is due by then and nothing twice, and says in a few words what it did, ""
for nothing. Each runs in a transaction of its own: one that fails changes nothing and stops no other. Only the sending
of mails makes one for each mail instead, so that nobody waits for a mail server with a transaction open.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from contextlib import nullcontext
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone

from lessons import charging, credits, mailing, notices
from lessons.laying_out import lay_out_ahead
from lessons.repertoire import make_filterable, make_findable
from studio.models import Studio

Job = Callable[[Studio, datetime], str]

JOBS: list[tuple[str, Job]] = [
    ("lessons", lay_out_ahead),
    ("make-up credits", credits.lapse),
    ("tuition", charging.due),
    ("repertoire", make_findable),
    ("difficulties", make_filterable),
    ("reminders", notices.remind),
    ("mails", mailing.send_due),
]
BY_ITSELF = {"mails"}

logger = logging.getLogger(__name__)


@dataclass(frozen=True)
class Done:
    """What one job did in one studio; `words` say what went wrong where it `failed`."""

    studio: Studio
    job: str
    words: str
    failed: bool = False


def run(*, at: datetime, jobs: list[tuple[str, Job]] | None = None) -> Iterator[Done]:
    """Runs every job in every studio, in the studio's time zone, one after the other."""
    for studio in Studio.objects.order_by("pk"):
        for name, job in JOBS if jobs is None else jobs:
            yield run_one(studio, name, job, at)


def run_one(studio: Studio, name: str, job: Job, at: datetime) -> Done:
    try:
        together = nullcontext() if name in BY_ITSELF else transaction.atomic()
        with timezone.override(ZoneInfo(studio.timezone)), together:
            return Done(studio, name, job(studio, at))
    except Exception as trouble:
        logger.exception("%s failed in studio %s", name, studio.pk)
        return Done(studio, name, f"{type(trouble).__name__}: {trouble}", failed=True)
