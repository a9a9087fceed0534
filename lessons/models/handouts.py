"""Handouts that were given."""

from django.db import models

from lessons.models.lessons import Lesson
from studio.models import Paper, StudioRow


class Handout(StudioRow):
    """The printed sheet of one lesson as it was given: what was gathered, and the PDF drawn from it. It never changes;
    a later change of the lesson makes a new revision."""

    lesson = models.ForeignKey(Lesson, on_delete=models.CASCADE, related_name="handouts")
    revision = models.PositiveSmallIntegerField()
    content = models.JSONField()
    pdf = models.BinaryField()
    paper = models.CharField(max_length=8, choices=Paper)
    given_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-revision"]
        constraints = [models.UniqueConstraint(fields=["lesson", "revision"], name="a_revision_once_a_lesson")]

    def __str__(self) -> str:
        return f"{self.lesson}, {self.revision}"
