"""The studio and its people."""

from studio.models.hands import PAIRS, FingerWidth, Hand, Side
from studio.models.invitations import Invitation
from studio.models.people import Guardian, Student
from studio.models.studio import Paper, Role, Studio, StudioRow, User
from studio.models.terms import Term
from studio.models.tuition import (
    Account,
    Billing,
    Charge,
    Discount,
    Enrolment,
    Invoice,
    InvoiceLine,
    PackageEntry,
    Payment,
    Plan,
    Price,
    Reminder,
    WrittenOnce,
)

__all__ = [
    "PAIRS",
    "Account",
    "Billing",
    "Charge",
    "Discount",
    "Enrolment",
    "FingerWidth",
    "Guardian",
    "Hand",
    "Invitation",
    "Invoice",
    "InvoiceLine",
    "PackageEntry",
    "Paper",
    "Payment",
    "Plan",
    "Price",
    "Reminder",
    "Role",
    "Side",
    "Student",
    "Studio",
    "StudioRow",
    "Term",
    "User",
    "WrittenOnce",
]
