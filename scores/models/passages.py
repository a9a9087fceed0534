"""Passages: what is worth a note."""

from typing import Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from scores.models.repertoire import Edition
from studio.models import StudioRow


class Standing(models.Model):
    """A row that can be taken away and brought back: `removed_at` is None while it stands."""

    removed_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        abstract = True


class StandingQuerySet(models.QuerySet):
    def standing(self) -> Self:
        """What has not been taken away."""
        return self.filter(removed_at=None)


class Hands(models.TextChoices):
    RIGHT = "right", _("right hand")
    LEFT = "left", _("left hand")
    BOTH = "both", _("both hands")


class Passage(Standing, StudioRow):
    """A range of an edition, one hand or both, from the moment of one note to the moment of another.

    Measures are indexes into the score; the printed numbers and beats beside them are copied, since an edition's
    music never changes.
    """

    edition = models.ForeignKey(Edition, on_delete=models.CASCADE, related_name="passages")
    hands = models.CharField(_("hands"), max_length=5, choices=Hands)
    first_note = models.CharField(max_length=80)
    last_note = models.CharField(max_length=80)
    first_measure = models.PositiveIntegerField()
    last_measure = models.PositiveIntegerField()
    first_number = models.CharField(max_length=12)
    last_number = models.CharField(max_length=12)
    first_beat = models.CharField(max_length=12)
    last_beat = models.CharField(max_length=12)
    name = models.CharField(_("name"), max_length=120, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = StandingQuerySet.as_manager()

    class Meta:
        ordering = ["first_measure", "last_measure", "pk"]

    def __str__(self) -> str:
        return self.name or self.where

    @property
    def where(self) -> str:
        """The place in a reader's words: "measures 17–18", "measure 4"."""
        if self.first_measure == self.last_measure:
            return _("measure %(number)s") % {"number": self.first_number}
        return _("measures %(first)s–%(last)s") % {"first": self.first_number, "last": self.last_number}
