"""The practice log."""

import uuid

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from lessons.models.assignments import TEMPO, AssignedPassage
from scores.models import Standing, StandingQuerySet
from studio.models import Student, StudioRow, User


class PracticeEntry(Standing, StudioRow):
    """One record of work on one day. `key` comes from whoever sends it, so that an entry sent twice is kept once."""

    key = models.UUIDField(unique=True, default=uuid.uuid4)
    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="practice")
    assigned = models.ForeignKey(
        AssignedPassage, on_delete=models.SET_NULL, null=True, blank=True, related_name="practice"
    )
    day = models.DateField(_("day"))
    minutes = models.PositiveSmallIntegerField(_("minutes"), validators=[MinValueValidator(1), MaxValueValidator(600)])
    tempo = models.PositiveSmallIntegerField(_("tempo"), null=True, blank=True, validators=TEMPO)
    clean_runs = models.PositiveSmallIntegerField(
        _("clean runs"), null=True, blank=True, validators=[MaxValueValidator(999)]
    )
    tries = models.PositiveSmallIntegerField(_("tries"), null=True, blank=True, validators=[MaxValueValidator(999)])
    remark = models.CharField(_("remark"), max_length=500, blank=True)
    entered_by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    entered_at = models.DateTimeField(auto_now_add=True)

    objects = StandingQuerySet.as_manager()

    class Meta:
        ordering = ["-day", "-pk"]
        indexes = [models.Index(fields=["student", "-day"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(clean_runs__isnull=True, tries__isnull=True) | Q(clean_runs__lte=F("tries")),
                name="clean_runs_out_of_tries",
            )
        ]

    def __str__(self) -> str:
        return f"{self.day}: {self.minutes} min"
