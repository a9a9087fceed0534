"""What the repertoire is searched by. Both tables are made from the others and can be thrown away at any time."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from scores.models.passages import Passage
from scores.models.repertoire import Piece
from studio.models import StudioRow


class SearchLine(StudioRow):
    """One thing that can be found: a piece, or what was written on one of its passages.

    `words` are the folded words of it and of its piece, apart by spaces; each database has an index of them that
    `scores.searching` asks. `shown` is what stood there, `passage` where it leads.
    """

    class Kind(models.TextChoices):
        PIECE = "piece", _("piece")
        PASSAGE = "passage", _("passage")
        CUE = "cue", _("cue")
        REMARK = "remark", _("remark")

    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="search_lines")
    passage = models.ForeignKey(Passage, on_delete=models.CASCADE, null=True, related_name="+")
    kind = models.CharField(max_length=7, choices=Kind)
    shown = models.CharField(max_length=300)
    words = models.TextField()

    class Meta:
        ordering = ["piece", "pk"]

    def __str__(self) -> str:
        return self.shown


class Unsearched(StudioRow):
    """A piece that changed since its search lines were made. The next search makes them anew first."""

    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="+")

    def __str__(self) -> str:
        return str(self.piece_id)
