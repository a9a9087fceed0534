"""Students and those who answer for them."""

from typing import Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from studio.models.studio import StudioRow, User


class StudentQuerySet(models.QuerySet["Student"]):
    def current(self) -> Self:
        """Students who still come to lessons."""
        return self.filter(left_on=None)


class Student(StudioRow):
    """Someone who is taught. May be too young for a login; then `user` is None."""

    name = models.CharField(_("name"), max_length=120)
    user = models.OneToOneField(User, on_delete=models.SET_NULL, null=True, blank=True, related_name="student")
    remark = models.TextField(_("remark"), blank=True, help_text=_("For you alone; nobody else sees it."))
    left_on = models.DateField(_("left on"), null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = StudentQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class Guardian(StudioRow):
    """Answers for one or more students."""

    name = models.CharField(_("name"), max_length=120)
    email = models.EmailField(_("e-mail"), blank=True)
    user = models.OneToOneField(User, on_delete=models.SET_NULL, null=True, blank=True, related_name="guardian")
    students = models.ManyToManyField(Student, related_name="guardians")

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name
