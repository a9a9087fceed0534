"""What was said of a passage when it was heard again."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from lessons.models.assignments import TEMPO, AssignedPassage
from lessons.models.lessons import Lesson
from studio.models import StudioRow


class Mark(StudioRow):
    """What the teacher decided at `lesson` about a passage that was given earlier: it goes on, it is learned, or it
    rests. `tempo` is what was reached there, in quarters a minute; None where nothing was said of it."""

    class Kind(models.TextChoices):
        CARRY_ON = "carry", _("carry on")
        DONE = "done", _("done")
        SET_ASIDE = "aside", _("set aside")

    assigned = models.ForeignKey(AssignedPassage, on_delete=models.CASCADE, related_name="marks")
    lesson = models.ForeignKey(Lesson, on_delete=models.CASCADE, related_name="marks")
    kind = models.CharField(max_length=5, choices=Kind)
    tempo = models.PositiveSmallIntegerField(_("tempo reached"), null=True, blank=True, validators=TEMPO)
    marked_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["assigned", "lesson"], name="one_mark_a_lesson")]

    def __str__(self) -> str:
        return self.get_kind_display()
