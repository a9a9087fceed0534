"""Forms for pieces, editions and passages."""

import uuid
from fractions import Fraction
from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.template.defaultfilters import filesizeformat
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from scores.marking import note_at, read_beat
from scores.models import Edition, Hands, Passage, Piece
from scores.music.notation import Note, Score

SUFFIXES = (".musicxml", ".xml", ".mxl", ".mei", ".krn", ".abc", ".mid", ".midi")


class PieceForm(forms.ModelForm):
    class Meta:
        model = Piece
        fields = ["title", "composer", "catalogue", "level", "key", "remark"]
        widgets = {"remark": forms.Textarea(attrs={"rows": 3})}


class ScoreFileForm(forms.Form):
    """A file with a score. `sending` names this sending, so that its page can ask how far the reading is."""

    file = forms.FileField(
        label=gettext_lazy("Score file"),
        widget=forms.FileInput(attrs={"accept": ",".join(SUFFIXES)}),
        error_messages={
            "required": gettext_lazy("Choose the file of a score first."),
            "empty": gettext_lazy("This file is empty: nothing is in it. Was its export interrupted? Export it again."),
        },
    )
    label = forms.CharField(
        label=gettext_lazy("Edition"),
        max_length=120,
        required=False,
        help_text=gettext_lazy("Publisher or editor, as you would call it. Left empty, it is called like the file."),
    )
    sending = forms.UUIDField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["sending"].initial = uuid.uuid4
        self.fields["file"].help_text = _(
            "MusicXML (.musicxml, .xml, .mxl), MEI, Humdrum (.krn), ABC or MIDI; up to %(size)s and %(measures)s "
            "measures."
        ) % {
            "size": filesizeformat(settings.SCORE_LIMITS["bytes"]),
            "measures": f"{settings.SCORE_LIMITS['measures']:,}",
        }

    def clean_file(self) -> UploadedFile | None:
        file = self.cleaned_data["file"]
        if file and file.size > settings.SCORE_LIMITS["bytes"]:
            raise forms.ValidationError(
                _(
                    "This file has %(size)s; up to %(limit)s can be read. Does it carry pictures or sound? Export the "
                    "music alone, or one movement at a time."
                ),
                params={"size": filesizeformat(file.size), "limit": filesizeformat(settings.SCORE_LIMITS["bytes"])},
            )
        return file

    def clean_sending(self) -> uuid.UUID:
        return self.cleaned_data["sending"] or uuid.uuid4()


class NewPieceForm(ScoreFileForm, PieceForm):
    """A new piece, with its first edition at once if there is a file: the file's own title stands in for an empty
    one."""

    field_order = ["file", "title", "composer", "catalogue", "level", "key", "label", "remark"]

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["file"].required = False
        self.fields["title"].required = False
        self.fields["title"].help_text = _("Left empty, the title that stands in the file is taken.")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not cleaned.get("title") and not cleaned.get("file") and not {"title", "file"} & set(self.errors):
            self.add_error("title", _("Give the piece a title, or choose a file that has one."))
        return cleaned

    def validate_unique(self) -> None:
        """Nothing of a piece is unique; an empty title is filled in later."""


class EditionForm(forms.ModelForm):
    class Meta:
        model = Edition
        fields = ["label"]


class PassageForm(forms.Form):
    """The range of a passage: two notes that were clicked, or places typed as measure and beat."""

    first_note = forms.CharField(max_length=80, required=False, widget=forms.HiddenInput)
    last_note = forms.CharField(max_length=80, required=False, widget=forms.HiddenInput)
    first_measure = forms.CharField(label=gettext_lazy("From measure"), max_length=12, required=False)
    first_beat = forms.CharField(label=gettext_lazy("beat"), max_length=12, required=False)
    last_measure = forms.CharField(label=gettext_lazy("To measure"), max_length=12, required=False)
    last_beat = forms.CharField(label=gettext_lazy("beat"), max_length=12, required=False)
    hands = forms.ChoiceField(
        label=gettext_lazy("Hands"), choices=Hands, widget=forms.RadioSelect, initial="both", required=False
    )
    name = forms.CharField(label=gettext_lazy("Name, if it has one"), max_length=120, required=False)

    def __init__(self, *args: Any, score: Score, **options: Any) -> None:
        super().__init__(*args, **options)
        self.score = score
        for name in ("first_measure", "first_beat", "last_measure", "last_beat"):
            self.fields[name].widget.attrs |= {"size": 5, "autocomplete": "off"}

    def clean_hands(self) -> str:
        return self.cleaned_data["hands"] or "both"

    def clean_first_beat(self) -> Fraction | None:
        return self.beat("first_beat")

    def clean_last_beat(self) -> Fraction | None:
        return self.beat("last_beat")

    def beat(self, name: str) -> Fraction | None:
        """Raises `ValidationError` for what is no beat; None where nothing was typed."""
        typed = self.cleaned_data[name]
        try:
            return read_beat(typed) if typed else None
        except ValueError:
            raise forms.ValidationError(
                _("“%(typed)s” is no beat. Write it as 2, 2½ or 5/2."), params={"typed": typed}
            ) from None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if self.errors:
            return cleaned
        first = self.note("first", last=False)
        last = self.note("last", last=True)
        if first and last and not self.score.between(first.id, last.id, cleaned["hands"]):
            self.add_error("hands", _("This hand has no notes there. Choose the other, or both."))
        return cleaned | {"first": first, "last": last}

    def note(self, end: str, *, last: bool) -> Note | None:
        """The note at one end of the range; None, with an error on the form, where there is none."""
        given = self.cleaned_data.get
        clicked, number = given(f"{end}_note"), given(f"{end}_measure")
        if clicked:
            if clicked not in self.score.by_id:
                self.add_error(None, _("A note that was clicked is not in this edition. Click the passage anew."))
            return self.score.by_id.get(clicked)
        if not number and last:
            number = given("first_measure")
        if not number:
            if not last and not self.errors:
                self.add_error(None, _("Click the first and the last note of the passage, or type its measures."))
            return None
        if number not in {measure.number for measure in self.score.measures}:
            self.add_error(f"{end}_measure", no_such_measure(self.score, number))
            return None
        found = note_at(self.score, number, given(f"{end}_beat"), given("hands"), last=last)
        if found is None:
            self.add_error(f"{end}_measure", _("There is no note to begin or end with at this place."))
        return found


def no_such_measure(score: Score, number: str) -> str:
    return _("There is no measure %(number)s here: the measures go from %(first)s to %(last)s.") % {
        "number": number,
        "first": score.measures[0].number,
        "last": score.measures[-1].number,
    }


class PassageNameForm(forms.ModelForm):
    class Meta:
        model = Passage
        fields = ["name"]
