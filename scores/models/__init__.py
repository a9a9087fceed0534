"""Pieces, editions, passages and the notes on them."""

from scores.models.editions import Replacement
from scores.models.notes import Cue, Fingering, OrnamentChoice, Placement, RhythmDrill, Source, Start
from scores.models.passages import Hands, Passage, Standing, StandingQuerySet
from scores.models.recurrences import Recurrences
from scores.models.repertoire import Edition, Key, Piece, Upload
from scores.models.search import SearchLine, Unsearched
from scores.models.survey import Difficulty, Looked, Preparation, SurveyHabit

__all__ = [
    "Cue",
    "Difficulty",
    "Edition",
    "Fingering",
    "Hands",
    "Key",
    "Looked",
    "OrnamentChoice",
    "Passage",
    "Piece",
    "Placement",
    "Preparation",
    "Recurrences",
    "Replacement",
    "RhythmDrill",
    "SearchLine",
    "Source",
    "Standing",
    "StandingQuerySet",
    "Start",
    "SurveyHabit",
    "Unsearched",
    "Upload",
]
