"""Passage notes: what the teacher wrote on a passage. They refer to notes of the music by id."""

from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from scores.models.passages import Passage, Standing, StandingQuerySet
from scores.music.ornaments.words import FEWEST, MOST
from studio.models import Side, StudioRow


class PassageNote(Standing, StudioRow):
    """What the kinds of passage note share.

    A note stands at its passage and, unless `instead_of` is set, wherever the same music returns: see
    `scores.recurring`, which makes of it rows for those places, never saved, whose `inherited` says where from. A note
    with `instead_of` stands at its own passage only, in place of that one; taken away, it says that the other does not
    stand there.
    """

    remark = models.TextField(_("remark"), blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    instead_of = models.ForeignKey(
        "self", on_delete=models.SET_NULL, null=True, blank=True, editable=False, related_name="departures"
    )

    inherited: Any = None

    objects = StandingQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **options: Any) -> None:
        """Refuses a row that only shows how another note stands at this place: it has that one's key."""
        if self.inherited is not None:
            raise TypeError("an inherited note is not kept: write one of the place's own")
        super().save(*args, **options)


class Source(models.TextChoices):
    TEACHER = "teacher", _("the teacher")
    PROGRAM = "program", _("the program")
    PRINTED = "printed", _("the print")


class Fingering(PassageNote):
    """A finger for every note of a stretch of the passage, or for those that need one.

    `fingers` maps note ids to text as in `music.fingering.text`: {"n12": "3", "n13": "4-5"}. `first_note` and
    `last_note` bound the stretch; two fingerings of one hand with the same bounds are options of one part.
    """

    passage = models.ForeignKey(Passage, on_delete=models.CASCADE, related_name="fingerings")
    side = models.CharField(_("hand"), max_length=5, choices=Side)
    first_note = models.CharField(max_length=80)
    last_note = models.CharField(max_length=80)
    fingers = models.JSONField(default=dict)
    source = models.CharField(max_length=7, choices=Source, default=Source.TEACHER)
    position = models.PositiveSmallIntegerField(default=0)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["side", "position", "pk"]

    def __str__(self) -> str:
        return " ".join(self.fingers.values())


class Placement(models.TextChoices):
    BEFORE = "before", _("before the beat")
    ON = "on", _("on the beat")


class Start(models.TextChoices):
    MAIN = "main", _("the note itself")
    UPPER = "upper", _("the note above")
    LOWER = "lower", _("the note below")
    TURN = "turn", _("a turn from above")


class OrnamentChoice(PassageNote):
    """How the grace or ornament of one note is played. What is blank or None is as the edition says, else as usual.

    `note` is the ornament's key in `music.ornaments`, `count` the number of all its notes, `turn` whether a trill ends
    with one, `long` whether a single grace is a leaning note or a crushed one.
    """

    passage = models.ForeignKey(Passage, on_delete=models.CASCADE, related_name="ornament_choices")
    note = models.CharField(max_length=80)
    placement = models.CharField(_("placement"), max_length=6, choices=Placement, blank=True)
    count = models.PositiveSmallIntegerField(
        _("number of notes"), null=True, blank=True, validators=[MinValueValidator(FEWEST), MaxValueValidator(MOST)]
    )
    start = models.CharField(_("first note"), max_length=5, choices=Start, blank=True)
    turn = models.BooleanField(_("ending"), null=True, blank=True)
    long = models.BooleanField(_("length"), null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["passage", "note"], name="one_placement_a_note")]

    def __str__(self) -> str:
        return self.get_placement_display() or _("as the edition says")


class RhythmDrill(PassageNote):
    """How two hands' rhythm fits in a span of the passage. `start` and `end` in quarters from the piece's start, as
    fractions ("7/2"). `stages` is the plan of practice: data as made by `music.drill`, changed by the teacher. The
    tempos, in quarters a minute, are those that the plan was proposed for. `former` is what the last change replaced:
    its stages and remark, {} before the first."""

    passage = models.ForeignKey(Passage, on_delete=models.CASCADE, related_name="drills")
    start = models.CharField(max_length=24)
    end = models.CharField(max_length=24)
    stages = models.JSONField(default=list)
    tempo_now = models.PositiveSmallIntegerField(null=True, blank=True)
    tempo_goal = models.PositiveSmallIntegerField(null=True, blank=True)
    former = models.JSONField(default=dict, blank=True)

    def __str__(self) -> str:
        return f"{self.start}–{self.end}"


class Cue(PassageNote):
    """A short remark on motion or touch, tied to a note, or to a beat of a measure (index, beat as "2" or "5/2")."""

    passage = models.ForeignKey(Passage, on_delete=models.CASCADE, related_name="cues")
    text = models.CharField(_("cue"), max_length=300)
    note = models.CharField(max_length=80, blank=True)
    measure = models.PositiveIntegerField()
    beat = models.CharField(max_length=12, default="1")

    class Meta:
        ordering = ["measure", "pk"]

    def __str__(self) -> str:
        return self.text
