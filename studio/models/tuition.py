"""Tuition: accounts of families, plans and their prices, and a ledger of charges and payments.

Amounts are whole numbers of the currency's smallest unit (`studio.money`). Charges, payments and invoices stand as
written: a correction is an entry of its own. The database refuses to change them (see the migration).
"""

from datetime import date
from typing import Any, Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from studio.models.people import Guardian, Student
from studio.models.studio import Studio, StudioRow, User

PERCENT = [MinValueValidator(0), MaxValueValidator(100)]


class Billing(StudioRow):
    """What stands on the studio's invoices, and the number of the last one. Without a row the defaults hold."""

    studio = models.OneToOneField(Studio, on_delete=models.CASCADE, related_name="billing")
    address = models.TextField(_("your address"), blank=True)
    words = models.TextField(_("how to pay"), blank=True)
    due_days = models.PositiveSmallIntegerField(_("days to pay"), default=14, validators=[MaxValueValidator(365)])
    tax_name = models.CharField(_("tax"), max_length=40, blank=True)
    tax_rate = models.DecimalField(
        _("rate in percent"), max_digits=5, decimal_places=2, null=True, blank=True, validators=PERCENT
    )
    tax_number = models.CharField(_("tax number"), max_length=60, blank=True)
    by_itself = models.BooleanField(_("charges are written every day without being asked"), default=True)
    last_number = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return str(self.studio_id)


class Discount(StudioRow):
    """What siblings on one account get off from a day on; two rates of zero end an earlier discount."""

    class Order(models.TextChoices):
        JOINED = "joined", _("who joined first pays in full")
        DEAREST = "dearest", _("who has the dearest plan pays in full")

    from_day = models.DateField(_("from"))
    order = models.CharField(_("order"), max_length=7, choices=Order, default=Order.JOINED)
    second = models.DecimalField(_("second child, percent off"), max_digits=5, decimal_places=2, validators=PERCENT)
    further = models.DecimalField(
        _("each further child, percent off"), max_digits=5, decimal_places=2, validators=PERCENT
    )

    class Meta:
        ordering = ["from_day", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["studio", "from_day"], name="a_discount_a_day"),
            models.CheckConstraint(
                condition=Q(second__gte=0, second__lte=100, further__gte=0, further__lte=100),
                name="a_discount_is_a_percentage",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.from_day}: {self.second} / {self.further}"


class Account(StudioRow):
    """Who pays: a family, or a student who pays for herself. Guardians named here may read it, nobody else."""

    name = models.CharField(_("name"), max_length=120)
    guardians = models.ManyToManyField(Guardian, related_name="accounts", blank=True)
    email = models.EmailField(_("e-mail"), blank=True)
    address = models.TextField(_("address"), blank=True)
    no_reminders = models.BooleanField(_("wants no reminders by e-mail"), default=False)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class Plan(StudioRow):
    """How tuition is asked. `lessons` is the size of a package. `divided` says what a part of a month or term costs."""

    class Per(models.TextChoices):
        LESSON = "lesson", _("per lesson")
        MONTH = "month", _("per month")
        TERM = "term", _("per term")
        PACKAGE = "package", _("a package of lessons")

    class Divided(models.TextChoices):
        DAYS = "days", _("by days")
        LESSONS = "lessons", _("by lesson days")
        WHOLE = "whole", _("not at all: the whole amount")

    name = models.CharField(_("name"), max_length=80)
    per = models.CharField(_("asked"), max_length=7, choices=Per, default=Per.MONTH)
    lessons = models.PositiveSmallIntegerField(
        _("lessons in a package"), null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(200)]
    )
    divided = models.CharField(
        _("when somebody joins or leaves within a month or term, it is divided"),
        max_length=7,
        choices=Divided,
        default=Divided.DAYS,
    )
    retired = models.BooleanField(_("not offered any more"), default=False)

    class Meta:
        ordering = ["retired", "name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(per="package", lessons__isnull=False, lessons__gte=1)
                | (~Q(per="package") & Q(lessons__isnull=True)),
                name="a_package_and_nothing_else_has_a_size",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def price_on(self, day: date) -> "Price | None":
        """The price that holds on a day; None before the first."""
        held = [price for price in self.prices.all() if price.from_day <= day]
        return max(held, key=lambda price: price.from_day, default=None)


class Price(StudioRow):
    """A plan's price from a day on, until the next."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="prices")
    from_day = models.DateField(_("from"))
    minor = models.BigIntegerField()

    class Meta:
        ordering = ["from_day", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "from_day"], name="a_price_a_day"),
            models.CheckConstraint(condition=Q(minor__gte=0), name="a_price_is_not_below_zero"),
        ]

    def __str__(self) -> str:
        return f"{self.from_day}: {self.minor}"


class EnrolmentQuerySet(models.QuerySet["Enrolment"]):
    def on(self, day: date) -> Self:
        return self.filter(first_day__lte=day).filter(Q(last_day=None) | Q(last_day__gte=day))


class Enrolment(StudioRow):
    """A student's plan, on somebody's account, from the first day to the last, both included; one at a time."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="enrolments")
    account = models.ForeignKey(Account, on_delete=models.RESTRICT, related_name="enrolments")
    plan = models.ForeignKey(Plan, on_delete=models.RESTRICT, related_name="enrolments")
    first_day = models.DateField(_("first day"))
    last_day = models.DateField(_("last day"), null=True, blank=True)

    objects = EnrolmentQuerySet.as_manager()

    class Meta:
        ordering = ["first_day", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day=None) | Q(last_day__gte=F("first_day")), name="an_enrolment_ends_after_it_begins"
            ),
            models.UniqueConstraint(
                fields=["student"], condition=Q(last_day=None), name="one_open_enrolment_a_student"
            ),
            models.UniqueConstraint(fields=["student", "first_day"], name="one_enrolment_a_first_day"),
        ]

    def __str__(self) -> str:
        return f"{self.student_id}: {self.plan_id} from {self.first_day}"

    def covers(self, day: date) -> bool:
        return self.first_day <= day and (self.last_day is None or day <= self.last_day)


class WrittenOnce(Exception):
    """Somebody tried to change what stands as written."""


class StandingEntries(models.QuerySet):
    def update(self, **fields: Any) -> int:
        raise WrittenOnce("an entry stands as written; a correction is an entry of its own")


class Entry(StudioRow):
    """One line of the ledger, in minor units of its currency. `once` keeps the same thing from being written twice."""

    account = models.ForeignKey(Account, on_delete=models.RESTRICT, related_name="%(class)ss")
    minor = models.BigIntegerField()
    currency = models.CharField(max_length=3)
    day = models.DateField(_("day"))
    once = models.CharField(max_length=120)
    written_by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    written_at = models.DateTimeField(auto_now_add=True)

    objects = StandingEntries.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **options: Any) -> None:
        """Raises `WrittenOnce` for a row that is there already."""
        if not self._state.adding:
            raise WrittenOnce("an entry stands as written; a correction is an entry of its own")
        super().save(*args, **options)


class Charge(Entry):
    """Money owed; an adjustment or a taken-back charge may be below zero. `about` names what it is for ("lesson-12"),
    so that later entries about the same thing can be told; `by_rule`: written by the rules, not by hand."""

    class Kind(models.TextChoices):
        TUITION = "tuition", _("tuition")
        MATERIALS = "materials", _("materials")
        RECITAL = "recital", _("recital")
        ADJUSTMENT = "adjustment", _("adjustment")

    kind = models.CharField(_("kind"), max_length=10, choices=Kind)
    student = models.ForeignKey(Student, on_delete=models.RESTRICT, null=True, blank=True, related_name="charges")
    text = models.CharField(_("for"), max_length=200)
    first_day = models.DateField(null=True, blank=True)
    last_day = models.DateField(null=True, blank=True)
    about = models.CharField(max_length=80, blank=True)
    by_rule = models.BooleanField(default=False)
    reverses = models.OneToOneField(
        "self", on_delete=models.RESTRICT, null=True, blank=True, related_name="reversed_by"
    )

    class Meta:
        ordering = ["day", "pk"]
        indexes = [
            models.Index(fields=["account", "day"], name="studio_charge_account_day"),
            models.Index(fields=["studio", "about"], name="studio_charge_about"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["studio", "once"], name="a_charge_once"),
            models.CheckConstraint(
                condition=Q(minor__gt=0) | (Q(minor__lt=0) & Q(kind="adjustment")),
                name="only_an_adjustment_takes_off",
            ),
            models.CheckConstraint(
                condition=Q(reverses=None) | Q(kind="adjustment"), name="taking_back_is_an_adjustment"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.day} {self.text} {self.minor}"


class Payment(Entry):
    """Money received; below zero, money given back."""

    class Method(models.TextChoices):
        TRANSFER = "transfer", _("transfer")
        CASH = "cash", _("cash")
        CHEQUE = "cheque", _("cheque")
        CARD = "card", _("card, taken elsewhere")

    method = models.CharField(_("method"), max_length=8, choices=Method, default=Method.TRANSFER)
    reference = models.CharField(_("reference"), max_length=120, blank=True)
    is_refund = models.BooleanField(default=False)
    reverses = models.OneToOneField(
        "self", on_delete=models.RESTRICT, null=True, blank=True, related_name="reversed_by"
    )

    class Meta:
        ordering = ["day", "pk"]
        indexes = [models.Index(fields=["account", "day"], name="studio_payment_account_day")]
        constraints = [
            models.UniqueConstraint(fields=["studio", "once"], name="a_payment_once"),
            models.CheckConstraint(
                condition=Q(minor__gt=0, is_refund=False) | Q(minor__lt=0, is_refund=True) | ~Q(reverses=None),
                name="only_a_refund_is_below_zero",
            ),
            models.CheckConstraint(condition=~Q(minor=0), name="a_payment_is_not_nothing"),
        ]

    def __str__(self) -> str:
        return f"{self.day} {self.get_method_display()} {self.minor}"


class PackageEntry(StudioRow):
    """The countdown of a package: +10 when one is charged, -1 for each lesson, +1 where a lesson is given back."""

    enrolment = models.ForeignKey(Enrolment, on_delete=models.RESTRICT, related_name="package_entries")
    lessons = models.SmallIntegerField()
    day = models.DateField()
    about = models.CharField(max_length=80)
    once = models.CharField(max_length=120)
    charge = models.ForeignKey(Charge, on_delete=models.RESTRICT, null=True, blank=True, related_name="package_entries")
    written_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["day", "pk"]
        constraints = [models.UniqueConstraint(fields=["studio", "once"], name="a_package_entry_once")]

    def __str__(self) -> str:
        return f"{self.day} {self.lessons:+d}"


class Invoice(StudioRow):
    """Numbered from one without a gap, studio by studio. `content` and `pdf` stay as they were made."""

    account = models.ForeignKey(Account, on_delete=models.RESTRICT, related_name="invoices")
    number = models.PositiveIntegerField()
    day = models.DateField()
    due_on = models.DateField()
    minor = models.BigIntegerField()
    currency = models.CharField(max_length=3)
    content = models.JSONField()
    pdf = models.BinaryField()
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["studio", "number"], name="an_invoice_number_once"),
            models.CheckConstraint(condition=Q(number__gte=1), name="invoices_are_numbered_from_one"),
        ]

    def __str__(self) -> str:
        return str(self.number)


class InvoiceLine(models.Model):
    """Which charges stand on which invoice: each on one at most."""

    invoice = models.ForeignKey(Invoice, on_delete=models.CASCADE, related_name="lines")
    charge = models.OneToOneField(Charge, on_delete=models.RESTRICT, related_name="invoice_line")

    def __str__(self) -> str:
        return f"{self.invoice_id}: {self.charge_id}"


class Reminder(StudioRow):
    """A reminder that was sent by e-mail, with its words; `once` keeps it from going out twice."""

    account = models.ForeignKey(Account, on_delete=models.CASCADE, related_name="reminders")
    to = models.TextField()
    subject = models.CharField(max_length=200)
    text = models.TextField()
    once = models.CharField(max_length=120)
    written_by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    written_at = models.DateTimeField(auto_now_add=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    trouble = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-written_at", "-pk"]
        constraints = [models.UniqueConstraint(fields=["studio", "once"], name="a_reminder_once")]

    def __str__(self) -> str:
        return self.subject
