"""The fixed cast that runs through all tests."""

from dataclasses import dataclass
from functools import cached_property

from studio.models import Guardian, Role, Student, Studio, User
from tests import make


@dataclass
class Cast:
    """One studio with its people, and a second studio next door.

    Oda has a login; Ilmari, her brother, is too young for one; Birger is the guardian of both. Ravi is another student
    of the same teacher, with his guardian Sunita. Next door Mr Ferreira teaches Bruno.
    """

    studio: Studio
    teacher: User
    oda: Student
    ilmari: Student
    birger: Guardian
    ravi: Student
    sunita: Guardian
    next_door: Studio
    other_teacher: User
    bruno: Student

    @cached_property
    def edition(self):
        return make.edition(piece=make.piece(studio=self.studio))

    @cached_property
    def passage(self):
        return make.passage(edition=self.edition)

    @cached_property
    def fingering(self):
        first = self.edition.score.by_id[self.passage.first_note]
        return make.fingering(passage=self.passage, fingers={first.id: "2"})

    @cached_property
    def lesson(self):
        return make.lesson(student=self.oda)

    @cached_property
    def assigned(self):
        return make.assigned(lesson=self.lesson, passage=self.passage, fingerings=[self.fingering])


def gather() -> Cast:
    """Makes the cast; every login has the password `make.PASSWORD`."""
    studio = make.studio()
    next_door = make.studio(name="Studio next door", timezone="America/Sao_Paulo", currency="BRL")
    oda = make.student(
        studio=studio, user=make.user(studio=studio, role=Role.STUDENT, email="oda@example.org", name="Oda Lindqvist")
    )
    ilmari = make.student(studio=studio, name="Ilmari Lindqvist")
    ravi = make.student(
        studio=studio,
        name="Ravi Menon",
        user=make.user(studio=studio, role=Role.STUDENT, email="ravi@example.org", name="Ravi Menon"),
    )
    birger = make.guardian(
        students=[oda, ilmari],
        user=make.user(studio=studio, role=Role.GUARDIAN, email="birger@example.org", name="Birger Lindqvist"),
    )
    sunita = make.guardian(
        students=[ravi],
        name="Sunita Menon",
        email="sunita@example.org",
        user=make.user(studio=studio, role=Role.GUARDIAN, email="sunita@example.org", name="Sunita Menon"),
    )
    return Cast(
        studio=studio,
        teacher=make.user(studio=studio, role=Role.TEACHER, email="ines@example.org", name="Ines Valtonen"),
        oda=oda,
        ilmari=ilmari,
        birger=birger,
        ravi=ravi,
        sunita=sunita,
        next_door=next_door,
        other_teacher=make.user(studio=next_door, role=Role.TEACHER, email="rui@example.org", name="Rui Ferreira"),
        bruno=make.student(studio=next_door, name="Bruno Tavares"),
    )
