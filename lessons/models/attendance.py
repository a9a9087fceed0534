"""Who was there, what the studio's policy makes of it, and the make-up credits that come of it."""

from django.core.validators import MaxValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from studio.models import Student, Studio, StudioRow, User


class Attendance(models.TextChoices):
    UNSAID = "", _("not said")
    PRESENT = "present", _("present")
    LATE = "late", _("late")
    CANCELLED_IN_TIME = "in-time", _("cancelled in time")
    CANCELLED_LATE = "too-late", _("cancelled late")
    MISSED = "missed", _("missed")
    TEACHER_CANCELLED = "teacher", _("cancelled by the teacher")


CANCELLED = (Attendance.CANCELLED_IN_TIME, Attendance.CANCELLED_LATE, Attendance.TEACHER_CANCELLED)


class Consequence(models.TextChoices):
    CHARGE = "charge", _("the lesson is charged")
    CREDIT = "credit", _("charged, and a make-up lesson is owed")
    NEITHER = "neither", _("neither")


class Policy(StudioRow):
    """The studio's policy: `words` as families read it, and the rules that turn attendance into a charge, a make-up
    credit or neither. `rules` maps `Attendance` to `Consequence`; one that is not there follows `USUAL`.

    `notice_hours`: a lesson cancelled at least so long before is cancelled in time. `credit_days`: how long a credit
    holds; None for ever. What families may do themselves: `may_cancel`, `may_move`, and how often in a term
    (`changes_a_term`, None without limit); beyond it the teacher is asked, and so she is by a student who has guardians
    unless `students_too`.
    """

    USUAL = {
        Attendance.PRESENT: Consequence.CHARGE,
        Attendance.LATE: Consequence.CHARGE,
        Attendance.CANCELLED_IN_TIME: Consequence.CREDIT,
        Attendance.CANCELLED_LATE: Consequence.CHARGE,
        Attendance.MISSED: Consequence.CHARGE,
        Attendance.TEACHER_CANCELLED: Consequence.NEITHER,
    }

    studio = models.OneToOneField(Studio, on_delete=models.CASCADE, related_name="policy")
    words = models.TextField(_("the policy in your words"), blank=True)
    rules = models.JSONField(default=dict, blank=True)
    notice_hours = models.PositiveSmallIntegerField(
        _("hours of notice"), default=24, validators=[MaxValueValidator(720)]
    )
    credit_days = models.PositiveSmallIntegerField(_("days a credit holds"), null=True, blank=True, default=90)
    may_cancel = models.BooleanField(_("families may cancel a lesson themselves"), default=False)
    may_move = models.BooleanField(_("families may move a lesson themselves"), default=False)
    students_too = models.BooleanField(_("students who have a guardian may do so without her"), default=False)
    changes_a_term = models.PositiveSmallIntegerField(_("changes a term"), null=True, blank=True)

    def __str__(self) -> str:
        return self.words[:60]

    def consequence(self, attendance: str) -> Consequence:
        """What follows from an attendance; nothing from one that was not said."""
        kept = self.rules.get(attendance) or self.USUAL.get(attendance)
        return Consequence(kept or Consequence.NEITHER)


class CreditEntry(StudioRow):
    """One line of the ledger of make-up lessons: `lessons` is +1 for one owed, -1 for one used, lapsed or taken back.
    Nothing is edited away: a correction is a line of its own. `once` keeps a line from being written twice."""

    class Kind(models.TextChoices):
        EARNED = "earned", _("owed for a lesson")
        USED = "used", _("used for a make-up lesson")
        LAPSED = "lapsed", _("lapsed")
        CORRECTED = "corrected", _("corrected by the teacher")

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="credit_entries")
    kind = models.CharField(max_length=9, choices=Kind)
    lessons = models.SmallIntegerField()
    day = models.DateField()
    expires_on = models.DateField(null=True, blank=True)
    lesson = models.ForeignKey(
        "Lesson", on_delete=models.SET_NULL, null=True, blank=True, related_name="credit_entries"
    )
    of = models.ForeignKey("self", on_delete=models.RESTRICT, null=True, blank=True, related_name="spent_by")
    remark = models.CharField(_("remark"), max_length=200, blank=True)
    once = models.CharField(max_length=120)
    written_by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    written_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["day", "pk"]
        constraints = [models.UniqueConstraint(fields=["studio", "once"], name="a_credit_entry_once")]

    def __str__(self) -> str:
        return f"{self.day} {self.get_kind_display()} {self.lessons:+d}"
