"""Reports on a term: the teacher's words, and the sheet as it was given."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from scores.models import Standing, StandingQuerySet
from studio.models import Paper, Student, StudioRow


class TermReport(Standing, StudioRow):
    """What the teacher says of a student's term, both days included. Until it is given its pictures follow the log; the
    sheet that was given is kept and does not change. `given_at` is None while only the teacher sees it."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="reports")
    name = models.CharField(_("name"), max_length=80)
    first_day = models.DateField(_("first day"))
    last_day = models.DateField(_("last day"))
    words = models.TextField(_("your words"), blank=True, max_length=6000)
    paper = models.CharField(_("paper"), max_length=8, choices=Paper)
    given_at = models.DateTimeField(null=True, editable=False)
    pdf = models.BinaryField(null=True)

    objects = StandingQuerySet.as_manager()

    class Meta:
        ordering = ["-last_day", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(last_day__gte=F("first_day")), name="a_report_ends_after_it_begins"),
            models.CheckConstraint(
                condition=Q(given_at__isnull=True, pdf__isnull=True) | Q(given_at__isnull=False, pdf__isnull=False),
                name="a_given_report_has_its_sheet",
            ),
        ]

    def __str__(self) -> str:
        return self.name
