"""Bytes of a score, as somebody sent them, to canonical MusicXML with lasting note ids and to `notation.Score`."""

from scores.reading_files.reading import read, read_abc
from scores.reading_files.terms import CannotRead, Limits, ReadEdition
from scores.reading_files.walking import score_of

__all__ = ["CannotRead", "Limits", "ReadEdition", "read", "read_abc", "score_of"]
