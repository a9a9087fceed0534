"""The repertoire and its pieces."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from scores.models import Piece
from tests import make


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


def test_an_empty_repertoire_says_what_will_stand_there_and_how_to_begin(teacher):
    text = teacher.get(reverse("repertoire")).content.decode()
    assert "Here stands the music that you teach" in text
    assert reverse("new-piece") in text


def test_the_repertoire_lists_pieces_with_their_editions_and_standing_passages(cast, teacher):
    assert cast.passage
    text = teacher.get(reverse("repertoire")).content.decode()
    assert "Ländler in E-flat" in text
    assert "1 edition" in text
    assert "1 passage" in text


def test_a_passage_taken_away_is_not_counted(cast, teacher):
    teacher.post(reverse("remove-passage", args=[cast.passage.pk]))
    assert "0 passages" in teacher.get(reverse("repertoire")).content.decode()


def test_pieces_are_sorted_by_title_whatever_its_case(cast, teacher):
    for title in ("zephyr", "Aria", "barcarolle"):
        make.piece(studio=cast.studio, title=title)
    text = teacher.get(reverse("repertoire")).content.decode()
    assert text.index("Aria") < text.index("barcarolle") < text.index("zephyr")


def test_the_filter_leaves_pieces_in_which_every_word_stands(cast, teacher):
    make.piece(studio=cast.studio, title="Berceuse", composer="Ada Brandt", level="grade 5")
    make.piece(studio=cast.studio, title="March", composer="Ada Brandt", level="grade 2")
    text = teacher.get(reverse("repertoire"), {"q": "brandt 5"}).content.decode()
    assert "Berceuse" in text
    assert "March" not in text


def test_the_filter_says_so_when_nothing_matches_and_shows_what_was_typed_safely(cast, teacher):
    make.piece(studio=cast.studio)
    text = teacher.get(reverse("repertoire"), {"q": "<b>zz\x00"}).content.decode()
    assert "Nothing in the repertoire answers to this" in text
    assert 'value="&lt;b&gt;zz"' in text


def test_a_script_gets_only_the_list(cast, teacher):
    make.piece(studio=cast.studio)
    text = teacher.get(reverse("repertoire"), {"q": "l"}, headers={"HX-Request": "true"}).content.decode()
    assert "Ländler" in text
    assert "<html" not in text


def test_pieces_of_another_studio_are_not_listed(cast, teacher):
    make.piece(studio=cast.next_door, title="Next Door's Sonata")
    assert "Sonata" not in teacher.get(reverse("repertoire")).content.decode()


def test_a_piece_can_be_added_with_its_title_alone(cast, teacher):
    answer = teacher.post(reverse("new-piece"), {"title": "Evening Song", "composer": "Ada Brandt", "level": "5"})
    piece = Piece.objects.get()
    assert answer["Location"] == reverse("piece", args=[piece.pk])
    assert (piece.title, piece.composer, piece.level, piece.studio) == ("Evening Song", "Ada Brandt", "5", cast.studio)


def test_a_piece_without_title_and_file_is_refused_with_what_was_typed(teacher):
    answer = teacher.post(reverse("new-piece"), {"composer": "Ada Brandt"})
    assert answer.status_code == 422
    assert "Give the piece a title, or choose a file" in answer.content.decode()
    assert 'value="Ada Brandt"' in answer.content.decode()
    assert not Piece.objects.exists()


def test_a_piece_shows_its_editions_and_their_standing_passages(cast, teacher):
    kept, gone = cast.passage, make.passage(edition=cast.edition, name="Gone")
    teacher.post(reverse("remove-passage", args=[gone.pk]))
    teacher.get(reverse("repertoire"))  # the saying about it is shown there
    text = teacher.get(reverse("piece", args=[cast.edition.piece_id])).content.decode()
    assert "Brandt edition" in text
    assert reverse("desk", args=[kept.pk]) in text
    assert reverse("desk", args=[gone.pk]) not in text


def test_a_piece_without_editions_says_how_to_begin(cast, teacher):
    piece = make.piece(studio=cast.studio)
    text = teacher.get(reverse("piece", args=[piece.pk])).content.decode()
    assert "Here stand the editions of this piece" in text
    assert reverse("new-edition", args=[piece.pk]) in text
    assert reverse("enter-passage", args=[piece.pk]) in text


def test_a_piece_can_be_changed(cast, teacher):
    piece = make.piece(studio=cast.studio)
    teacher.post(reverse("change-piece", args=[piece.pk]), {"title": "Ländler", "remark": "Twice a term."})
    piece.refresh_from_db()
    assert (piece.title, piece.remark) == ("Ländler", "Twice a term.")


def test_a_change_without_title_is_refused_and_keeps_the_old_one(cast, teacher):
    piece = make.piece(studio=cast.studio)
    answer = teacher.post(reverse("change-piece", args=[piece.pk]), {"title": ""})
    assert answer.status_code == 422
    assert Piece.objects.get().title == piece.title


def queries(client, url):
    with CaptureQueriesContext(connection) as taken:
        assert client.get(url).status_code == 200
    return len(taken)


def test_ten_more_pieces_add_no_query(cast, teacher):
    make.edition(piece=make.piece(studio=cast.studio))
    before = queries(teacher, reverse("repertoire"))
    for number in range(10):
        make.passage(edition=make.edition(piece=make.piece(studio=cast.studio, title=f"Study {number}")))
    assert queries(teacher, reverse("repertoire")) == before <= 12


def test_ten_more_editions_with_passages_add_no_query_to_their_piece(cast, teacher):
    url = reverse("piece", args=[cast.passage.edition.piece_id])
    before = queries(teacher, url)
    for _ in range(10):
        make.passage(edition=make.edition(piece=cast.edition.piece))
    assert queries(teacher, url) == before <= 12


def test_a_piece_on_which_nothing_hangs_goes_for_good(cast, teacher):
    piece = make.piece(studio=cast.studio)
    url = reverse("remove-piece", args=[piece.pk])
    assert url in teacher.get(reverse("piece", args=[piece.pk])).content.decode()
    assert teacher.post(url)["Location"] == reverse("repertoire")
    assert not Piece.objects.filter(pk=piece.pk).exists()


def test_a_piece_stays_while_a_students_work_hangs_on_it(cast, teacher):
    make.assigned(lesson=make.lesson(student=cast.oda), passage=cast.passage)
    answer = teacher.post(reverse("remove-piece", args=[cast.edition.piece_id]))
    assert answer.status_code == 422
    assert "It stays" in answer.content.decode()
    assert Piece.objects.filter(pk=cast.edition.piece_id).exists()
