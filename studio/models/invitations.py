"""Invitations to log in, for students and guardians."""

from datetime import datetime
from typing import Self

from django.db import models
from django.db.models import Q

from studio.models.people import Guardian, Student
from studio.models.studio import StudioRow


class InvitationQuerySet(models.QuerySet["Invitation"]):
    def open(self, *, at: datetime) -> Self:
        """Neither used nor taken back nor too old at this moment."""
        return self.filter(used_at=None, revoked_at=None, expires_at__gt=at)


class Invitation(StudioRow):
    """A link by which one person makes a login. Only a hash of its token is kept, so a stolen table opens nothing."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE, null=True, related_name="invitations")
    guardian = models.ForeignKey(Guardian, on_delete=models.CASCADE, null=True, related_name="invitations")
    email = models.EmailField(blank=True)
    token_hash = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)
    revoked_at = models.DateTimeField(null=True)

    objects = InvitationQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(student__isnull=False, guardian__isnull=True)
                | Q(student__isnull=True, guardian__isnull=False),
                name="invitation_is_for_one_person",
            )
        ]

    def __str__(self) -> str:
        return f"for {self.student or self.guardian}"
