"""Forms of the desk: what a teacher writes on a passage."""

from collections.abc import Iterable, Sequence

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from scores.judging import engine_hand
from scores.marking import beat_words
from scores.models import Cue, Passage
from scores.music.fingering.hand import hand
from scores.music.notation import Moment, Score
from scores.rhythms import beats_in
from scores.stretches import place_of, sides_in, stretch
from studio.models import Side, Student
from studio.reach import latest_hands

Choices = list[tuple[str, list[tuple[str, str]]]]


def moment_words(score: Score, moment: Moment) -> str:
    """ "m. 17, beat 2½: E♭5" """
    place = place_of(score, moment.notes[0])
    values = {
        "measure": place.measure,
        "beat": place.beat,
        "notes": " ".join(f"{note.pitch.name}{note.pitch.octave}" for note in moment.notes),
    }
    if moment.is_grace:
        return _("m. %(measure)s, grace before beat %(beat)s: %(notes)s") % values
    return _("m. %(measure)s, beat %(beat)s: %(notes)s") % values


def measure_words(number: str) -> str:
    return _("measure %(number)s") % {"number": number}


def moment_choices(passage: Passage, side: str) -> Choices:
    """The moments of a hand by measure, each under the id of its lowest note."""
    score = passage.edition.score
    groups: dict[str, list[tuple[str, str]]] = {}
    for moment in stretch(passage, side):
        group = groups.setdefault(score.measure_of(moment.notes[0]).number, [])
        group.append((moment.notes[0].id, moment_words(score, moment)))
    return [(measure_words(number), group) for number, group in groups.items()]


def beat_choices(passage: Passage) -> Choices:
    """The beats of the passage by measure, each under its time in quarters."""
    return [
        (
            measure_words(measure.number),
            [
                (str(onset), _("m. %(measure)s, beat %(beat)s") % {"measure": measure.number, "beat": beat})
                for beat, onset in beats
            ],
        )
        for measure, beats in beats_in(passage)
    ]


def place_choices(passage: Passage) -> Choices:
    """Where a cue may stand: the beats of each measure and the notes in it."""
    score = passage.edition.score
    groups: dict[int, list[tuple[str, str]]] = {}
    for measure, beats in beats_in(passage):
        groups[measure.index] = [
            (
                f"beat:{measure.index}:{measure.beat_of(onset)}",
                _("m. %(measure)s, beat %(beat)s") % {"measure": measure.number, "beat": beat},
            )
            for beat, onset in beats
        ]
    for side in sides_in(passage):
        for moment in stretch(passage, side):
            for note in moment.notes:
                measure = score.measure_of(note)
                words = _("m. %(measure)s, beat %(beat)s, %(hand)s: %(note)s")
                if note.is_grace:
                    words = _("m. %(measure)s, grace before beat %(beat)s, %(hand)s: %(note)s")
                values = {
                    "measure": measure.number,
                    "beat": beat_words(measure.beat_of(note.onset)),
                    "hand": Side(side).label,
                    "note": f"{note.pitch.name}{note.pitch.octave}",
                }
                groups[measure.index].append((f"note:{note.id}", words % values))
    return [(measure_words(score.measures[index].number), group) for index, group in groups.items()]


class LineForm(forms.Form):
    """A whole line as text. `seen` says which state of the line the writer looked at."""

    line = forms.CharField(required=False, max_length=20_000)
    seen = forms.CharField(required=False, max_length=60)


class StretchForm(forms.Form):
    """Which part of the passage a line is for, and a remark on it."""

    first_note = forms.ChoiceField(label=_("From"))
    last_note = forms.ChoiceField(label=_("To"))
    remark = forms.CharField(
        label=_("Remark"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args, passage: Passage, side: str, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        choices = moment_choices(passage, side)
        self.fields["first_note"].choices = choices
        self.fields["last_note"].choices = choices


class FingersForm(forms.Form):
    """What the page's script sends: the whole mapping of note ids to fingers."""

    fingers = forms.JSONField(required=False)  # A line without any finger is a line.
    first_note = forms.CharField(required=False, max_length=80)
    last_note = forms.CharField(required=False, max_length=80)
    seen = forms.CharField(required=False, max_length=60)

    def clean_fingers(self) -> dict[str, str]:
        fingers = self.cleaned_data["fingers"]
        texts = fingers.values() if isinstance(fingers, dict) else [None]
        if not all(isinstance(text, str) and len(text) <= 20 for text in texts):
            raise ValidationError(_("Fingers are a text for each note."))
        return {str(note): text.strip() for note, text in fingers.items()}


class NewLineForm(forms.Form):
    """A new line for a hand of the passage; without ends it is as long as the passage."""

    side = forms.ChoiceField(label=_("Hand"), choices=Side)
    first_note = forms.CharField(required=False, max_length=80)
    last_note = forms.CharField(required=False, max_length=80)
    start = forms.ChoiceField(
        label=_("Begins as"), required=False, choices=[("", _("empty")), ("printed", _("the printed fingers"))]
    )


SIZES = [("small", _("a small hand")), ("medium", _("a medium hand")), ("large", _("a large hand"))]


def hand_choices(students: Iterable[Student], sides: Iterable[str]) -> dict[str, Choices]:
    """For each side the students whose hand was measured, and the three sizes."""
    measured = [(student, latest_hands(student.hands.all())) for student in students]
    found: dict[str, Choices] = {}
    for side in sides:
        own = [(f"student-{student.pk}", student.name) for student, hands in measured if side in hands]
        found[side] = [*([(_("Your students"), own)] if own else []), (_("By size"), SIZES)]
    return found


class ProposalForm(forms.Form):
    """For which hand the program is to suggest lines: a student's, or one of a size. `cleaned_data["hand"]` is the hand
    as the engine knows it."""

    side = forms.ChoiceField(label=_("Hand"), choices=Side)
    size = forms.ChoiceField(label=_("For"))

    def __init__(self, *args, students: Sequence[Student], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.students = students
        choices = hand_choices(students, Side.values)
        self.fields["size"].choices = choices.get(str(self.data.get("side")), [(_("By size"), SIZES)])

    def clean(self) -> dict:
        found = super().clean()
        side, size = found.get("side"), found.get("size", "")
        if not side or not size:
            return found
        student = next((student for student in self.students if size == f"student-{student.pk}"), None)
        found["hand"] = engine_hand(latest_hands(student.hands.all())[side]) if student else hand(side, size)
        return found


class CueForm(forms.Form):
    """A cue and its place: "note:<id>" or "beat:<measure index>:<beat>"."""

    text = forms.CharField(label=_("Cue"), max_length=300, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    place = forms.ChoiceField(label=_("Where"))

    def __init__(self, *args, passage: Passage, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].choices = place_choices(passage)

    @property
    def where(self) -> dict:
        """The place as the verbs take it."""
        kind, rest = self.cleaned_data["place"].split(":", 1)
        if kind == "note":
            return {"note": rest}
        measure, beat = rest.split(":")
        return {"measure": int(measure), "beat": beat}

    @classmethod
    def of(cls, cue: Cue) -> "CueForm":
        place = f"note:{cue.note}" if cue.note else f"beat:{cue.measure}:{cue.beat}"
        return cls(passage=cue.passage, initial={"text": cue.text, "place": place})


class CopyForm(forms.Form):
    """Which passage a note is copied to: those of the same piece first."""

    passage = forms.TypedChoiceField(label=_("To"), coerce=int)

    def __init__(self, *args, passages: Iterable[Passage], source: Passage, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        groups: dict[tuple[bool, str], list[tuple[int, str]]] = {}
        for passage in passages:
            piece = passage.edition.piece
            words = f"{passage.edition.label}, {passage.where}"
            group = groups.setdefault((piece.pk != source.edition.piece_id, piece.title), [])
            group.append((passage.pk, f"{words}: {passage.name}" if passage.name else words))
        self.fields["passage"].choices = [(title, groups[far, title]) for far, title in sorted(groups)]
        if not groups:
            self.fields["passage"].help_text = _(
                "There is no other passage yet. Mark one; then it can be copied there."
            )
