"""The preparation list for one student: what is new to her, what asks much of her hands."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from lessons.models import Assignment
from lessons.preparing import difficulties_had
from tests import make
from tests.music import ATTRIBUTES, BACK, finger, note, score

pytestmark = pytest.mark.django_db


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


def crossing(upper: int = 4) -> str:
    right = "".join(note("C5", "quarter", duration=36 // upper) for _ in range(upper))
    left = "".join(note("C3", "quarter", staff=2) for _ in range(3))
    return score([ATTRIBUTES + right + BACK + left], title="Crossing")


def octaves() -> str:
    grip = note("C4", "half.", extra=finger("1")) + note("C5", "half.", chord=True)
    return score([ATTRIBUTES + grip + BACK + note("C3", "half.", staff=2)], title="Octave")


def give(cast, music: str, title: str):
    piece = make.piece(studio=cast.studio, title=title)
    make.edition(piece=piece, music=music)
    Assignment.objects.create(studio=cast.studio, lesson=cast.lesson, piece=piece)


def shown(client, cast, edition, **asked) -> str:
    answer = client.get(reverse("preparation-for", args=[edition.pk]), {"student": cast.oda.pk, **asked})
    assert answer.status_code == 200
    return answer.content.decode()


def test_the_like_of_what_she_has_had_is_not_new(teacher, cast):
    assert shown(teacher, cast, cast.edition).count("New to the student") - 1 == 5  # one is the filter
    give(cast, crossing(), "An older piece")
    text = shown(teacher, cast, cast.edition, only="new")
    assert "A grace note before" in text
    assert "4 in the right hand against 3" not in text


def test_another_ratio_is_new_all_the_same(cast):
    give(cast, crossing(2), "Two against three")
    assert ("cross-rhythm", "3:2") in difficulties_had(cast.oda, without=cast.edition.piece)
    assert ("cross-rhythm", "4:3") not in difficulties_had(cast.oda, without=cast.edition.piece)


def test_the_piece_itself_and_what_others_had_do_not_count(cast):
    Assignment.objects.create(studio=cast.studio, lesson=cast.lesson, piece=cast.edition.piece)
    other = make.lesson(student=cast.ravi)
    piece = make.piece(studio=cast.studio, title="His")
    make.edition(piece=piece, music=crossing())
    Assignment.objects.create(studio=cast.studio, lesson=other, piece=piece)
    assert difficulties_had(cast.oda, without=cast.edition.piece) == frozenset()


def test_what_exceeds_her_hand_is_said_in_words_with_the_caution(teacher, cast):
    edition = make.edition(piece=make.piece(studio=cast.studio, title="Octave"), music=octaves())
    before = shown(teacher, cast, edition)
    assert "Beyond this hand’s reach" not in before
    assert "Until then a medium hand" in before
    make.hand(student=cast.oda, side="right", comfortable=9, largest=11)
    after = shown(teacher, cast, edition, only="hand")
    assert "Beyond this hand’s reach" in after
    assert "An octave, more than this hand reaches at most (a seventh)" in after
    assert "A stretch must never hurt" in after


def test_a_finding_that_only_her_hand_has_can_be_made_a_passage(teacher, cast):
    edition = make.edition(piece=make.piece(studio=cast.studio, title="Octave"), music=octaves())
    make.hand(student=cast.oda, side="right", comfortable=9, largest=11)
    key = f"reach::right:{edition.score.notes[1].id}"
    data = {"key": key, "student": cast.oda.pk}
    assert teacher.post(reverse("passage-of-finding", args=[edition.pk]), {"key": key}).status_code == 404
    assert teacher.post(reverse("passage-of-finding", args=[edition.pk]), data).status_code == 302


def test_a_student_of_another_studio_is_not_there(teacher, cast):
    page = reverse("preparation-for", args=[cast.edition.pk])
    for asked in (cast.bruno.pk, "x", "9" * 30):
        assert teacher.get(page, {"student": asked}).status_code == 404


def test_more_pieces_add_no_query(teacher, cast):
    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            shown(teacher, cast, cast.edition)
        return len(counted)

    queries()
    before = queries()
    for number in range(10):
        give(cast, crossing(), f"Piece {number}")
        make.hand(student=cast.oda, measured_on=f"2020-01-{number + 1:02}")
    assert queries() <= before
    assert before <= 12
