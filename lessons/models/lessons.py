"""Lessons: the meetings of a student and the teacher."""

from datetime import datetime, timedelta
from typing import Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from studio.models import Student, StudioRow


class LessonQuerySet(models.QuerySet["Lesson"]):
    def upcoming(self, *, at: datetime) -> Self:
        return self.filter(starts_at__gte=at).order_by("starts_at", "pk")

    def past(self, *, at: datetime) -> Self:
        return self.filter(starts_at__lt=at).order_by("-starts_at", "-pk")


class Lesson(StudioRow):
    """One meeting. `notes` is what was said, for student and guardian too; `private_notes` the teacher's own."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="lessons")
    starts_at = models.DateTimeField(_("begins"))
    minutes = models.PositiveSmallIntegerField(
        _("minutes"), default=45, validators=[MinValueValidator(5), MaxValueValidator(480)]
    )
    place = models.CharField(_("place"), max_length=120, blank=True)
    notes = models.TextField(_("lesson notes"), blank=True)
    private_notes = models.TextField(_("your own notes"), blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = LessonQuerySet.as_manager()

    class Meta:
        ordering = ["starts_at", "pk"]
        indexes = [models.Index(fields=["studio", "starts_at"])]

    def __str__(self) -> str:
        return f"{self.student}, {self.starts_at:%Y-%m-%d %H:%M}"

    @property
    def ends_at(self) -> datetime:
        return self.starts_at + timedelta(minutes=self.minutes)
