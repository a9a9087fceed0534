"""The demo studio."""

from datetime import date

import pytest
from django.core.management import CommandError, call_command

from lessons.credits import balance_of
from lessons.demo import lay_out
from lessons.models import AssignedPassage, Lesson, PracticeEntry
from scores.models import Edition, Fingering, Piece
from scores.music.fingering.checks import check
from studio.models import Guardian, Hand, Student, Studio

TODAY = date(2026, 11, 25)


@pytest.fixture
def demo(db) -> Studio:
    return lay_out(today=TODAY)


def test_it_has_students_with_different_hands_and_guardians(demo: Studio):
    assert Student.objects.filter(studio=demo).count() >= 6
    assert Guardian.objects.filter(studio=demo).count() >= 3
    reaches = {(hand.comfortable, hand.largest) for hand in Hand.objects.filter(studio=demo, side="right")}
    assert len(reaches) >= 5


def test_two_editions_of_one_piece_read_differently(demo: Studio):
    piece = Piece.objects.get(studio=demo, title__startswith="Ländler")
    one, other = piece.editions.all()
    attacks = [[note.onset for note in edition.score.in_measures(2, 2, "right")] for edition in (one, other)]
    assert attacks[0] != attacks[1]


def test_there_are_ten_weeks_of_lessons_and_entries_up_to_the_day(demo: Studio):
    days = [lesson.starts_at.date() for lesson in Lesson.objects.filter(studio=demo)]
    assert (TODAY - min(days)).days >= 70
    assert max(days) > TODAY
    entries = PracticeEntry.objects.filter(studio=demo)
    assert entries.count() > 200
    assert all(entry.day <= TODAY for entry in entries)


def test_every_fingering_can_be_played_as_far_as_one_can_say(demo: Studio):
    for fingering in Fingering.objects.filter(studio=demo):
        score = fingering.passage.edition.score
        notes = score.between(fingering.first_note, fingering.last_note, fingering.side)
        assert fingering.fingers
        assert not [problem for problem in check(notes, fingering.fingers, score) if problem.severity == "cannot"]


def test_some_choices_are_left_open(demo: Studio):
    rows = AssignedPassage.objects.filter(studio=demo)
    assert [row for row in rows if not row.offered.exclude(chosen_by="").exists()]
    assert [row for row in rows if row.offered.exclude(chosen_by="").exists()]


def test_the_corpus_piece_is_read_from_the_installed_package(demo: Studio):
    edition = Edition.objects.get(studio=demo, piece__composer="Clara Schumann")
    assert edition.measures > 30


def test_it_is_not_laid_out_twice(demo: Studio):
    with pytest.raises(CommandError):
        call_command("demo")
    call_command("demo", unless_there=True)
    assert Studio.objects.count() == 1
    call_command("demo", anew=True)
    assert Studio.objects.count() == 1


def test_a_served_site_gets_no_demo(db, settings):
    settings.LOCAL = False
    with pytest.raises(CommandError, match="own machine"):
        call_command("demo")
    assert not Studio.objects.exists()


def test_make_up_lessons_are_owed_booked_and_given(demo: Studio):
    owed = {student.name: balance_of(student) for student in Student.objects.filter(studio=demo)}
    assert {name: sum for name, sum in owed.items() if sum} == {"Noor Haddad": 1, "Leo Winther": 1}
    assert Lesson.objects.get(studio=demo, makes_up_for__isnull=False).student.name == "Hanna Okafor"
    assert set(Lesson.objects.filter(studio=demo).values_list("attendance", flat=True)) >= {"present", "late", "missed"}
