"""What in a score will need a word; start with `survey`."""

from scores.music.survey.walk import survey
from scores.music.survey.words import (
    FAULTS,
    KIND_NAMES,
    KINDS,
    NOTES_PER_SECOND,
    Finding,
    Kind,
    Options,
)

__all__ = ["FAULTS", "KINDS", "KIND_NAMES", "NOTES_PER_SECOND", "Finding", "Kind", "Options", "survey"]
