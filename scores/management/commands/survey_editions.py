"""Surveys the editions that came in before there was a survey, or when it found less."""

from typing import Any

from django.core.management.base import BaseCommand

from scores.models import Edition
from scores.music.survey.stored import VERSION
from scores.surveying import findings_of


class Command(BaseCommand):
    help = "Surveys every edition whose findings are not kept yet, so that the repertoire can be searched by them."

    def handle(self, *args: Any, **options: Any) -> None:
        wanted = Edition.objects.exclude(preparation__version=VERSION).defer("original", "packed_music").order_by("pk")
        done = 0
        for edition in wanted.iterator(chunk_size=20):
            try:
                findings_of(edition)
                done += 1
            except Exception as problem:  # One bad score must not keep the others waiting.
                self.stderr.write(f"Edition {edition.pk} could not be surveyed: {type(problem).__name__}")
        self.stdout.write(f"Surveyed: {done}")
