"""The studio itself and those who log in to it."""

import zoneinfo

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.db import models
from django.utils.translation import gettext_lazy as _


def check_timezone(name: str) -> None:
    """Raises `ValidationError` for a name that the IANA time zone database does not have."""
    if name not in zoneinfo.available_timezones():
        raise ValidationError(_("“%(name)s” is no time zone. An example is Europe/Helsinki."), params={"name": name})


class Paper(models.TextChoices):
    A4 = "A4", _("A4")
    LETTER = "Letter", _("Letter")


class Studio(models.Model):
    """One teacher's practice: its people, music, calendar and money."""

    name = models.CharField(_("name"), max_length=120)
    timezone = models.CharField(_("time zone"), max_length=64, default="UTC", validators=[check_timezone])
    currency = models.CharField(
        _("currency"),
        max_length=3,
        default="EUR",
        validators=[RegexValidator(r"^[A-Z]{3}$", _("Three capital letters as in ISO 4217, for example EUR."))],
    )
    locale = models.CharField(_("numbers and dates"), max_length=20, default="en", blank=True)
    paper = models.CharField(_("paper"), max_length=8, choices=Paper, default=Paper.A4)
    created_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return self.name


class StudioRow(models.Model):
    """A row that belongs to one studio."""

    studio = models.ForeignKey(Studio, on_delete=models.CASCADE, related_name="+")

    class Meta:
        abstract = True


class Role(models.TextChoices):
    TEACHER = "teacher", _("teacher")
    STUDENT = "student", _("student")
    GUARDIAN = "guardian", _("guardian")


class UserManager(BaseUserManager["User"]):
    """Makes users; e-mail addresses are kept in lower case, so that one address is one login."""

    def get_queryset(self) -> models.QuerySet["User"]:
        """With the studio, of which every page tells the time."""
        return super().get_queryset().select_related("studio")

    def get_by_natural_key(self, email: str) -> "User":
        return self.get(email=email.strip().lower())

    def create_user(self, *, email: str, password: str | None, **fields: object) -> "User":
        user = self.model(email=email.strip().lower(), **fields)
        user.set_password(password)
        user.save()
        return user


class User(AbstractBaseUser):
    """Someone who logs in: one e-mail address, one studio, one role in it."""

    email = models.EmailField(_("e-mail"), unique=True)
    name = models.CharField(_("name"), max_length=120)
    studio = models.ForeignKey(Studio, on_delete=models.CASCADE, related_name="users")
    role = models.CharField(max_length=8, choices=Role)
    is_active = models.BooleanField(default=True)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = UserManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def is_teacher(self) -> bool:
        return self.role == Role.TEACHER

    @property
    def is_student(self) -> bool:
        return self.role == Role.STUDENT

    @property
    def is_guardian(self) -> bool:
        return self.role == Role.GUARDIAN
