"""What a student plays and has played."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from scores.models import Piece
from studio.models import Student, StudioRow


class Status(models.TextChoices):
    WISHED = "wished", _("wished for")
    WORK = "work", _("in work")
    LEARNED = "learned", _("learned")
    KEPT = "kept", _("kept up")
    ASIDE = "aside", _("set aside")


class PlayedPiece(StudioRow):
    """What the teacher says of a student and a piece: where it stands and since when, also of pieces from before the
    student came. Without a row the assignments say it. `performed_on` is the last time before an audience."""

    student = models.ForeignKey(Student, on_delete=models.CASCADE, related_name="played")
    piece = models.ForeignKey(Piece, on_delete=models.CASCADE, related_name="played")
    status = models.CharField(_("status"), max_length=7, choices=Status)
    begun_on = models.DateField(_("begun on"), null=True, blank=True)
    learned_on = models.DateField(_("learned on"), null=True, blank=True)
    performed_on = models.DateField(_("performed on"), null=True, blank=True)
    remark = models.CharField(_("remark"), max_length=300, blank=True)

    class Meta:
        ordering = ["student", "pk"]
        constraints = [models.UniqueConstraint(fields=["student", "piece"], name="a_piece_once_a_student")]

    def __str__(self) -> str:
        return f"{self.piece}: {self.get_status_display()}"
