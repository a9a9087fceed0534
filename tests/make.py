"""Builders: plain functions that make one row each, with keyword overrides and no random values.

Their days lie in 2020, past on whatever day and in whatever zone the tests run.
"""

from datetime import UTC, date, datetime
from functools import cache

from django.contrib.auth.hashers import make_password

from lessons.models import AssignedPassage, Assignment, Handout, Lesson, OfferedFingering, PracticeEntry
from scores.marking import mark_passage
from scores.models import Cue, Edition, Fingering, Passage, Piece
from scores.reading_files.reading import read
from scores.repertoire import keep_edition, keep_piece
from studio.invitations import hash_of
from studio.models import Guardian, Hand, Invitation, Role, Student, Studio, User
from tests.music import LAENDLER

PASSWORD = "eight brown hammers"


def studio(**given) -> Studio:
    fields = {"name": "Studio Harbour Street", "timezone": "Europe/Helsinki", "currency": "EUR"}
    return Studio.objects.create(**{**fields, **given})


@cache
def hashed(password: str) -> str:
    """Argon2 is slow by design; the cast shares one password, so it is hashed once a process."""
    return make_password(password)


def user(*, studio: Studio, role: Role, email: str, name: str = "Someone", password: str = PASSWORD) -> User:
    return User.objects.create(email=email, password=hashed(password), name=name, studio=studio, role=role)


def student(*, studio: Studio, **given) -> Student:
    return Student.objects.create(studio=studio, **{"name": "Oda Lindqvist", **given})


def guardian(*, students: list[Student], **given) -> Guardian:
    fields = {"name": "Birger Lindqvist", "email": "birger@example.org"}
    row = Guardian.objects.create(studio=students[0].studio, **{**fields, **given})
    row.students.set(students)
    return row


def hand(*, student: Student, **given) -> Hand:
    fields = {"side": "right", "measured_on": date(2020, 9, 1), "comfortable": 12, "largest": 14}
    return Hand.objects.create(studio=student.studio, student=student, **{**fields, **given})


def invitation(*, student: Student, token: str = "a token", **given) -> Invitation:
    fields = {"token_hash": hash_of(token), "expires_at": datetime(2100, 1, 1, tzinfo=UTC)}
    return Invitation.objects.create(studio=student.studio, student=student, **{**fields, **given})


def piece(*, studio: Studio, **given) -> Piece:
    return keep_piece(Piece(studio=studio, **{"title": "Ländler in E-flat", **given}))


def edition(*, piece: Piece, music: str = LAENDLER, name: str = "laendler.musicxml", **given) -> Edition:
    return keep_edition(
        piece=piece,
        file_name=name,
        original=music.encode(),
        **{"label": "Brandt edition", "read": read(name, music.encode()), **given},
    )


def passage(*, edition: Edition, first: str = "", last: str = "", hands: str = "right", **given) -> Passage:
    """By default from the first note of that hand to its last."""
    notes = [note for note in edition.score.notes if hands in (note.side, "both")]
    return mark_passage(edition=edition, first=first or notes[0].id, last=last or notes[-1].id, hands=hands, **given)


def fingering(*, passage: Passage, fingers: dict[str, str], **given) -> Fingering:
    fields = {"side": "right", "first_note": passage.first_note, "last_note": passage.last_note}
    return Fingering.objects.create(
        studio_id=passage.studio_id, passage=passage, fingers=fingers, **{**fields, **given}
    )


def cue(*, passage: Passage, **given) -> Cue:
    fields = {"text": "Let the wrist float up.", "measure": passage.first_measure}
    return Cue.objects.create(studio_id=passage.studio_id, passage=passage, **{**fields, **given})


def lesson(*, student: Student, **given) -> Lesson:
    fields = {"starts_at": datetime(2020, 11, 23, 14, 0, tzinfo=UTC), "minutes": 45}
    return Lesson.objects.create(studio=student.studio, student=student, **{**fields, **given})


def assignment(*, lesson: Lesson, piece: Piece, **given) -> Assignment:
    """The piece given as a whole."""
    return Assignment.objects.create(studio=lesson.studio, lesson=lesson, piece=piece, **given)


def assigned(*, lesson: Lesson, passage: Passage, fingerings: list[Fingering] = (), **given) -> AssignedPassage:
    """The passage assigned at the lesson, with these fingerings offered and left open."""
    assignment, _ = Assignment.objects.get_or_create(
        studio=lesson.studio, lesson=lesson, piece_id=passage.edition.piece_id
    )
    fields = {"tempo_now": 60, "tempo_goal": 88}
    row = AssignedPassage.objects.create(
        studio=lesson.studio, assignment=assignment, passage=passage, **{**fields, **given}
    )
    for fingering in fingerings:
        OfferedFingering.objects.create(studio=lesson.studio, assigned=row, fingering=fingering)
    return row


def entry(*, student: Student, **given) -> PracticeEntry:
    fields = {"day": date(2020, 11, 24), "minutes": 12}
    return PracticeEntry.objects.create(studio=student.studio, student=student, **{**fields, **given})


def handout(*, lesson: Lesson, **given) -> Handout:
    fields = {"revision": 1, "content": {}, "pdf": b"%PDF-1.4", "paper": "A4"}
    return Handout.objects.create(studio=lesson.studio, lesson=lesson, **{**fields, **given})
