"""Pieces, editions, passages and the notes on them."""

from scores.models.notes import Cue, Fingering, OrnamentChoice, Placement, RhythmDrill, Source, Start
from scores.models.passages import Hands, Passage, Standing, StandingQuerySet
from scores.models.repertoire import Edition, Key, Piece, Upload
from scores.models.search import SearchLine, Unsearched

__all__ = [
    "Cue",
    "Edition",
    "Fingering",
    "Hands",
    "Key",
    "OrnamentChoice",
    "Passage",
    "Piece",
    "Placement",
    "RhythmDrill",
    "SearchLine",
    "Source",
    "Standing",
    "StandingQuerySet",
    "Start",
    "Unsearched",
    "Upload",
]
