"""The teacher's forms of the calendar: single and weekly lessons, days without lessons, free hours."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from lessons.hours import NotHours, Stretch, read_hours, write_hours
from lessons.models import Absence, Holiday, Slot, Timetable, Where
from lessons.planning import NoSuchTime, moment
from lessons.recurrence import first_fall
from lessons.rules import WEEKDAYS, BadRule, read_rule, write_rule
from lessons.scheduling import SlotPlan
from studio.models import Student, Term

DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
TIME = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
FIRST, LAST = date(1950, 1, 1), date(2199, 12, 31)
MOST_DAYS = 366 * 2
WEEKLY, FORTNIGHTLY, MONTHLY, ONCE, TYPED = "weekly", "fortnightly", "monthly", "once", "typed"
REPEATS = [
    (WEEKLY, _("every week")),
    (FORTNIGHTLY, _("every second week")),
    (MONTHLY, _("once a month, on the same weekday")),
    (ONCE, _("once")),
    (TYPED, _("by a rule that I type")),
]
NEVER, ON_DAY, AFTER = "never", "day", "count"
ENDS = [(NEVER, _("goes on")), (ON_DAY, _("until a day")), (AFTER, _("after a number of lessons"))]


class DayField(forms.DateField):
    """A day of a year that the calendar has room around."""

    widget = DAY

    def clean(self, value: Any) -> date | None:
        day = super().clean(value)
        if day and not FIRST <= day <= LAST:
            raise forms.ValidationError(_("That day lies too far away."))
        return day


class TimeForm(forms.Form):
    """A day, a time, a length and a place. `starts_at` is the moment they name, once the form holds."""

    day = DayField(label=_("Day"))
    time = forms.TimeField(label=_("Begins at"), widget=TIME)
    minutes = forms.IntegerField(label=_("Minutes"), min_value=5, max_value=480)
    where = forms.ChoiceField(label=_("Where"), choices=Where)
    place = forms.CharField(
        label=_("Place"), max_length=120, required=False, help_text=_("Room, address or link, if it needs saying.")
    )

    def __init__(self, *args: Any, zone: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["time"].help_text = _("In the studio's time zone, %(zone)s.") % {"zone": zone}
        self.zone = zone

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("day") and cleaned.get("time") is not None:
            try:
                cleaned["starts_at"] = moment(cleaned["day"], cleaned["time"], self.zone)
            except NoSuchTime:
                self.add_error(
                    "time", _("The clocks are put forward over this hour on that day. Choose a time before or after.")
                )
        return cleaned

    def given(self) -> dict[str, Any]:
        """What `planning.move_lesson` takes."""
        return {name: self.cleaned_data[name] for name in ("starts_at", "minutes", "where", "place")}


class SlotForm(forms.Form):
    """A lesson that repeats. `plan` is what the verbs of `scheduling` take, once the form holds."""

    students = forms.ModelMultipleChoiceField(
        Student.objects.none(),
        label=_("Who comes"),
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Two or more make it a pair or a group."),
        error_messages={"required": _("A lesson needs a student.")},
    )
    name = forms.CharField(
        label=_("Name"), max_length=80, required=False, help_text=_("For a pair or a group, if it has one.")
    )
    first_day = DayField(label=_("First day"))
    at = forms.TimeField(label=_("Begins at"), widget=TIME)
    minutes = forms.IntegerField(label=_("Minutes"), min_value=5, max_value=480)
    repeats = forms.ChoiceField(label=_("How often"), choices=REPEATS, initial=WEEKLY)
    rule = forms.CharField(
        label=_("Rule"),
        max_length=300,
        required=False,
        help_text=_(
            "Only for “by a rule that I type”: as in iCalendar (RFC 5545), for example FREQ=WEEKLY;BYDAY=MO,TH or "
            "FREQ=MONTHLY;BYMONTHDAY=-1 for the last day of each month."
        ),
    )
    ends = forms.ChoiceField(label=_("Ends"), choices=ENDS, initial=NEVER)
    until = DayField(label=_("Last day"), required=False)
    count = forms.IntegerField(label=_("Number of lessons"), min_value=1, max_value=1000, required=False)
    in_terms = forms.BooleanField(label=_("in terms only"), required=False)
    where = forms.ChoiceField(label=_("Where"), choices=Where)
    place = forms.CharField(
        label=_("Place"), max_length=120, required=False, help_text=_("Room, address or link, if it needs saying.")
    )
    known = forms.IntegerField(required=False, widget=forms.HiddenInput)  # the slot's sequence when it was shown

    def __init__(
        self,
        *args: Any,
        students: QuerySet[Student],
        zone: str,
        has_terms: bool,
        sequence: int | None = None,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.sequence = sequence
        self.fields["students"].queryset = students
        self.fields["at"].help_text = _("In the studio's time zone, %(zone)s; summer time does not move it.") % {
            "zone": zone
        }
        self.has_terms = has_terms

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if self.sequence is not None and cleaned.get("known") not in (None, self.sequence):
            self.add_error(
                None, _("It was changed in another window meanwhile. Open it anew and change what is so now.")
            )
        if cleaned.get("in_terms") and not self.has_terms:
            self.add_error("in_terms", _("No terms are written down yet; they stand beside the holidays."))
        if cleaned.get("ends") == ON_DAY and not cleaned.get("until") and "until" not in self.errors:
            self.add_error("until", _("Until which day?"))
        if cleaned.get("ends") == AFTER and not cleaned.get("count") and "count" not in self.errors:
            self.add_error("count", _("After how many lessons?"))
        if not self.errors:
            self.read_rule(cleaned)
        return cleaned

    def read_rule(self, cleaned: dict[str, Any]) -> None:
        """The rule that was chosen or typed, and the first day on which it falls."""
        field = "rule" if cleaned["repeats"] == TYPED else "until" if cleaned["ends"] == ON_DAY else "first_day"
        try:
            cleaned["rule_text"] = text = rule_of(cleaned)
            if text:
                cleaned["first_day"] = first_fall(read_rule(text), cleaned["first_day"])
        except BadRule as bad:
            before = cleaned["ends"] == ON_DAY and cleaned["until"] < cleaned["first_day"]
            words = _("The last day lies before the first.") if before else _(bad.message) % bad.params
            self.add_error("until" if before else field, words)

    def plan(self) -> SlotPlan:
        names = ("first_day", "at", "minutes", "in_terms", "where", "place", "name")
        given = {name: self.cleaned_data[name] for name in names}
        return SlotPlan(students=list(self.cleaned_data["students"]), rule=self.cleaned_data["rule_text"], **given)


def rule_of(cleaned: Mapping[str, Any]) -> str:
    """The RFC 5545 rule that a filled-in form means; "" for once. Raises `BadRule`."""
    repeats, day = cleaned["repeats"], cleaned["first_day"]
    if repeats == ONCE:
        return ""
    if repeats == TYPED:
        text = write_rule(read_rule(cleaned["rule"]))
    else:
        number = -1 if day.day > 28 else (day.day - 1) // 7 + 1
        texts = {
            WEEKLY: "FREQ=WEEKLY",
            FORTNIGHTLY: "FREQ=WEEKLY;INTERVAL=2",
            MONTHLY: f"FREQ=MONTHLY;BYDAY={number}{WEEKDAYS[day.weekday()]}",
        }
        text = texts[repeats]
    if cleaned["ends"] == ON_DAY:
        text += f";UNTIL={cleaned['until']:%Y%m%d}"
    if cleaned["ends"] == AFTER:
        text += f";COUNT={cleaned['count']}"
    return write_rule(read_rule(text))


def initial_of(slot: Slot, first_day: date) -> dict[str, Any]:
    """What the form of a slot begins with; the day is that from which a change would hold."""
    kept = {name: getattr(slot, name) for name in ("name", "at", "minutes", "in_terms", "where", "place")}
    kept |= {"students": slot.students.all(), "first_day": first_day, "rule": "", "ends": NEVER}
    if not slot.rule:
        return kept | {"repeats": ONCE}
    rule = read_rule(slot.rule)
    if rule.count:
        kept |= {"ends": AFTER, "count": rule.count}
    elif rule.until:
        kept |= {"ends": ON_DAY, "until": rule.until}
    bare = ";".join(part for part in slot.rule.split(";") if not part.startswith(("COUNT=", "UNTIL=")))
    for repeats, text in ((WEEKLY, "FREQ=WEEKLY"), (FORTNIGHTLY, "FREQ=WEEKLY;INTERVAL=2")):
        if bare == text:
            return kept | {"repeats": repeats}
    if rule.freq == "MONTHLY" and len(rule.by_day) == 1 and rule.by_day[0][0] and bare.count(";") == 1:
        return kept | {"repeats": MONTHLY}
    return kept | {"repeats": TYPED, "rule": bare}


class EndForm(forms.Form):
    last = DayField(label=_("Last day"), help_text=_("Lessons after it go; what was before stays."))


# Days


class DaysForm(forms.ModelForm):
    """From a day to a day, both included."""

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        first, last = cleaned.get("first_day"), cleaned.get("last_day")
        if first and last and last < first:
            self.add_error("last_day", _("The last day lies before the first."))
        elif first and last and (last - first).days > MOST_DAYS:
            self.add_error("last_day", _("That is more than two years. Is the year right?"))
        return cleaned


class HolidayForm(DaysForm):
    first_day = DayField(label=_("First day"))
    last_day = DayField(label=_("Last day"))

    class Meta:
        model = Holiday
        fields = ["name", "first_day", "last_day"]


class TermForm(DaysForm):
    first_day = DayField(label=_("First day"))
    last_day = DayField(label=_("Last day"))

    class Meta:
        model = Term
        fields = ["name", "first_day", "last_day"]


class AbsenceForm(DaysForm):
    first_day = DayField(label=_("First day"))
    last_day = DayField(label=_("Last day"))

    class Meta:
        model = Absence
        fields = ["first_day", "last_day", "reason"]


# Hours and finding a time


WEEKDAY_NAMES = (_("Monday"), _("Tuesday"), _("Wednesday"), _("Thursday"), _("Friday"), _("Saturday"), _("Sunday"))
WHY_NOT = {
    "unread": _("“%(part)s” does not read as hours. An example is 15:00–18:30."),
    "no time": _("“%(part)s” has a time that is not on the clock."),
    "backwards": _("“%(part)s” ends before it begins."),
    "too many": _("That is too many stretches for one day."),
}


class HoursForm(forms.Form):
    """A line of free hours for each weekday."""

    def __init__(self, *args: Any, hours: Mapping[int, list[Stretch]], **options: Any) -> None:
        super().__init__(*args, **options)
        for weekday, name in enumerate(WEEKDAY_NAMES):
            self.fields[f"day{weekday}"] = forms.CharField(
                label=name, required=False, max_length=200, initial=write_hours(hours[weekday])
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self.hours: dict[int, list[Stretch]] = {}
        for weekday in range(7):
            try:
                self.hours[weekday] = read_hours(cleaned.get(f"day{weekday}") or "")
            except NotHours as not_hours:
                self.add_error(f"day{weekday}", WHY_NOT[not_hours.why] % {"part": not_hours.part})
        return cleaned


class FindForm(forms.Form):
    """For whom a time is looked for, and of which length."""

    students = forms.ModelMultipleChoiceField(
        Student.objects.none(), label=_("For whom"), widget=forms.CheckboxSelectMultiple
    )
    minutes = forms.IntegerField(label=_("Minutes"), min_value=5, max_value=480)
    where = forms.ChoiceField(label=_("Where"), choices=Where)
    first = DayField(label=_("From"))

    def __init__(self, *args: Any, students: QuerySet[Student], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["students"].queryset = students


class FoundForm(FindForm):
    """A free time that was chosen: `to` is its beginning, `how` whether once or every week."""

    first = None
    to = forms.DateTimeField(input_formats=["%Y-%m-%dT%H:%M:%S%z", "%Y-%m-%dT%H:%M%z"])
    how = forms.ChoiceField(choices=[(ONCE, _("once")), (WEEKLY, _("every week"))])


class TravelForm(forms.ModelForm):
    class Meta:
        model = Timetable
        fields = ["travel_minutes"]
        help_texts = {"travel_minutes": _("Between two lessons at different places the week says when it is less.")}
