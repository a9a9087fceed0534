"""The teacher's forms of lessons and of what is assigned."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from lessons.assigning import Choices
from lessons.handouts.choices import numbered
from lessons.keeping import Typed, is_clash, merge, plain
from lessons.models import AssignedPassage, Lesson, Mark, Where
from lessons.models.assignments import ChosenBy
from lessons.planning import NoSuchTime, moment
from scores.inheriting import here
from scores.lines import ShownLine
from scores.models import Placement
from scores.ornament_places import OrnamentPlace, ornaments_in
from studio.models import Student

DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
TIME = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")


class LessonForm(forms.Form):
    """A lesson's student, day, time, length and place. `starts_at` is the moment they name, once the form holds."""

    student = forms.ModelChoiceField(Student.objects.none(), label=_("Student"))
    day = forms.DateField(label=_("Day"), widget=DAY)
    time = forms.TimeField(label=_("Begins at"), widget=TIME)
    minutes = forms.IntegerField(label=_("Minutes"), min_value=5, max_value=480)
    where = forms.ChoiceField(label=_("Where"), choices=Where.choices, required=False)
    place = forms.CharField(
        label=_("Place"), max_length=120, required=False, help_text=_("Room, address or link, if it needs saying.")
    )

    def __init__(self, *args: Any, students: QuerySet[Student], zone: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["student"].queryset = students
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
            except OverflowError:
                self.add_error("day", _("That day lies too far away."))
        return cleaned

    def given(self) -> dict[str, Any]:
        """What the verbs of `planning` take."""
        given = {name: self.cleaned_data[name] for name in ("student", "starts_at", "minutes", "place")}
        return given | {"where": self.cleaned_data["where"] or Where.STUDIO}


class KeptForm(forms.Form):
    """Words that are kept while they are typed. Beside each text comes the one it began from, in `<name>_before`."""

    names: Sequence[str] = ()

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        for name in self.names:
            self.fields[name].widget.attrs["data-kept"] = ""
            self.fields[f"{name}_before"] = forms.CharField(required=False, strip=False, widget=forms.HiddenInput)

    def typed(self) -> dict[str, Typed]:
        """What the verbs of `keeping` take."""
        words = {name: plain(self.cleaned_data[name]) for name in self.names}
        return {name: Typed(plain(self.cleaned_data[f"{name}_before"]), words[name]) for name in self.names}


class NotesForm(KeptForm):
    """A lesson's notes. `revision` is that of the lesson when the page was made."""

    names = ("notes", "private_notes")
    notes = forms.CharField(
        label=_("Lesson notes"),
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 6, "data-key": "n"}),
        help_text=_("Student and guardians read these, and they stand on the handout."),
    )
    private_notes = forms.CharField(
        label=_("Your own notes"),
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=_("For you alone."),
    )
    revision = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)


class RemarkForm(KeptForm):
    """What to do with a piece, or with one of its passages."""

    names = ("remark",)
    remark = forms.CharField(
        label=_("What to do"), required=False, strip=False, widget=forms.Textarea(attrs={"rows": 3})
    )


def notes_form(lesson: Lesson) -> NotesForm:
    """The form as a lesson's notes stand now."""
    texts = {name: getattr(lesson, name) for name in NotesForm.names}
    before = {f"{name}_before": text for name, text in texts.items()}
    return NotesForm(initial={**texts, **before, "revision": lesson.revision})


class MarkForm(forms.ModelForm):
    """A quick mark: what becomes of a passage, and the tempo that was reached."""

    class Meta:
        model = Mark
        fields = ["kind", "tempo"]


ANSWERS = [("chosen", _("this one")), ("open", _("left open")), ("no", _("not offered"))]
OPEN, UNSAID = "open", "no"
PLACEMENTS = [*Placement.choices, (OPEN, _("left open to the student")), (UNSAID, _("nothing said"))]


class AssignedForm(forms.ModelForm):
    """What is decided for one assigned passage: an answer for each of its fingerings that can be played, a placement
    for each ornament, tempos and remark."""

    class Meta:
        model = AssignedPassage
        fields = ["tempo_now", "tempo_goal", "remark", "show_others"]
        widgets = {"remark": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, label_suffix="", **options)
        passage = self.instance.passage
        standing = here(passage).choices
        self.lines: Sequence[ShownLine] = tuple(numbered(passage, self.instance))
        self.ornaments: Sequence[OrnamentPlace] = tuple(
            place for place in ornaments_in(passage, standing) if place.has_placement
        )
        for line in self.lines:
            if not line.cannot and line.fingers:
                self.fields[answer_name(line)] = forms.ChoiceField(
                    label=_("Fingering %(numeral)s") % {"numeral": line.numeral},
                    choices=ANSWERS,
                    widget=forms.RadioSelect,
                    initial=self.answer_now(line),
                )
        for ornament in self.ornaments:
            self.fields[placement_name(ornament)] = forms.ChoiceField(
                label=_("%(what)s, measure %(measure)s, beat %(beat)s")
                % {"what": ornament.what, "measure": ornament.number, "beat": ornament.beat},
                choices=PLACEMENTS,
                widget=forms.RadioSelect,
                initial=self.placement_now(ornament),
            )

    def answer_now(self, line: ShownLine) -> str:
        for row in self.instance.offered.all():
            if line.fingering and row.fingering_id == line.fingering.pk:
                return "chosen" if row.chosen_by == ChosenBy.TEACHER else "open"
        return "no"

    def placement_now(self, ornament: OrnamentPlace) -> str:
        for row in self.instance.placements.all():
            if row.note == ornament.note:
                return row.placement if row.chosen_by == ChosenBy.TEACHER else OPEN
        return (ornament.choice.placement if ornament.choice else "") or UNSAID

    def clean_remark(self) -> str:
        """What was typed, unless another window changed the remark meanwhile: what only that one changed stands, and
        what both changed is shown."""
        kept = plain(AssignedPassage.objects.values_list("remark", flat=True).get(pk=self.instance.pk))
        typed = Typed(plain(self.data.get("remark_before", kept)), plain(self.cleaned_data["remark"]))
        if is_clash(kept, typed):
            raise forms.ValidationError(
                _("Another window wrote here meanwhile: “%(kept)s”. Keep again to have yours instead."),
                params={"kept": kept},
            )
        return merge(kept, typed)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        parts: dict[tuple, ShownLine] = {}
        for line in self.lines:
            name = answer_name(line)
            if cleaned.get(name) == "chosen" and line.fingering:
                part = (line.side, line.fingering.first_note, line.fingering.last_note)
                if part in parts:
                    self.add_error(
                        name,
                        _("%(first)s is chosen for the same notes. Only one can be played; leave both open instead.")
                        % {"first": parts[part].numeral},
                    )
                parts[part] = line
        return cleaned

    def choices(self) -> Choices:
        """The decided choices, for `assigning.keep_assigned`."""
        return Choices(
            {
                line.fingering.pk: self.cleaned_data[name]
                for line in self.lines
                if (name := answer_name(line)) in self.fields
            },
            {
                one.note: "" if answer == OPEN else answer
                for one in self.ornaments
                if (answer := self.cleaned_data[placement_name(one)]) != UNSAID
            },
        )


def answer_name(line: ShownLine) -> str:
    return f"fingering-{line.fingering.pk}" if line.fingering else ""


def placement_name(ornament: OrnamentPlace) -> str:
    return f"placement-{ornament.note}"


class GiveForm(forms.Form):
    """How a handout is printed."""

    paper = forms.ChoiceField(label=_("Paper"), choices=[("A4", "A4"), ("Letter", "Letter")])
    large_print = forms.BooleanField(label=_("Large print"), required=False)
