"""What the repertoire is asked for, and what is said of a student's piece."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from lessons.models import PlayedPiece
from scores.models import Difficulty, Key, Piece
from scores.music.survey import KIND_NAMES, KINDS
from scores.ornament_places import SIGNS
from studio.models import Student

DAY = {"type": "date"}
LONGEST = 200
BY_DETAIL = ("cross-rhythm", "ornament", "tuplet")  # kinds whose own kinds are worth a choice of their own


class FilterForm(forms.Form):
    """Words and filters of the repertoire. What cannot be read is left out: a link from last year still opens."""

    q = forms.CharField(label=_("Find"), required=False, strip=True)
    level = forms.ChoiceField(label=_("Level"), required=False)
    key = forms.ChoiceField(label=_("Key"), required=False)
    difficulty = forms.ChoiceField(label=_("With"), required=False)
    student = forms.ModelChoiceField(
        Student.objects.none(), label=_("Played by"), required=False, empty_label=_("anyone")
    )

    def __init__(self, data: Mapping[str, Any], *, pieces: QuerySet[Piece], students: QuerySet[Student]) -> None:
        super().__init__({**dict(data.items()), "q": data.get("q", "").replace("\x00", "")[:LONGEST]})
        there = list(pieces.order_by().values_list("level", "key").distinct())
        levels, keys = sorted({level for level, _key in there} - {""}), {key for _level, key in there}
        self.fields["level"].choices = [("", _("any")), *((level, level) for level in levels)]
        self.fields["key"].choices = [("", _("any")), *(one for one in Key.choices if one[0] in keys)]
        self.fields["difficulty"].choices = [("", _("anything")), *difficulties_in(pieces)]
        self.fields["student"].queryset = students
        self.fields["q"].widget.attrs |= {"type": "search", "autocomplete": "off"}
        self.is_valid()

    @property
    def asked(self) -> dict[str, Any]:
        """What was asked for and could be read."""
        return {name: value for name, value in self.cleaned_data.items() if value}

    @property
    def filters(self) -> list[forms.BoundField]:
        """The fields beside the words."""
        return [field for field in self if field.name != "q"]

    @property
    def narrows(self) -> bool:
        return any(name != "q" for name in self.asked)

    def address(self, **more: object) -> str:
        """The same question as a link."""
        asked = {name: getattr(value, "pk", value) for name, value in self.asked.items()}
        return "?" + urlencode({**asked, **more})


def difficulties_in(pieces: QuerySet[Piece]) -> Iterator[tuple[str, str]]:
    """The kinds of difficulty that stand in these pieces, cross-rhythms by ratio and ornaments by sign."""
    found: dict[str, set[str]] = defaultdict(set)
    for kind, detail in Difficulty.objects.filter(edition__piece__in=pieces).values_list("kind", "detail").distinct():
        found[kind].add(detail)
    for kind in KINDS:
        if kind in found:
            name = gettext(KIND_NAMES[kind])
            yield kind, name
            if kind in BY_DETAIL:
                yield from ((f"{kind}/{one}", f"{name}: {detail_words(one)}") for one in sorted(found[kind] - {""}))


def detail_words(detail: str) -> str:
    """ "3:2" and "trill" as they stand in the list"""
    return gettext(SIGNS[detail]) if detail in SIGNS else detail


class PlayedForm(forms.ModelForm):
    """Where a piece stands for a student, and since when."""

    class Meta:
        model = PlayedPiece
        fields = ["piece", "status", "begun_on", "learned_on", "performed_on", "remark"]
        widgets = {name: forms.DateInput(attrs=DAY, format="%Y-%m-%d") for name in fields if name.endswith("_on")}

    def __init__(self, *args: Any, pieces: QuerySet[Piece], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["piece"].queryset = pieces.order_by("title", "composer")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        begun = cleaned.get("begun_on")
        for name in ("learned_on", "performed_on"):
            if begun and cleaned.get(name) and cleaned[name] < begun:
                self.add_error(name, _("That day lies before the one on which the piece was begun."))
        return cleaned

    def validate_unique(self) -> None:
        """What is said again of the same piece stands instead of what was said before."""
