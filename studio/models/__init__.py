"""The studio and its people."""

from studio.models.hands import PAIRS, FingerWidth, Hand, Side
from studio.models.invitations import Invitation
from studio.models.people import Guardian, Student
from studio.models.studio import Paper, Role, Studio, StudioRow, User
from studio.models.terms import Term

__all__ = [
    "PAIRS",
    "FingerWidth",
    "Guardian",
    "Hand",
    "Invitation",
    "Paper",
    "Role",
    "Side",
    "Student",
    "Studio",
    "StudioRow",
    "Term",
    "User",
]
