"""Terms: the stretches of the year in which there are lessons."""

from datetime import date
from typing import Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from studio.models.studio import StudioRow


class TermQuerySet(models.QuerySet["Term"]):
    def on(self, day: date) -> Self:
        """The term, or terms, that a day lies in."""
        return self.filter(first_day__lte=day, last_day__gte=day)


class Term(StudioRow):
    """A term, both days included. Slots may run in terms only, and tuition may be asked by the term."""

    name = models.CharField(_("name"), max_length=80)
    first_day = models.DateField(_("first day"))
    last_day = models.DateField(_("last day"))

    objects = TermQuerySet.as_manager()

    class Meta:
        ordering = ["first_day", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(last_day__gte=F("first_day")), name="a_term_ends_after_it_begins")
        ]

    def __str__(self) -> str:
        return self.name
