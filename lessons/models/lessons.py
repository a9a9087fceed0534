"""Lessons: the meetings of a student and the teacher."""

from datetime import datetime, timedelta
from typing import Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from lessons.models.attendance import Attendance
from lessons.models.calendar import Slot, Where
from studio.models import Student, StudioRow


class LessonQuerySet(models.QuerySet["Lesson"]):
    def upcoming(self, *, at: datetime) -> Self:
        return self.filter(starts_at__gte=at).order_by("starts_at", "pk")

    def past(self, *, at: datetime) -> Self:
        return self.filter(starts_at__lt=at).order_by("-starts_at", "-pk")

    def held(self) -> Self:
        """Those that were not cancelled."""
        return self.filter(cancelled_at=None)


class Lesson(StudioRow):
    """One meeting, of one student: those who come together to a pair or group lesson have a row each.

    `notes` is what was said, for student and guardian too; `private_notes` the teacher's own. `slot` and `meant_for`
    say which lesson of which slot it is, wherever it was moved to; both are None for one planned by itself. A cancelled
    lesson stays, with its `attendance`. `sequence` counts changes of time and place, as iCalendar does; `revision`
    changes of what is written in it, so that a second open window does not write over the first.
    """

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="lessons")
    starts_at = models.DateTimeField(_("begins"))
    minutes = models.PositiveSmallIntegerField(
        _("minutes"), default=45, validators=[MinValueValidator(5), MaxValueValidator(480)]
    )
    where = models.CharField(_("where"), max_length=6, choices=Where, default=Where.STUDIO)
    place = models.CharField(_("place"), max_length=120, blank=True)
    slot = models.ForeignKey(Slot, on_delete=models.SET_NULL, null=True, blank=True, related_name="lessons")
    meant_for = models.DateTimeField(null=True, blank=True)
    attendance = models.CharField(
        _("attendance"), max_length=8, choices=Attendance, blank=True, default=Attendance.UNSAID
    )
    minutes_late = models.PositiveSmallIntegerField(_("minutes late"), null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    makes_up_for = models.ForeignKey(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="made_up_by"
    )
    sequence = models.PositiveIntegerField(default=0)
    revision = models.PositiveIntegerField(default=0)
    notes = models.TextField(_("lesson notes"), blank=True)
    private_notes = models.TextField(_("your own notes"), blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = LessonQuerySet.as_manager()

    class Meta:
        ordering = ["starts_at", "pk"]
        indexes = [models.Index(fields=["studio", "starts_at"])]
        constraints = [
            models.UniqueConstraint(fields=["slot", "meant_for", "student"], name="a_lesson_of_a_slot_once_a_student")
        ]

    def __str__(self) -> str:
        return f"{self.student}, {self.starts_at:%Y-%m-%d %H:%M}"

    @property
    def ends_at(self) -> datetime:
        return self.starts_at + timedelta(minutes=self.minutes)
