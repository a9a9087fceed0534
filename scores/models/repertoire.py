"""Pieces and their editions."""

import zlib
from functools import lru_cache

from django.db import models
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy as _

from scores.music.notation import Score
from scores.reading_files.stored import from_json
from studio.models import StudioRow, User


class Key(models.TextChoices):
    """Keys as musicians write them short: a capital for major, a small letter for minor."""

    C_FLAT_MAJOR = "Cb", _("C-flat major")
    G_FLAT_MAJOR = "Gb", _("G-flat major")
    D_FLAT_MAJOR = "Db", _("D-flat major")
    A_FLAT_MAJOR = "Ab", _("A-flat major")
    E_FLAT_MAJOR = "Eb", _("E-flat major")
    B_FLAT_MAJOR = "Bb", _("B-flat major")
    F_MAJOR = "F", _("F major")
    C_MAJOR = "C", _("C major")
    G_MAJOR = "G", _("G major")
    D_MAJOR = "D", _("D major")
    A_MAJOR = "A", _("A major")
    E_MAJOR = "E", _("E major")
    B_MAJOR = "B", _("B major")
    F_SHARP_MAJOR = "F#", _("F-sharp major")
    C_SHARP_MAJOR = "C#", _("C-sharp major")
    A_FLAT_MINOR = "ab", _("A-flat minor")
    E_FLAT_MINOR = "eb", _("E-flat minor")
    B_FLAT_MINOR = "bb", _("B-flat minor")
    F_MINOR = "f", _("F minor")
    C_MINOR = "c", _("C minor")
    G_MINOR = "g", _("G minor")
    D_MINOR = "d", _("D minor")
    A_MINOR = "a", _("A minor")
    E_MINOR = "e", _("E minor")
    B_MINOR = "b", _("B minor")
    F_SHARP_MINOR = "f#", _("F-sharp minor")
    C_SHARP_MINOR = "c#", _("C-sharp minor")
    G_SHARP_MINOR = "g#", _("G-sharp minor")
    D_SHARP_MINOR = "d#", _("D-sharp minor")
    A_SHARP_MINOR = "a#", _("A-sharp minor")


class Piece(StudioRow):
    """A composition, whoever printed it."""

    title = models.CharField(_("title"), max_length=200)
    composer = models.CharField(_("composer"), max_length=120, blank=True)
    catalogue = models.CharField(
        _("catalogue number"), max_length=60, blank=True, help_text=_("For example op. 28 no. 7.")
    )
    level = models.CharField(_("level"), max_length=40, blank=True, help_text=_("In your own words or grades."))
    key = models.CharField(_("key"), max_length=3, blank=True, choices=Key)
    remark = models.TextField(_("remark"), blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["title", "composer", "pk"]

    def __str__(self) -> str:
        return self.title


class EditionQuerySet(models.QuerySet["Edition"]):
    def light(self):
        """Without the music itself: for lists."""
        return self.defer("original", "packed_music", "packed_score")


class Edition(StudioRow):
    """One source of a piece. Its music is kept in the row, so that an edition is there whole or not at all.

    `packed_music` is the canonical MusicXML, `packed_score` the same as `notation.Score`, both compressed; `original`
    is the file as it was sent (empty for a passage entered by hand, whose text is `typed`).
    """

    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="editions")
    label = models.CharField(_("edition"), max_length=120, help_text=_("Publisher or editor, as you would call it."))
    file_name = models.CharField(max_length=255, blank=True)
    format = models.CharField(max_length=30)
    typed = models.TextField(blank=True)
    original = models.BinaryField(default=bytes)
    packed_music = models.BinaryField()
    packed_score = models.BinaryField()
    measures = models.PositiveIntegerField()
    notes = models.PositiveIntegerField()
    notices = models.JSONField(default=list)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = EditionQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.label

    @cached_property
    def music(self) -> bytes:
        """The canonical MusicXML, every note with its id."""
        return zlib.decompress(self.packed_music)

    @cached_property
    def score(self) -> Score:
        return unpacked(bytes(self.packed_score))


@lru_cache(maxsize=4)
def unpacked(packed: bytes) -> Score:
    """The score of an edition. The few that are leafed through at the moment are kept: a long one takes a second to
    unpack, nothing in it ever changes, and so it can be shared."""
    return from_json(zlib.decompress(packed).decode())


class Upload(StudioRow):
    """How far the reading of one sent file has come; the page that sent it asks for this."""

    key = models.UUIDField(unique=True)
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    step = models.CharField(max_length=60, blank=True)
    percent = models.PositiveSmallIntegerField(default=0)
    error = models.TextField(blank=True)
    edition = models.ForeignKey(Edition, on_delete=models.SET_NULL, null=True, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return f"{self.percent} %"
