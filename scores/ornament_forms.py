"""The form in which a teacher says how one ornament is played."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from scores.models import OrnamentChoice, Placement, Start
from scores.music.ornaments.figures import TRILLS
from scores.music.ornaments.words import FEWEST, MOST
from scores.ornament_places import OrnamentPlace

YES, NO = "yes", "no"
FLAGS = {YES: True, NO: False, "": None}
TURN_STARTS = (Start.UPPER, Start.MAIN)
USUAL = ("", _("as usual"))


class OrnamentForm(forms.Form):
    """How one ornament is played. It asks no more than its kind can be told."""

    note = forms.CharField(max_length=100, widget=forms.HiddenInput)
    placement = forms.ChoiceField(
        label=_("Placement"),
        required=False,
        choices=[*Placement.choices, ("", _("as the edition says"))],
        widget=forms.RadioSelect,
    )
    count = forms.IntegerField(
        label=_("Notes"), required=False, min_value=FEWEST, max_value=MOST, help_text=_("Blank: as many as fit well.")
    )
    start = forms.ChoiceField(label=_("Begins with"), required=False)
    turn = forms.TypedChoiceField(
        label=_("Ends"),
        required=False,
        choices=[USUAL, (YES, _("with a turn")), (NO, _("without a turn"))],
        coerce=FLAGS.get,
        empty_value=None,
    )
    long = forms.TypedChoiceField(
        label=_("Length"),
        required=False,
        choices=[USUAL, (YES, _("long: it leans on the beat")), (NO, _("short: crushed"))],
        coerce=FLAGS.get,
        empty_value=None,
    )
    remark = forms.CharField(
        label=_("Remark"), required=False, max_length=2000, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )

    def __init__(self, data: Any = None, *, place: OrnamentPlace) -> None:
        super().__init__(data, initial=initial_of(place), auto_id=f"ornament-{place.note}-%s", label_suffix="")
        self.place = place
        starts = Start.choices if place.kind in TRILLS else [one for one in Start.choices if one[0] in TURN_STARTS]
        self.fields["start"].choices = [USUAL, *starts]
        asked = {
            "placement": place.has_placement,
            "count": place.has_count,
            "start": place.has_start,
            "turn": place.has_ending,
            "long": place.has_length,
        }
        for name, is_asked in asked.items():
            if not is_asked:
                del self.fields[name]

    @property
    def details(self) -> list[forms.BoundField]:
        """The fields that stand side by side under the placement."""
        return [self[name] for name in ("count", "start", "turn", "long") if name in self.fields]


def initial_of(place: OrnamentPlace) -> dict[str, Any]:
    row: OrnamentChoice | None = place.choice
    words = {True: YES, False: NO, None: ""}
    found: dict[str, Any] = {"note": place.note, "placement": ""}
    if row:
        found |= {"placement": row.placement, "count": row.count, "start": row.start, "remark": row.remark}
        found |= {"turn": words[row.turn], "long": words[row.long]}
    return found


class StyleForm(forms.Form):
    """Whose habits are taken over where nothing is said."""

    period = forms.ChoiceField(choices=[("baroque", ""), ("classical", ""), ("romantic", "")])
