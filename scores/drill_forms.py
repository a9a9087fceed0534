"""Forms of rhythm drills: the span, and the stages of the plan."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from django import forms
from django.utils.translation import gettext_lazy as _

from scores.models import Passage
from scores.music.crossrhythm import MOST_ATTACKS, Crossing, of_ratio
from scores.music.drill import MOST_REPETITIONS, MOST_STAGES, OFFERED_TEMPOS, Stage, retuned, stages
from scores.music.refusal import Refusal
from scores.music.tempo import FASTEST, SLOWEST
from scores.note_forms import beat_choices
from scores.rhythms import ShownStage


class DrillForm(forms.Form):
    """A span for a drill and the tempos to go between."""

    start = forms.ChoiceField(label=_("From"))
    end = forms.ChoiceField(label=_("To before"))
    tempo_now = forms.IntegerField(
        label=_("Tempo now"), min_value=SLOWEST, max_value=FASTEST, initial=OFFERED_TEMPOS[0]
    )
    tempo_goal = forms.IntegerField(
        label=_("Tempo to reach"), min_value=SLOWEST, max_value=FASTEST, initial=OFFERED_TEMPOS[1]
    )

    def __init__(self, *args, passage: Passage, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        choices = beat_choices(passage)
        closing = passage.edition.score.measures[passage.last_measure].end
        self.fields["start"].choices = choices
        self.fields["end"].choices = [*choices, (str(closing), _("the end of the passage"))]
        for field in ("tempo_now", "tempo_goal"):
            self.fields[field].help_text = _("Quarters a minute.")

    def clean(self) -> dict:
        cleaned = super().clean()
        start, end = cleaned.get("start"), cleaned.get("end")
        if start and end and Fraction(start) >= Fraction(end):
            self.add_error("end", _("The span ends before it begins. Choose a later beat."))
        return cleaned

    @property
    def span(self) -> tuple[Fraction, Fraction]:
        return Fraction(self.cleaned_data["start"]), Fraction(self.cleaned_data["end"])


class StageForm(forms.Form):
    """One stage of a drill. `number` says which stored stage it began as, so that its accents stay. `goal` is there for
    a ladder alone."""

    number = forms.IntegerField(required=False, widget=forms.HiddenInput)
    title = forms.CharField(label=_("Stage"), max_length=200)
    instruction = forms.CharField(label=_("What to do"), max_length=2000, widget=forms.Textarea(attrs={"rows": 2}))
    hands = forms.ChoiceField(
        label=_("Hands"),
        choices=[("both", _("both hands")), ("right", _("right hand")), ("left", _("left hand"))],
        initial="both",
    )
    tempo = forms.IntegerField(label=_("Tempo"), min_value=SLOWEST, max_value=FASTEST, initial=60)
    goal = forms.IntegerField(label=_("Ends at"), min_value=SLOWEST, max_value=FASTEST, required=False)
    repetitions = forms.IntegerField(label=_("Times"), min_value=1, max_value=MOST_REPETITIONS, initial=5)
    click = forms.ChoiceField(
        label=_("Click"),
        choices=[
            ("beat", _("each beat")),
            ("cycle", _("once a figure")),
            ("measure", _("once a measure")),
            ("part", _("each number")),
            ("none", _("none")),
        ],
        initial="beat",
        required=False,
    )
    heard = forms.ChoiceField(
        label=_("Sounds"),
        choices=[("", _("what is played")), ("right", _("the right hand")), ("left", _("the left hand"))],
        required=False,
    )

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        if not self.initial.get("goal"):
            del self.fields["goal"]

    @property
    def place(self) -> float:
        """Where the page's order puts this stage; a stage without a number comes last."""
        try:
            return float(self["ORDER"].value())
        except (TypeError, ValueError):
            return float("inf")

    def has_changed(self) -> bool:
        """A new stage without words is none, whatever order number the page gave it."""
        words = (self["title"].data, self["instruction"].data) if self.is_bound else ()
        return super().has_changed() and not (self.empty_permitted and not any(words))


class BaseStageFormSet(forms.BaseFormSet):
    def add_fields(self, form: forms.Form, index: int | None) -> None:
        super().add_fields(form, index)
        form.fields["ORDER"].label = _("Order")
        form.fields["DELETE"].label = _("Take out")


StageFormSet = forms.formset_factory(
    StageForm,
    formset=BaseStageFormSet,
    extra=1,
    can_order=True,
    can_delete=True,
    max_num=MOST_STAGES,
    validate_max=True,
)


class PlanForm(forms.Form):
    """The stages of a drill in order, with an empty one at the end to add another, and a remark on the whole."""

    remark = forms.CharField(
        label=_("Remark"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, data=None, *, shown: Sequence[ShownStage], **kwargs) -> None:
        super().__init__(data, **kwargs)
        self.shown = shown
        self.stages = StageFormSet(
            data, prefix="stage", initial=[stage_data(place, one) for place, one in enumerate(shown)]
        )

    def is_valid(self) -> bool:
        return super().is_valid() and self.stages.is_valid()

    @property
    def in_order(self) -> list[StageForm]:
        """The stages as the page last had them, so that moving them is not lost when something else is wrong."""
        return sorted(self.stages.forms, key=lambda form: form.place)

    def plan(self) -> list[Stage]:
        """The stages as the teacher left them."""
        kept = [form.cleaned_data for form in self.stages.ordered_forms]
        return [stage_from(cleaned, self.shown) for cleaned in kept if cleaned.get("title")]


def stage_data(number: int, shown: ShownStage) -> dict:
    stage = shown.stage
    return {
        "number": number,
        "title": shown.title,
        "instruction": shown.instruction,
        "hands": stage.hands,
        "tempo": stage.tempo,
        "goal": stage.marks[-1] if stage.marks else None,
        "repetitions": stage.repetitions,
        "click": stage.click,
        "heard": stage.heard or "",
    }


def stage_from(cleaned: dict, before: Sequence[ShownStage]) -> Stage:
    """A stage from a form. Words that were not touched stay as they are stored, so that they stay translatable."""
    number = cleaned.get("number")
    old = before[number] if number is not None and 0 <= number < len(before) else None
    changed = {
        "hands": cleaned["hands"],
        "repetitions": cleaned["repetitions"],
        "click": cleaned.get("click") or (old.stage.click if old else "beat"),
        "heard": cleaned.get("heard") or None,
    }
    words = {"title": cleaned["title"], "instruction": cleaned["instruction"].replace("\r\n", "\n")}
    if old is None:
        plain = {name: text.replace("%", "%%") for name, text in words.items()}
        return Stage(kind="together", tempo=cleaned["tempo"], **changed, **plain)
    stage = retuned(replace(old.stage, **changed), cleaned["tempo"], cleaned.get("goal"))
    touched = {name: text.replace("%", "%%") for name, text in words.items() if text != getattr(old, name)}
    if not touched:
        return stage
    kept = {name: text.replace("%", "%%") for name, text in words.items()}
    return replace(stage, **kept, params=())


def figure(right: int, left: int) -> Crossing:
    """Two numbers of strokes against each other; the left hand strikes quarters. Raises `NoGrid`."""
    return of_ratio(right, left, Fraction(max(left, 1)))


class RatioForm(forms.Form):
    """Two numbers of strokes and the tempos to go between. What cannot be, the engine says in words: `crossing` and
    `plan` are there when the form is valid, the plan without stages where the hands fit plainly."""

    right = forms.IntegerField(label=_("Right hand"))
    left = forms.IntegerField(label=_("Left hand"))
    tempo_now = forms.IntegerField(label=_("Tempo now"))
    tempo_goal = forms.IntegerField(label=_("Tempo to reach"))

    crossing: Crossing
    plan: tuple[Stage, ...] = ()

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **{"initial": self.first(), **kwargs})
        for name in ("right", "left"):
            self.fields[name].help_text = _("Strokes to the figure, 1 to %(most)d.") % {"most": MOST_ATTACKS}
        for name in ("tempo_now", "tempo_goal"):
            self.fields[name].help_text = _("Left-hand strokes a minute.")

    @staticmethod
    def first() -> dict[str, int]:
        return {"right": 3, "left": 2, "tempo_now": OFFERED_TEMPOS[0], "tempo_goal": OFFERED_TEMPOS[1]}

    def clean(self) -> dict:
        cleaned = super().clean()
        if self.errors:
            return cleaned
        try:
            self.crossing = figure(cleaned["right"], cleaned["left"])
            self.plan = stages(self.crossing, cleaned["tempo_now"], cleaned["tempo_goal"])
        except Refusal as refusal:
            self.add_error(None, _(refusal.msgid) % refusal.params)
        return cleaned

    @property
    def is_plain(self) -> bool:
        """The hands fit plainly: there is nothing to drill."""
        return self.is_valid() and not self.plan
