"""What becomes of an edition's file when a corrected one comes."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from scores.models.repertoire import Edition
from studio.models import StudioRow


class Replacement(StudioRow):
    """Another file for an edition. Until it is done the row holds the file that was sent; from then on the one that
    stood there before, so that the two can be exchanged again.

    In `packed_music` and `packed_score` every note that both files have goes by the id it has in the edition. `left`
    lists what could not stay where it was, to be looked at: {"kind", "row", "note", "place", "what", "value"}; `before`
    is what the exchange changed in passages and notes, for the way back.
    """

    class State(models.TextChoices):
        SENT = "sent", _("looked at before it is done")
        DONE = "done", _("done")
        BACK = "back", _("taken back")

    edition = models.ForeignKey(Edition, on_delete=models.CASCADE, related_name="replacements")
    state = models.CharField(max_length=4, choices=State, default=State.SENT)
    file_name = models.CharField(max_length=255, blank=True)
    format = models.CharField(max_length=30)
    typed = models.TextField(blank=True)
    original = models.BinaryField(default=bytes)
    packed_music = models.BinaryField()
    packed_score = models.BinaryField()
    measures = models.PositiveIntegerField()
    notes = models.PositiveIntegerField()
    notices = models.JSONField(default=list)
    left = models.JSONField(default=list)
    before = models.JSONField(default=dict)
    sent_at = models.DateTimeField(auto_now_add=True)
    done_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-sent_at", "-pk"]

    def __str__(self) -> str:
        return self.file_name or str(self.edition_id)
