"""What families ask of the calendar, who waits for a time and what is offered, who is told what, and the links to
calendar feeds."""

from datetime import datetime, timedelta

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from lessons.models.calendar import MINUTES, Where
from lessons.models.lessons import Lesson
from studio.models import Guardian, Student, StudioRow, User


class Asked(StudioRow):
    """A family asks to move or cancel a lesson. The rules decide at once (`by_rule`), or the teacher does later, with a
    word in `why`. `wanted` is the time asked for; None leaves it to the teacher."""

    class Kind(models.TextChoices):
        MOVE = "move", _("move")
        CANCEL = "cancel", _("cancel")

    class Answer(models.TextChoices):
        WAITING = "", _("waiting for the teacher")
        GRANTED = "granted", _("granted")
        REFUSED = "refused", _("refused")
        WITHDRAWN = "withdrawn", _("withdrawn")

    lesson = models.ForeignKey(Lesson, on_delete=models.CASCADE, related_name="asked")
    asked_by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    kind = models.CharField(max_length=6, choices=Kind)
    wanted = models.DateTimeField(_("to"), null=True, blank=True)
    remark = models.CharField(_("a word to the teacher"), max_length=300, blank=True)
    answer = models.CharField(max_length=9, choices=Answer, default=Answer.WAITING, blank=True)
    why = models.CharField(max_length=300, blank=True)
    asked_at = models.DateTimeField(default=timezone.now)
    answered_at = models.DateTimeField(null=True, blank=True)
    by_rule = models.BooleanField(default=False)

    class Meta:
        ordering = ["-asked_at", "-pk"]
        indexes = [models.Index(fields=["studio", "answer"])]
        constraints = [
            models.UniqueConstraint(fields=["lesson"], condition=Q(answer=""), name="a_lesson_waits_for_one_answer")
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.lesson_id}"


class Waiting(StudioRow):
    """A student who would take a freed time: any that her free hours hold and that is long enough."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="waiting")
    minutes = models.PositiveSmallIntegerField(_("minutes"), default=45, validators=MINUTES)
    remark = models.CharField(_("remark"), max_length=200, blank=True)
    until = models.DateField(_("until"), null=True, blank=True)
    since = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["since", "pk"]
        constraints = [models.UniqueConstraint(fields=["student"], name="a_student_waits_once")]

    def __str__(self) -> str:
        return str(self.student)


class Offer(StudioRow):
    """A freed time that was offered to one student who waits. The first to accept has it; `lesson` is the one that was
    planned then. `weekly`: every week from that day on, not once."""

    class State(models.TextChoices):
        OPEN = "", _("offered")
        TAKEN = "taken", _("taken")
        GONE = "gone", _("given to someone else")
        WITHDRAWN = "withdrawn", _("taken back")

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="offers")
    starts_at = models.DateTimeField(_("begins"))
    minutes = models.PositiveSmallIntegerField(_("minutes"), validators=MINUTES)
    where = models.CharField(_("where"), max_length=6, choices=Where, default=Where.STUDIO)
    place = models.CharField(_("place"), max_length=120, blank=True)
    weekly = models.BooleanField(_("every week"), default=False)
    state = models.CharField(max_length=9, choices=State, default=State.OPEN, blank=True)
    made_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    answered_at = models.DateTimeField(null=True, blank=True)
    lesson = models.OneToOneField(Lesson, on_delete=models.SET_NULL, null=True, blank=True, related_name="offer")

    class Meta:
        ordering = ["starts_at", "pk"]
        indexes = [models.Index(fields=["studio", "state", "starts_at"])]
        constraints = [
            models.UniqueConstraint(
                fields=["student", "starts_at"], condition=Q(state=""), name="a_time_is_offered_once_a_student"
            )
        ]

    def __str__(self) -> str:
        return f"{self.student_id}, {self.starts_at:%Y-%m-%d %H:%M}"

    @property
    def ends_at(self) -> datetime:
        return self.starts_at + timedelta(minutes=self.minutes)


class NoticeWish(StudioRow):
    """Which mails one person wants: someone who logs in, or a guardian who has an address alone. Without a row the
    defaults hold."""

    user = models.OneToOneField(User, on_delete=models.CASCADE, null=True, blank=True, related_name="notice_wish")
    guardian = models.OneToOneField(
        Guardian, on_delete=models.CASCADE, null=True, blank=True, related_name="notice_wish"
    )
    changes = models.BooleanField(_("when a lesson is moved or cancelled"), default=True)
    reminders = models.BooleanField(_("a reminder before each lesson"), default=False)
    hours_before = models.PositiveSmallIntegerField(
        _("hours before"), default=24, validators=[MinValueValidator(1), MaxValueValidator(168)]
    )
    tuition = models.BooleanField(_("about tuition"), default=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(user__isnull=False) ^ Q(guardian__isnull=False), name="a_wish_is_one_persons"
            )
        ]

    def __str__(self) -> str:
        return str(self.user or self.guardian)


class Notice(StudioRow):
    """A mail that was sent, or is to be sent, to one person; `once` keeps it from going out twice."""

    once = models.CharField(max_length=160)
    user = models.ForeignKey(User, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    to = models.EmailField()
    subject = models.CharField(max_length=200)
    due_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    trouble = models.CharField(max_length=300, blank=True)
    content = models.JSONField(default=dict)

    class Meta:
        ordering = ["due_at", "pk"]
        indexes = [models.Index(fields=["sent_at", "due_at"])]
        constraints = [models.UniqueConstraint(fields=["studio", "once"], name="a_notice_once")]

    def __str__(self) -> str:
        return self.subject


class Feed(StudioRow):
    """A calendar feed of one person. The link is signed from the row and `nonce`; a new nonce or `revoked_at` ends it.
    So no link can be read from the database alone."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="feeds")
    nonce = models.CharField(max_length=43)
    made_at = models.DateTimeField(auto_now_add=True)
    read_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return str(self.user)
