"""Lessons, what is assigned at them, and what comes of it."""

from lessons.models.assignments import AssignedPassage, Assignment, OfferedFingering, PlacementChoice
from lessons.models.handouts import Handout
from lessons.models.lessons import Lesson
from lessons.models.practice import PracticeEntry

__all__ = [
    "AssignedPassage",
    "Assignment",
    "Handout",
    "Lesson",
    "OfferedFingering",
    "PlacementChoice",
    "PracticeEntry",
]
