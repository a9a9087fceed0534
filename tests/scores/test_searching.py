"""Finding things in the repertoire again. The same tests run on SQLite and on PostgreSQL."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scores import marking, noting, repertoire, searching
from scores.models import Piece, Unsearched
from tests import make


def found(cast, text):
    """The titles that are found, with what was found on their passages."""
    pieces = searching.find(cast.studio.pk, text)
    notes = searching.found_on(cast.studio.pk, text, pieces)
    assert notes.keys() == pieces
    titles = dict(Piece.objects.values_list("pk", "title"))
    return {titles[piece]: [line.shown for line in lines] for piece, lines in notes.items()}


def test_nothing_asked_is_no_answer(cast):
    assert searching.find(cast.studio.pk, " ,. ") is None


def test_a_piece_is_found_by_the_beginnings_of_any_of_its_words(cast):
    make.piece(
        studio=cast.studio, title="Étude mélancolique", composer="Ada Brandt", catalogue="op. 28,7", level="grade 5"
    )
    make.piece(studio=cast.studio, title="March", composer="Ada Brandt")
    assert found(cast, "melan bran") == {"Étude mélancolique": []}
    assert found(cast, "op28") == {"Étude mélancolique": []}
    assert found(cast, "grade") == {"Étude mélancolique": []}
    assert set(found(cast, "ADA")) == {"Étude mélancolique", "March"}


def test_a_word_must_begin_so_not_merely_hold_it(cast):
    make.piece(studio=cast.studio, title="Barcarolle")
    assert found(cast, "carolle") == {}


def test_a_number_in_the_middle_is_the_whole_number(cast):
    make.piece(studio=cast.studio, title="Study", catalogue="op. 28 no. 7")
    assert found(cast, "2 study") == {}
    assert found(cast, "study 2") == {"Study": []}


@pytest.mark.parametrize(
    ("title", "typed"),
    [
        ("Осенняя песня", "песн"),
        ("月光奏鳴曲", "奏鳴"),
        ("नमस्ते दुनिया", "दुनि"),
        ("Ωδή στη χαρά", "ωδη χαρα"),
        ("שיר ערב", "ערב"),
    ],
)
def test_titles_in_any_script_are_found(cast, title, typed):
    make.piece(studio=cast.studio, title=title)
    make.piece(studio=cast.studio, title="March")
    assert found(cast, typed) == {title: []}


def test_a_cue_is_found_with_words_of_its_piece_and_leads_to_its_passage(cast):
    noting.write_cue(passage=cast.passage, text="Loose wrist at the turn", measure=cast.passage.first_measure)
    assert found(cast, "landler wrist") == {"Ländler in E-flat": ["Loose wrist at the turn"]}
    notes = searching.found_on(cast.studio.pk, "wrist", [cast.edition.piece_id])
    assert notes[cast.edition.piece_id][0].passage == cast.passage


def test_a_piece_that_is_called_so_is_found_whole(cast):
    noting.write_cue(passage=cast.passage, text="Loose wrist", measure=cast.passage.first_measure)
    assert found(cast, "landler") == {"Ländler in E-flat": []}


def test_remarks_of_every_kind_and_names_of_passages_are_found(cast):
    noting.write_fingering(passage=cast.passage, side="right", remark="for small hands")
    make.passage(edition=cast.edition, name="The stormy middle")
    assert found(cast, "small hands") == {"Ländler in E-flat": ["for small hands"]}
    assert found(cast, "stormy") == {"Ländler in E-flat": ["The stormy middle"]}


def test_what_was_taken_away_is_not_found_and_is_found_again_when_it_is_back(cast):
    cue = noting.write_cue(passage=cast.passage, text="Loose wrist", measure=cast.passage.first_measure)
    noting.remove_note(cue, at=timezone.now())
    assert found(cast, "wrist") == {}
    noting.restore_note(cue)
    assert found(cast, "wrist") != {}
    marking.remove_passage(cast.passage, at=timezone.now())
    assert found(cast, "wrist") == {}
    marking.restore_passage(cast.passage)
    assert found(cast, "wrist") != {}


def test_a_changed_title_is_found_by_its_new_words_alone(cast):
    piece = make.piece(studio=cast.studio, title="Barcarolle")
    assert found(cast, "barcarolle")
    piece.title = "Nocturne"
    repertoire.keep_piece(piece)
    assert found(cast, "barcarolle") == {}
    assert found(cast, "nocturne") == {"Nocturne": []}


def test_a_piece_taken_away_leaves_nothing_to_find(cast):
    piece = make.piece(studio=cast.studio, title="Barcarolle")
    assert found(cast, "barcarolle")
    repertoire.remove_piece(piece)
    assert searching.find(cast.studio.pk, "barcarolle") == set()


def test_nothing_of_another_studio_is_found(cast):
    make.piece(studio=cast.next_door, title="Barcarolle")
    searching.catch_up(cast.next_door.pk)
    assert found(cast, "barcarolle") == {}


def test_catching_up_asks_no_more_of_many_pieces_than_of_few(cast):
    def queries(pieces):
        for number in range(pieces):
            make.piece(studio=cast.studio, title=f"Piece {number}")
        with CaptureQueriesContext(
            connection,
        ) as seen:
            assert searching.catch_up(cast.studio.pk) == pieces
        return len(seen)

    assert queries(30) == queries(3)
    assert not Unsearched.objects.exists()


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60)
@given(text=st.text(min_size=1, max_size=40))
def test_whatever_is_typed_is_answered(cast, text):
    make.piece(studio=cast.studio)
    answer = searching.find(cast.studio.pk, text)
    assert answer is None or isinstance(answer, set)
