"""What a student's hand reaches, with the day it was measured."""

from typing import Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from studio.models.people import Student
from studio.models.studio import StudioRow

PAIRS = ("1-2", "1-3", "1-4", "1-5", "2-3", "2-4", "2-5", "3-4", "3-5", "4-5")


class Side(models.TextChoices):
    RIGHT = "right", _("right hand")
    LEFT = "left", _("left hand")


class FingerWidth(models.TextChoices):
    SLIM = "slim", _("slim between black keys")
    MEDIUM = "medium", _("neither slim nor broad")
    BROAD = "broad", _("broad between black keys")


class HandQuerySet(models.QuerySet["Hand"]):
    def newest_first(self) -> Self:
        return self.order_by("-measured_on", "-pk")


class Hand(StudioRow):
    """One measurement of one hand. Intervals in semitones between thumb and fifth finger.

    `pairs` holds what was measured between two fingers: {"2-5": [comfortable, largest]}, in semitones; a pair that
    is not there was not measured.
    """

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="hands")
    side = models.CharField(_("hand"), max_length=5, choices=Side)
    measured_on = models.DateField(_("measured on"))
    comfortable = models.PositiveSmallIntegerField(
        _("comfortable"), validators=[MinValueValidator(3), MaxValueValidator(24)]
    )
    largest = models.PositiveSmallIntegerField(_("largest"), validators=[MinValueValidator(3), MaxValueValidator(24)])
    width = models.CharField(_("fingers"), max_length=6, choices=FingerWidth, default=FingerWidth.MEDIUM)
    pairs = models.JSONField(default=dict, blank=True)

    objects = HandQuerySet.as_manager()

    class Meta:
        ordering = ["side", "-measured_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(largest__gte=F("comfortable")), name="hand_largest_not_below_comfortable"
            ),
            models.UniqueConstraint(fields=["student", "side", "measured_on"], name="one_hand_a_day"),
        ]

    def __str__(self) -> str:
        return f"{self.get_side_display()}, {self.measured_on}"
