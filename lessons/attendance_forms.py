"""Forms of attendance, policy and make-up lessons."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from lessons.forms import LessonForm
from lessons.models import Attendance, CreditEntry, Policy
from lessons.policies import FOLLOWS

SAID = [choice for choice in Attendance if choice != Attendance.UNSAID]


class AttendanceForm(forms.Form):
    """Who was there; how late, for one who came late."""

    attendance = forms.ChoiceField(choices=Attendance, required=False)
    minutes_late = forms.IntegerField(required=False, min_value=1, max_value=480)


class PolicyForm(forms.ModelForm):
    """The policy in the studio's words, and a rule for each attendance."""

    class Meta:
        model = Policy
        fields = ["words", "notice_hours", "credit_days", "may_cancel", "may_move", "students_too", "changes_a_term"]
        widgets = {"words": forms.Textarea(attrs={"rows": 8})}
        help_texts = {
            "words": _("Families read them on their page, as you write them."),
            "notice_hours": _("A lesson cancelled at least so long before it begins is cancelled in time."),
            "credit_days": _("Left empty, a make-up lesson is owed until it is taken."),
            "changes_a_term": _(
                "How often a student may do so in a term; beyond it you are asked. Empty: as often as needed."
            ),
        }

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for attendance in SAID:
            self.fields[rule_name(attendance)] = forms.ChoiceField(
                label=attendance.label, choices=[*FOLLOWS.items()], initial=self.instance.consequence(attendance)
            )

    @property
    def rule_fields(self) -> list[forms.BoundField]:
        return [self[rule_name(attendance)] for attendance in SAID]

    def rules(self) -> dict[str, str]:
        return {str(attendance.value): self.cleaned_data[rule_name(attendance)] for attendance in SAID}


def rule_name(attendance: Attendance) -> str:
    return f"rule-{attendance.value}"


class CreditField(forms.ModelChoiceField):
    """A credit in words: what it is for, and until when it holds."""

    def label_from_instance(self, credit: CreditEntry) -> str:
        day = localtime(credit.lesson.starts_at).date() if credit.lesson else credit.day
        words = _now("owed since %(day)s") % {"day": date_format(day, "j F")}
        if credit.expires_on:
            words += _now(", holds until %(day)s") % {"day": date_format(credit.expires_on, "j F Y")}
        return words


class PlanForm(LessonForm):
    """A new lesson, which may make up for a missed one."""

    credit = CreditField(
        CreditEntry.objects.none(), label=_("Make-up lesson"), required=False, empty_label=_("no, a lesson of its own")
    )

    def __init__(self, *args: Any, open_credits: QuerySet[CreditEntry], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["credit"].queryset = open_credits

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        credit = cleaned.get("credit")
        if credit and cleaned.get("student") and credit.student_id != cleaned["student"].pk:
            self.add_error("credit", _("That make-up lesson is owed to another student."))
        return cleaned


class CorrectionForm(forms.Form):
    """A make-up lesson given or taken back by the teacher, with the reason."""

    lessons = forms.TypedChoiceField(
        label=_("What"), coerce=int, choices=[(1, _("one more is owed")), (-1, _("one less is owed"))]
    )
    remark = forms.CharField(label=_("Why"), max_length=200)
    expires_on = forms.DateField(
        label=_("Holds until"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=_("Left empty, it holds until it is used."),
    )
