"""The form of a passage entered by hand."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from scores.entering import KEYS, METRE, Typed, mistakes_in

AREA = {"rows": 4, "spellcheck": "false", "autocapitalize": "off", "autocomplete": "off", "class": "abc"}


class KeySelect(forms.Select):
    """Each key tells the script its sharps or flats."""

    def create_option(self, name: str, value: Any, *args: Any, **options: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **options)
        option["attrs"]["data-fifths"] = KEYS[str(value)][0]
        return option


class EntryForm(forms.Form):
    label = forms.CharField(
        label=gettext_lazy("Edition"),
        max_length=120,
        help_text=gettext_lazy("The printed book, as you would call it: “Brandt, printed, measures 17–20”."),
        error_messages={"required": gettext_lazy("Say which printed book this comes from.")},
    )
    first_number = forms.IntegerField(
        label=gettext_lazy("First whole measure"),
        min_value=0,
        max_value=9999,
        initial=1,
        help_text=gettext_lazy("Its number in the book."),
    )
    metre = forms.CharField(
        label=gettext_lazy("Metre"), max_length=6, initial="4/4", help_text=gettext_lazy("4/4, 6/8, C, C|")
    )
    key = forms.ChoiceField(
        label=gettext_lazy("Key"), choices=[(name, words) for name, (_fifths, words) in KEYS.items()], widget=KeySelect
    )
    pickup = forms.BooleanField(
        label=gettext_lazy("Begins with a pick-up, before the first whole measure"), required=False
    )
    right = forms.CharField(
        label=gettext_lazy("Right hand"), required=False, max_length=20_000, widget=forms.Textarea(attrs=AREA)
    )
    left = forms.CharField(
        label=gettext_lazy("Left hand"), required=False, max_length=20_000, widget=forms.Textarea(attrs=AREA)
    )
    mark = forms.BooleanField(
        label=gettext_lazy("Mark all of it as a passage and go to its desk"), required=False, initial=True
    )

    def clean_metre(self) -> str:
        metre = self.cleaned_data["metre"].replace(" ", "")
        if not METRE.match(metre):
            raise forms.ValidationError(_("Write the metre as 3/4, 6/8, C or C|."))
        return metre

    def clean_right(self) -> str:
        return self.checked("right")

    def clean_left(self) -> str:
        return self.checked("left")

    def checked(self, hand: str) -> str:
        """Raises `ValidationError` with every place that cannot be read."""
        typed = self.cleaned_data[hand]
        wrong = mistakes_in(typed)
        if wrong:
            raise forms.ValidationError([mistake.words for mistake in wrong[:5]])
        return typed

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not (cleaned.get("right") or cleaned.get("left")) and not {"right", "left"} & set(self.errors):
            self.add_error("right", _("No notes yet. Type them as C D E F, or click the keys of the picture."))
        return cleaned

    def typed(self, *, title: str) -> Typed:
        """What a valid form holds."""
        given = self.cleaned_data
        return Typed(right=given["right"], left=given["left"], metre=given["metre"], key=given["key"], title=title)


class PreviewForm(EntryForm):
    """The same while it is being typed: the book's name can come last."""

    label = forms.CharField(required=False)
