"""Lessons, what is assigned at them, and what comes of it."""

from lessons.models.asking import Asked, Feed, Notice, NoticeWish, Offer, Waiting
from lessons.models.assignments import AssignedPassage, Assignment, OfferedFingering, PlacementChoice
from lessons.models.attendance import CANCELLED, Attendance, Consequence, CreditEntry, Policy
from lessons.models.calendar import Absence, BusyTime, FreeHours, Holiday, Slot, Timetable, Where
from lessons.models.handouts import Handout
from lessons.models.lessons import Lesson
from lessons.models.marks import Mark
from lessons.models.practice import PracticeEntry
from lessons.models.repertoire import PlayedPiece, Status
from lessons.models.reports import TermReport

__all__ = [
    "CANCELLED",
    "Absence",
    "Asked",
    "AssignedPassage",
    "Assignment",
    "Attendance",
    "BusyTime",
    "Consequence",
    "CreditEntry",
    "Feed",
    "FreeHours",
    "Handout",
    "Holiday",
    "Lesson",
    "Mark",
    "Notice",
    "NoticeWish",
    "Offer",
    "OfferedFingering",
    "PlacementChoice",
    "PlayedPiece",
    "Policy",
    "PracticeEntry",
    "Slot",
    "Status",
    "TermReport",
    "Timetable",
    "Waiting",
    "Where",
]
