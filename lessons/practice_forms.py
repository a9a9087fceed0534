"""What students and guardians fill in."""

import uuid
from datetime import date, timedelta
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from lessons.models import AssignedPassage, PracticeEntry

OLDEST_DAYS = 60


class EntryForm(forms.ModelForm):
    """One record of work. `today` is the day in the studio; `passages` are what may have been practised."""

    key = forms.UUIDField(widget=forms.HiddenInput)

    class Meta:
        model = PracticeEntry
        fields = ["key", "day", "assigned", "minutes", "tempo", "clean_runs", "tries", "remark"]
        labels = {"assigned": _("Passage"), "tries": _("Out of")}
        widgets = {
            "day": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "minutes": forms.NumberInput(attrs={"inputmode": "numeric"}),
            "tempo": forms.NumberInput(attrs={"inputmode": "numeric"}),
            "clean_runs": forms.NumberInput(attrs={"inputmode": "numeric"}),
            "tries": forms.NumberInput(attrs={"inputmode": "numeric"}),
        }

    def __init__(self, *args: Any, today: date, passages: QuerySet[AssignedPassage], **kwargs: Any) -> None:
        initial = {"day": today, "key": uuid.uuid4()} | kwargs.pop("initial", {})
        super().__init__(*args, initial=initial, **kwargs)
        self.today = today
        self.fields["key"].disabled = bool(self.instance.pk)  # an entry keeps the key it came with
        self.fields["assigned"].queryset = passages
        self.fields["assigned"].required = False
        self.fields["assigned"].choices = self.each_passage_once
        self.fields["day"].widget.attrs["max"] = today.isoformat()

    def each_passage_once(self) -> list[tuple[str | int, str]]:
        """Each passage as it was given last, or as this entry has it: carried on for weeks, it is still one passage.
        `passages` come the newest first."""
        here = str(self["assigned"].value() or "")
        rows: dict[int, AssignedPassage] = {}
        for row in self.fields["assigned"].queryset:
            if row.passage_id not in rows or str(row.pk) == here:
                rows[row.passage_id] = row
        words = [(row.pk, f"{row.assignment.piece}, {row.passage}") for row in rows.values()]
        return [("", _("something else")), *words]

    def validate_unique(self) -> None:
        """The key of an entry that is there means that it was sent twice; `practice.write_entry` keeps it once."""

    def clean_day(self) -> date:
        day = self.cleaned_data["day"]
        if day > self.today:
            raise forms.ValidationError(
                _("That day has not come yet. Today is %(today)s."), params={"today": self.today}
            )
        if day < self.today - timedelta(days=OLDEST_DAYS):
            raise forms.ValidationError(
                _("That is more than %(days)s days ago. Tell your teacher instead."), params={"days": OLDEST_DAYS}
            )
        return day

    def clean_minutes(self) -> int:
        minutes = self.cleaned_data["minutes"]
        if minutes > 600:
            raise forms.ValidationError(_("More than 600 minutes in one day? Please check the number."))
        return minutes

    def clean(self) -> dict[str, Any]:
        fields = super().clean()
        clean, tries = fields.get("clean_runs"), fields.get("tries")
        if clean is not None and tries is None and "tries" not in self.errors:
            self.add_error("tries", _("%(clean)s clean runs out of how many tries?") % {"clean": clean})
        if tries is not None and clean is None and "clean_runs" not in self.errors:
            self.add_error("clean_runs", _("How many of the %(tries)s tries were clean?") % {"tries": tries})
        if clean is not None and tries is not None and clean > tries:
            self.add_error("clean_runs", _("There cannot be more clean runs than tries."))
        return fields
