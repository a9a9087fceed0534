"""The form of a report on a term."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from lessons.forms import DAY
from lessons.models import TermReport

LONGEST = 400  # days


class ReportForm(forms.ModelForm):
    """Name, days, words and paper. Nothing that begins after `today` can be reported on."""

    class Meta:
        model = TermReport
        fields = ("name", "first_day", "last_day", "words", "paper")
        widgets = {"first_day": DAY, "last_day": DAY, "words": forms.Textarea(attrs={"rows": 12})}
        labels = {"name": _("Which term"), "words": _("Your words")}
        help_texts = {
            "words": _("They stand first on the sheet. An empty line begins a new paragraph."),
            "last_day": _("Both days included. Days to come are not drawn."),
        }

    def __init__(self, *args: Any, today: date, **options: Any) -> None:
        super().__init__(*args, **options)
        self.today = today

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        first, last = cleaned.get("first_day"), cleaned.get("last_day")
        if first and first > self.today:
            self.add_error("first_day", _("That day has not come yet."))
        if first and last and last < first:
            self.add_error("last_day", _("The last day comes before the first."))
        elif first and last and (last - first).days >= LONGEST:
            self.add_error("last_day", _("That is more than a year: choose fewer days."))
        return cleaned
