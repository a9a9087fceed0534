"""Pieces, editions, passages and the notes on them."""

from scores.models.notes import Cue, Fingering, OrnamentChoice, Placement, RhythmDrill, Source
from scores.models.passages import Hands, Passage, Standing, StandingQuerySet
from scores.models.repertoire import Edition, Piece, Upload

__all__ = [
    "Cue",
    "Edition",
    "Fingering",
    "Hands",
    "OrnamentChoice",
    "Passage",
    "Piece",
    "Placement",
    "RhythmDrill",
    "Source",
    "Standing",
    "StandingQuerySet",
    "Upload",
]
