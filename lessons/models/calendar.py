"""What the calendar of lessons is made of: slots that repeat, days without lessons, hours that are free or taken."""

from datetime import date
from typing import Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from scores.models import Standing, StandingQuerySet
from studio.models import Student, Studio, StudioRow

MINUTES = [MinValueValidator(5), MaxValueValidator(480)]


class Where(models.TextChoices):
    STUDIO = "studio", _("at the studio")
    HOME = "home", _("at the student's home")
    ONLINE = "online", _("online")


class Slot(Standing, StudioRow):
    """A lesson that repeats. `first_day` and `at` are wall-clock time in the studio's time zone and stay so across
    daylight saving; `rule` is an RFC 5545 recurrence rule without DTSTART ("FREQ=WEEKLY;INTERVAL=2;COUNT=10"), ""
    for one that falls once. With `in_terms` it falls in the studio's terms only.

    `left_out` names meetings that were taken out one by one, as "2026-11-30/17": the day by the rule, and the student.
    Two or more students make it a pair or group lesson. A change "from this week on" ends this slot and begins another,
    which names it in `follows`. `sequence` counts changes, as iCalendar does.
    """

    students = models.ManyToManyField(Student, related_name="slots")
    name = models.CharField(_("name"), max_length=80, blank=True, help_text=_("For a pair or a group, if it has one."))
    first_day = models.DateField(_("first day"))
    at = models.TimeField(_("begins at"))
    minutes = models.PositiveSmallIntegerField(_("minutes"), default=45, validators=MINUTES)
    rule = models.CharField(max_length=300, blank=True)
    in_terms = models.BooleanField(_("in terms only"), default=False)
    where = models.CharField(_("where"), max_length=6, choices=Where, default=Where.STUDIO)
    place = models.CharField(_("place"), max_length=120, blank=True, help_text=_("Room, address or link."))
    follows = models.ForeignKey("self", on_delete=models.SET_NULL, null=True, blank=True, related_name="followed_by")
    left_out = models.JSONField(default=list, blank=True)
    sequence = models.PositiveIntegerField(default=0)
    created_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)

    objects = StandingQuerySet.as_manager()

    class Meta:
        ordering = ["first_day", "at", "pk"]

    def __str__(self) -> str:
        return self.name or f"{self.first_day} {self.at:%H:%M}"


class Timetable(StudioRow):
    """What the week reckons with: how many minutes the teacher is on the way from one place to another."""

    studio = models.OneToOneField(Studio, on_delete=models.CASCADE, related_name="timetable")
    travel_minutes = models.PositiveSmallIntegerField(
        _("minutes on the way"), default=15, validators=[MaxValueValidator(240)]
    )

    def __str__(self) -> str:
        return f"{self.travel_minutes} min"


class DayRangeQuerySet(models.QuerySet):
    def touching(self, first: date, last: date) -> Self:
        """Those that have a day between `first` and `last`, both included."""
        return self.filter(first_day__lte=last, last_day__gte=first)


class DayRange(StudioRow):
    """Days from the first to the last, both included."""

    first_day = models.DateField(_("first day"))
    last_day = models.DateField(_("last day"))

    objects = DayRangeQuerySet.as_manager()

    class Meta:
        abstract = True


class Holiday(DayRange):
    """Days on which the studio is closed; slots do not fall on them."""

    name = models.CharField(_("name"), max_length=80)

    class Meta:
        ordering = ["first_day", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(last_day__gte=F("first_day")), name="a_holiday_ends_after_it_begins")
        ]

    def __str__(self) -> str:
        return self.name


class Absence(DayRange):
    """Days on which a student does not come."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="absences")
    reason = models.CharField(_("reason"), max_length=200, blank=True)
    told_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["first_day", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(last_day__gte=F("first_day")), name="an_absence_ends_after_it_begins")
        ]

    def __str__(self) -> str:
        return f"{self.first_day} – {self.last_day}"


class FreeHours(StudioRow):
    """A stretch of one weekday (0 is Monday) in which the student, or with no student the teacher, could have a lesson;
    wall-clock time in the studio's time zone."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE, null=True, blank=True, related_name="free_hours")
    weekday = models.PositiveSmallIntegerField(_("weekday"), validators=[MaxValueValidator(6)])
    begins = models.TimeField(_("from"))
    ends = models.TimeField(_("to"))

    class Meta:
        ordering = ["weekday", "begins", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(ends__gt=F("begins")), name="free_hours_end_after_they_begin"),
            models.CheckConstraint(condition=Q(weekday__lte=6), name="free_hours_on_a_day_of_the_week"),
        ]

    def __str__(self) -> str:
        return f"{self.weekday} {self.begins:%H:%M}–{self.ends:%H:%M}"


class BusyTime(StudioRow):
    """A time at which the teacher is taken, read from a calendar file. `source` names the file, `uid` the event in it:
    reading the file again replaces what came from it before."""

    source = models.CharField(max_length=120)
    uid = models.CharField(max_length=300)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    label = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["starts_at", "pk"]
        indexes = [models.Index(fields=["studio", "starts_at"])]
        constraints = [
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="a_busy_time_ends_after_it_begins"),
            models.UniqueConstraint(fields=["studio", "source", "uid", "starts_at"], name="a_busy_time_once_a_source"),
        ]

    def __str__(self) -> str:
        return self.label or f"{self.starts_at:%Y-%m-%d %H:%M}"
