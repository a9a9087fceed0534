"""What a survey of an edition found, and what the teacher has done about it."""

from django.db import models

from scores.models.passages import Passage
from scores.models.repertoire import Edition
from studio.models import StudioRow, User


class Preparation(StudioRow):
    """The findings of an edition for a medium hand at its own tempo, kept so that the page is fast. `packed` is
    compressed JSON; one of another `version` than the survey's is made anew."""

    edition = models.OneToOneField(Edition, on_delete=models.CASCADE, related_name="preparation")
    packed = models.BinaryField()
    version = models.PositiveSmallIntegerField()

    def __str__(self) -> str:
        return f"{self.edition_id}"


class Difficulty(StudioRow):
    """How often a kind of difficulty stands in an edition: what the repertoire is filtered by. `detail` tells a kind's
    own kinds apart: "3:2" (the larger number first), "trill-mark"; else it is ""."""

    edition = models.ForeignKey(Edition, on_delete=models.CASCADE, related_name="difficulties")
    kind = models.CharField(max_length=20)
    detail = models.CharField(max_length=40, blank=True)
    count = models.PositiveIntegerField()

    class Meta:
        ordering = ["kind", "detail", "pk"]
        constraints = [models.UniqueConstraint(fields=["edition", "kind", "detail"], name="one_row_a_difficulty")]
        indexes = [models.Index(fields=["studio", "kind", "detail"], name="difficulty_of_studio")]

    def __str__(self) -> str:
        return f"{self.kind} {self.detail}".strip()


class Looked(StudioRow):
    """A finding that the teacher has looked at. `key` names it for good (`Finding.key`); `passage` is what was made
    of it, if anything was."""

    edition = models.ForeignKey(Edition, on_delete=models.CASCADE, related_name="looked")
    key = models.CharField(max_length=200)
    passage = models.ForeignKey(Passage, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    looked_at = models.DateTimeField()

    class Meta:
        ordering = ["looked_at", "pk"]
        constraints = [models.UniqueConstraint(fields=["edition", "key"], name="a_finding_looked_at_once")]

    def __str__(self) -> str:
        return self.key


class SurveyHabit(StudioRow):
    """Which kinds of finding a teacher has switched off."""

    user = models.OneToOneField(User, on_delete=models.CASCADE, related_name="+")
    off = models.JSONField(default=list)

    def __str__(self) -> str:
        return ", ".join(self.off)
