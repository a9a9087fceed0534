"""What changes the repertoire, as verbs."""

import zlib

from scores.models import Edition, Piece
from scores.reading_files import ReadEdition
from scores.reading_files.stored import to_json


def keep_edition(
    *, piece: Piece, label: str, read: ReadEdition, file_name: str = "", original: bytes = b"", typed: str = ""
) -> Edition:
    """Keeps what was read as an edition of the piece: one row, so that it is there whole or not at all."""
    return Edition.objects.create(
        studio_id=piece.studio_id,
        piece=piece,
        label=label,
        file_name=file_name[:255],
        format=read.format,
        typed=typed,
        original=original,
        packed_music=zlib.compress(read.music),
        packed_score=zlib.compress(to_json(read.score).encode()),
        measures=len(read.score.measures),
        notes=len(read.score.notes),
        notices=[[message, params] for message, params in read.notices],
    )
