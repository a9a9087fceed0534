"""Forms of asking, of answers, and of the waiting list."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from lessons.calendar_forms import TIME, DayField
from lessons.models import Waiting
from lessons.planning import NoSuchTime, moment

OTHER = "other"
FARTHEST = timedelta(weeks=26)


class CancelForm(forms.Form):
    """A word that goes along with cancelling."""

    remark = forms.CharField(label=_("A word to your teacher"), max_length=300, required=False)


class MoveForm(forms.Form):
    """One of the free times, or another one with a word. `wanted` is the moment, None where it is left open."""

    to = forms.ChoiceField(
        label=_("To"),
        widget=forms.RadioSelect,
        required=False,
        error_messages={
            "invalid_choice": _("That time is not free any more. Choose another one; your word is kept."),
        },
    )
    day = DayField(label=_("Day"), required=False)
    time = forms.TimeField(label=_("Begins at"), widget=TIME, required=False)
    remark = forms.CharField(label=_("A word to your teacher"), max_length=300, required=False)

    def __init__(
        self, *args: Any, times: Sequence[tuple[date, Sequence[datetime]]], zone: str, at: datetime, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.zone, self.at = zone, at
        by_day = [(date_format(day, "l j F"), [one_choice(start) for start in starts]) for day, starts in times]
        self.fields["to"].choices = [*by_day, (OTHER, _("another time"))]
        if not times:
            self.fields["to"].initial = OTHER
            self.fields["to"].widget = forms.HiddenInput()

    @property
    def is_listed(self) -> bool:
        return self.cleaned_data["to"] != OTHER

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        cleaned["wanted"] = None
        if "to" in cleaned and not cleaned["to"]:
            if not (cleaned.get("day") or cleaned.get("time") is not None):
                self.add_error("to", _("Choose a time, or “another time”."))
                return cleaned
            cleaned["to"] = OTHER  # A day was typed: that says which.
        if cleaned.get("to") == OTHER:
            cleaned["wanted"] = self.other(cleaned)
        elif cleaned.get("to"):
            cleaned["wanted"] = parse_datetime(cleaned["to"])
        return cleaned

    def other(self, cleaned: dict[str, Any]) -> datetime | None:
        """The time that was typed; a word alone leaves it to the teacher."""
        day, at = cleaned.get("day"), cleaned.get("time")
        if self.errors:
            return None
        if day is None or at is None:
            if day or at is not None:
                self.add_error("time" if day else "day", _("A day and a time go together."))
            elif not cleaned.get("remark"):
                self.add_error("remark", _("Say a day and a time, or write when it could be."))
            return None
        try:
            wanted = moment(day, at, self.zone)
        except NoSuchTime:
            self.add_error("time", _("The clocks are put forward over this hour on that day."))
            return None
        if not self.at < wanted < self.at + FARTHEST:
            self.add_error("day", _("Choose a time that lies ahead, within half a year."))
        return wanted


def one_choice(start: datetime) -> tuple[str, str]:
    return start.isoformat(), f"{start:%H:%M}"


class AnswerForm(forms.Form):
    """The teacher's answer: a word back, another time, which kind of cancellation, and whether in spite of all."""

    why = forms.CharField(max_length=300, required=False)
    to = forms.CharField(max_length=40, required=False)
    attendance = forms.CharField(max_length=8, required=False)
    anyway = forms.BooleanField(required=False)

    def clean_to(self) -> datetime | None:
        typed = self.cleaned_data["to"]
        try:
            found = parse_datetime(typed) if typed else None
        except ValueError:
            found = None
        if typed and (found is None or not found.tzinfo):
            raise forms.ValidationError(_("That is no time."))
        return found


class WaitingForm(forms.ModelForm):
    """What a student waits for."""

    until = DayField(
        label=_("Until"), required=False, help_text=_("Left empty, the student waits until you take the name off.")
    )

    class Meta:
        model = Waiting
        fields = ["minutes", "remark", "until"]
        help_texts = {"remark": _("Yours alone; families do not see it.")}

    def clean_until(self) -> date | None:
        until = self.cleaned_data["until"]
        if until and until < timezone.localdate():
            raise forms.ValidationError(_("That day is over."))
        return until
