"""Surveys the editions that came in before there was a survey, or when it found less."""

from typing import Any

from django.core.management.base import BaseCommand

from scores.surveying import survey_waiting, waiting


class Command(BaseCommand):
    help = "Surveys every edition whose findings are not kept yet, so that the repertoire can be searched by them."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(f"Surveyed: {survey_waiting()}")
        for key in waiting().values_list("pk", flat=True):
            self.stderr.write(f"Edition {key} could not be surveyed.")
