"""What returns in an edition: found once, kept beside it."""

import json
import zlib
from collections.abc import Sequence

from django.db import models

from scores.models.repertoire import Edition
from scores.music.recurrences import Group, Place
from studio.models import StudioRow

VERSION = 3  # of what `scores.music.recurrences` finds: what an older one found is looked for anew


class Recurrences(StudioRow):
    """The groups of `scores.music.recurrences` of one edition, compressed. An edition's music never changes, so these
    change only with the program: then `version` is another."""

    edition = models.OneToOneField(Edition, on_delete=models.CASCADE, related_name="recurrences")
    version = models.PositiveSmallIntegerField()
    packed = models.BinaryField()

    def __str__(self) -> str:
        return str(self.edition_id)

    @property
    def groups(self) -> tuple[Group, ...]:
        return tuple(
            Group(hands, tuple(Place(tuple(measures), semitones, steps) for measures, semitones, steps in places))
            for hands, places in json.loads(zlib.decompress(self.packed))
        )


def packed(groups: Sequence[Group]) -> bytes:
    """Groups as they are kept."""
    rows = [
        [group.hands, [[place.measures, place.semitones, place.steps] for place in group.places]] for group in groups
    ]
    return zlib.compress(json.dumps(rows, separators=(",", ":")).encode())
