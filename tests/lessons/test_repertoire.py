"""The repertoire's list with its filters, and what a student plays."""

from datetime import UTC, date, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from lessons import repertoire
from lessons.models import PlayedPiece, Status
from lessons.repertoire import make_filterable
from scores import noting
from scores.models import Difficulty, Preparation
from tests import make

AT = datetime(2020, 12, 1, 12, tzinfo=UTC)


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


def listed(client, **asked):
    answer = client.get(reverse("repertoire"), asked)
    return [line.piece.title for line in answer.context["lines"]]


def test_the_list_can_be_narrowed_to_a_level_and_a_key(cast, teacher):
    make.piece(studio=cast.studio, title="Air", level="grade 2", key="d")
    make.piece(studio=cast.studio, title="Bolero", level="grade 5", key="d")
    make.piece(studio=cast.studio, title="Canon", level="grade 5", key="D")
    assert listed(teacher, level="grade 5") == ["Bolero", "Canon"]
    assert listed(teacher, level="grade 5", key="d") == ["Bolero"]


def test_only_levels_and_keys_that_are_there_are_offered(cast, teacher):
    make.piece(studio=cast.studio, title="Air", level="grade 2", key="d")
    make.piece(studio=cast.next_door, title="Bolero", level="grade 9", key="D")
    form = teacher.get(reverse("repertoire")).context["form"]
    assert [value for value, _ in form.fields["level"].choices] == ["", "grade 2"]
    assert [value for value, _ in form.fields["key"].choices] == ["", "d"]


def test_the_list_can_be_narrowed_to_what_a_student_plays_or_has_played(cast, teacher):
    make.assigned(lesson=cast.lesson, passage=cast.passage)
    other = make.piece(studio=cast.studio, title="Air")
    wished = make.piece(studio=cast.studio, title="Bolero")
    repertoire.say_status(student=cast.oda, piece=other, fields={"status": Status.LEARNED})
    repertoire.say_status(student=cast.oda, piece=wished, fields={"status": Status.WISHED})
    assert listed(teacher, student=cast.oda.pk) == ["Air", "Ländler in E-flat"]
    assert listed(teacher, student=cast.ravi.pk) == []


def test_the_list_can_be_narrowed_to_a_kind_of_difficulty(cast, teacher):
    """Pieces with three against two, however many editions have it."""
    for title, kinds in (("Air", ["3:2", "4:3"]), ("Bolero", ["4:3"]), ("Canon", [])):
        edition = make.edition(piece=make.piece(studio=cast.studio, title=title))
        Difficulty.objects.filter(edition=edition).delete()
        for ratio in kinds:
            Difficulty.objects.create(studio=cast.studio, edition=edition, kind="cross-rhythm", detail=ratio, count=1)
    assert listed(teacher, difficulty="cross-rhythm/3:2") == ["Air"]
    assert listed(teacher, difficulty="cross-rhythm") == ["Air", "Bolero"]
    offered = dict(teacher.get(reverse("repertoire")).context["form"].fields["difficulty"].choices)
    assert offered["cross-rhythm/3:2"] == "cross-rhythms: 3:2"
    assert "leap" not in offered


def test_a_filter_that_cannot_be_read_is_left_out(cast, teacher):
    make.piece(studio=cast.studio, title="Air")
    assert listed(teacher, level="none such", key="H", difficulty="x/y", student="x", page="9" * 30) == ["Air"]
    assert listed(teacher, student=cast.bruno.pk) == ["Air"]


def test_a_cue_that_was_found_stands_under_its_piece_with_a_link_to_its_desk(cast, teacher):
    noting.write_cue(passage=cast.passage, text="Loose wrist", measure=cast.passage.first_measure)
    text = teacher.get(reverse("repertoire"), {"q": "wrist"}).content.decode()
    assert "Loose wrist" in text
    assert reverse("desk", args=[cast.passage.pk]) in text


def test_a_long_list_comes_a_page_at_a_time_with_the_question_kept(cast, teacher):
    for number in range(103):
        make.piece(studio=cast.studio, title=f"Study {number:03}", level="grade 2")
    answer = teacher.get(reverse("repertoire"), {"q": "study", "level": "grade 2"})
    assert len(answer.context["lines"]) == 100
    rest = teacher.get(reverse("repertoire") + answer.context["more"])
    assert [line.piece.title for line in rest.context["lines"]] == ["Study 100", "Study 101", "Study 102"]


def test_more_pieces_cost_no_more_queries(cast, teacher):
    def queries():
        teacher.get(reverse("repertoire"), {"q": "study"})  # catches up
        with CaptureQueriesContext(connection) as seen:
            teacher.get(reverse("repertoire"), {"q": "study"})
        return len(seen)

    make.piece(studio=cast.studio, title="Study 0")
    few = queries()
    for number in range(1, 11):
        make.piece(studio=cast.studio, title=f"Study {number}")
    assert queries() == few <= 12


# One student


def test_a_piece_given_lately_is_in_work_and_one_given_long_ago_rests(cast):
    lately = make.lesson(student=cast.oda, starts_at=datetime(2020, 11, 24, 15, tzinfo=UTC))
    long_ago = make.lesson(student=cast.oda, starts_at=datetime(2020, 3, 3, 15, tzinfo=UTC))
    new, old = (make.piece(studio=cast.studio, title=title) for title in ("New", "Old"))
    for lesson, piece in ((lately, new), (long_ago, old)):
        make.assignment(lesson=lesson, piece=piece)
    entries = repertoire.entries_of(cast.oda, at=AT)
    assert [(one.piece.title, one.status, one.begun_on, one.given) for one in entries] == [
        ("New", "work", date(2020, 11, 24), 1),
        ("Old", repertoire.RESTING, date(2020, 3, 3), 1),
    ]


def test_a_lesson_to_come_gives_nothing_yet(cast):
    make.assignment(lesson=make.lesson(student=cast.oda, starts_at=AT), piece=make.piece(studio=cast.studio))
    assert repertoire.entries_of(cast.oda, at=datetime(2020, 11, 30, tzinfo=UTC)) == []


def test_what_the_teacher_says_stands_before_what_the_lessons_say(cast, teacher):
    piece = cast.edition.piece
    make.assignment(lesson=cast.lesson, piece=piece)
    said = {"piece": piece.pk, "status": "learned", "begun_on": "2020-02-01", "learned_on": "2020-05-01"}
    assert teacher.post(reverse("say-played", args=[cast.oda.pk]), said).status_code == 302
    (entry,) = repertoire.entries_of(cast.oda, at=AT)
    assert (entry.status, entry.begun_on, entry.row.learned_on) == ("learned", date(2020, 2, 1), date(2020, 5, 1))


def test_said_again_it_stands_once(cast, teacher):
    for status in ("work", "aside"):
        teacher.post(reverse("say-played", args=[cast.oda.pk]), {"piece": cast.edition.piece_id, "status": status})
    assert [row.status for row in PlayedPiece.objects.all()] == ["aside"]


def test_learned_before_it_was_begun_is_refused_and_nothing_typed_is_lost(cast, teacher):
    said = {"piece": cast.edition.piece_id, "status": "learned", "begun_on": "2020-05-01", "learned_on": "2020-02-01"}
    answer = teacher.post(reverse("say-played", args=[cast.oda.pk]), said)
    assert answer.status_code == 422
    assert "before the one on which the piece was begun" in answer.content.decode()
    assert 'value="2020-02-01"' in answer.content.decode()


def test_what_was_said_can_be_taken_back_and_said_again(cast, teacher):
    row = repertoire.say_status(
        student=cast.oda, piece=cast.edition.piece, fields={"status": "learned", "learned_on": date(2020, 5, 1)}
    )
    token = repertoire.unsay_status(row)
    assert not PlayedPiece.objects.exists()
    teacher.post(reverse("say-again", args=[token]))
    back = PlayedPiece.objects.get()
    assert (back.student, back.piece, back.status, back.learned_on) == (
        cast.oda,
        cast.edition.piece,
        "learned",
        date(2020, 5, 1),
    )


def test_a_token_of_another_studio_brings_nothing_back(cast, logged_in):
    row = repertoire.say_status(student=cast.oda, piece=cast.edition.piece, fields={"status": "learned"})
    token = repertoire.unsay_status(row)
    assert logged_in(cast.other_teacher).post(reverse("say-again", args=[token])).status_code == 404


def test_more_pieces_of_a_student_cost_no_more_queries(cast, teacher):
    def queries():
        with CaptureQueriesContext(connection) as seen:
            teacher.get(reverse("students-repertoire", args=[cast.oda.pk]))
        return len(seen)

    make.assignment(lesson=cast.lesson, piece=make.piece(studio=cast.studio))
    few = queries()
    for number in range(10):
        make.assignment(lesson=cast.lesson, piece=make.piece(studio=cast.studio, title=f"Study {number}"))
    assert queries() == few <= 12


def test_a_bare_repertoire_says_what_will_stand_there(cast, teacher):
    text = teacher.get(reverse("students-repertoire", args=[cast.oda.pk])).content.decode()
    assert "Every piece that is given at a lesson stands here" in text


def test_titles_stand_in_the_order_of_a_catalogue(cast, teacher):
    titles = ["Zortzico", "Élégie", "Étude 10", "Étude 2", "Air in D", "Air", "estampie", "Œuvre"]
    for title in titles:
        make.piece(studio=cast.studio, title=title)
    assert listed(teacher) == ["Air", "Air in D", "Élégie", "estampie", "Étude 2", "Étude 10", "Œuvre", "Zortzico"]


def test_the_clock_looks_through_what_waits_for_it(cast):
    edition = cast.edition
    Preparation.objects.all().delete()
    Difficulty.objects.all().delete()
    assert make_filterable(cast.studio, AT) == "1 edition looked through"
    assert edition.difficulties.filter(kind="cross-rhythm", detail="4:3").exists()
    assert make_filterable(cast.studio, AT) == ""
    assert make_filterable(cast.next_door, AT) == ""
