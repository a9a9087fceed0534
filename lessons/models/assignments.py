"""What is given to a student at a lesson, with the choices made for that student."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from lessons.models.lessons import Lesson
from scores.models import Fingering, Passage, Piece, Placement
from studio.models import StudioRow

TEMPO = [MinValueValidator(20), MaxValueValidator(300)]


class Assignment(StudioRow):
    """A piece given at a lesson: whole, or the passages that hang on it."""

    lesson = models.ForeignKey(Lesson, on_delete=models.CASCADE, related_name="assignments")
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="assignments")
    remark = models.TextField(_("what to do"), blank=True)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["lesson", "piece"], name="a_piece_once_a_lesson")]

    def __str__(self) -> str:
        return str(self.piece)


class AssignedPassage(StudioRow):
    """A passage of the piece, with the tempo where the student is and the one to reach, in quarters a minute."""

    assignment = models.ForeignKey(Assignment, on_delete=models.CASCADE, related_name="passages")
    passage = models.ForeignKey(Passage, on_delete=models.RESTRICT, related_name="assigned")
    position = models.PositiveSmallIntegerField(default=0)
    tempo_now = models.PositiveSmallIntegerField(_("tempo now"), null=True, blank=True, validators=TEMPO)
    tempo_goal = models.PositiveSmallIntegerField(_("tempo to reach"), null=True, blank=True, validators=TEMPO)
    remark = models.TextField(_("what to do"), blank=True)
    show_others = models.BooleanField(_("show the other options small beside it"), default=False)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["assignment", "passage"], name="a_passage_once_an_assignment")]

    def __str__(self) -> str:
        return str(self.passage)


class ChosenBy(models.TextChoices):
    NOBODY = "", _("left open")
    TEACHER = "teacher", _("the teacher")
    STUDENT = "student", _("the student")


class OfferedFingering(StudioRow):
    """A fingering that this student may play. With `chosen_by` set it is the one for its part; while all of a part are
    left open, the student tries them and chooses."""

    assigned = models.ForeignKey(AssignedPassage, on_delete=models.CASCADE, related_name="offered")
    fingering = models.ForeignKey(Fingering, on_delete=models.RESTRICT, related_name="offered")
    chosen_by = models.CharField(max_length=7, choices=ChosenBy, default=ChosenBy.NOBODY, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["assigned", "fingering"], name="a_fingering_offered_once")]

    def __str__(self) -> str:
        return str(self.fingering)


class PlacementChoice(StudioRow):
    """Where an ornament falls for this student; `placement` is blank while that is left open."""

    assigned = models.ForeignKey(AssignedPassage, on_delete=models.CASCADE, related_name="placements")
    note = models.CharField(max_length=80)
    placement = models.CharField(max_length=6, choices=Placement, blank=True)
    chosen_by = models.CharField(max_length=7, choices=ChosenBy, default=ChosenBy.NOBODY, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["assigned", "note"], name="one_placement_an_assigned_note"),
            models.CheckConstraint(
                condition=Q(placement="", chosen_by="") | (~Q(placement="") & ~Q(chosen_by="")),
                name="a_placement_says_who_chose_it",
            ),
        ]

    def __str__(self) -> str:
        return self.placement
