"""`manage.py due`: does what the clock asks for. Meant to be run every hour or every day; more often does no harm."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from lessons.due import run


class Command(BaseCommand):
    help = "Does what is due in every studio: lessons laid out, credits, charges, reminders. Run it hourly by cron."

    def handle(self, *args: Any, **options: Any) -> None:
        failed = 0
        for done in run(at=timezone.now()):
            failed += done.failed
            if done.words:
                out = self.stderr if done.failed else self.stdout
                out.write(f"{done.studio}: {done.job}: {done.words}")
        if failed:
            raise CommandError(f"{failed} of the jobs failed; the others are done.")
