"""Bytes of a score, as somebody sent them, to canonical MusicXML with lasting note ids and to `notation.Score`.

`reading.read` does it, in the workshop: it brings the engraver along for Humdrum, so this page names only the words
that the asking process needs.
"""

from scores.reading_files.terms import CannotRead, Limits, ReadEdition

__all__ = ["CannotRead", "Limits", "ReadEdition"]
