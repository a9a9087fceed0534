"""What changes the studio's people: verbs, each in one transaction."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from django.core import signing
from django.db import transaction

from studio.models import Guardian, Hand, Role, Student, Studio, User

HAND_SALT = "studio.hand"
UNDO_SECONDS = 60 * 60 * 24


@transaction.atomic
def begin_studio(*, studio: Mapping[str, Any], name: str, email: str, password: str) -> User:
    """Makes a studio from its fields, and the login of its teacher."""
    row = Studio.objects.create(**studio)
    return User.objects.create_user(email=email, password=password, name=name, studio=row, role=Role.TEACHER)


def add_student(*, studio: Studio, name: str, remark: str = "") -> Student:
    return Student.objects.create(studio=studio, name=name, remark=remark)


def leave(*, student: Student, on: date) -> None:
    """The student comes to lessons no more. Nothing is lost, and her login stays."""
    student.left_on = on
    student.save(update_fields=["left_on"])


def come_back(*, student: Student) -> None:
    student.left_on = None
    student.save(update_fields=["left_on"])


@transaction.atomic
def add_guardian(*, student: Student, name: str, email: str = "") -> Guardian:
    guardian = Guardian.objects.create(studio_id=student.studio_id, name=name, email=email)
    guardian.students.add(student)
    return guardian


def link_guardian(*, student: Student, guardian: Guardian) -> None:
    """Raises `ValueError` when the two are of different studios."""
    if student.studio_id != guardian.studio_id:
        raise ValueError("a guardian answers only for students of the same studio")
    guardian.students.add(student)


def unlink_guardian(*, student: Student, guardian: Guardian) -> None:
    """The guardian no longer sees this student; she herself stays in the studio."""
    guardian.students.remove(student)


@transaction.atomic
def measure_hand(
    *,
    student: Student,
    sides: Iterable[str],
    measured_on: date,
    comfortable: int,
    largest: int,
    width: str,
    pairs: Mapping[str, Sequence[int]],
) -> list[Hand]:
    """Writes one measurement for each side, in semitones. A second one on the same day takes the place of the first."""
    fields = {"comfortable": comfortable, "largest": largest, "width": width, "pairs": dict(pairs)}
    return [
        Hand.objects.update_or_create(
            student=student,
            side=side,
            measured_on=measured_on,
            defaults={**fields, "studio_id": student.studio_id},
        )[0]
        for side in sides
    ]


def remove_hand(*, hand: Hand) -> str:
    """Takes a measurement away. Returns what `restore_hand` needs to bring it back, signed."""
    fields = {
        "student": hand.student_id,
        "sides": [hand.side],
        "measured_on": hand.measured_on.isoformat(),
        "comfortable": hand.comfortable,
        "largest": hand.largest,
        "width": hand.width,
        "pairs": hand.pairs,
    }
    hand.delete()
    return signing.dumps(fields, salt=HAND_SALT, compress=True)


def student_of_removed_hand(kept: str) -> int:
    """Whose hand it was: the student's key. Raises `signing.BadSignature` for what was not made here or is too old."""
    return int(signing.loads(kept, salt=HAND_SALT, max_age=UNDO_SECONDS)["student"])


def restore_hand(*, student: Student, kept: str) -> Hand:
    """Brings back a measurement of this student. Raises `signing.BadSignature` like `student_of_removed_hand`."""
    fields = signing.loads(kept, salt=HAND_SALT, max_age=UNDO_SECONDS)
    if fields.pop("student") != student.pk:
        raise signing.BadSignature("the hand of somebody else")
    measured_on = date.fromisoformat(fields.pop("measured_on"))
    return measure_hand(student=student, measured_on=measured_on, **fields)[0]
