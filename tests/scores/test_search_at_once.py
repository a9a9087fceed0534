"""Two workers that make the same piece findable at one moment."""

from concurrent.futures import ThreadPoolExecutor
from threading import Event

import pytest
from django.db import connection, transaction

from scores.models import SearchLine, Unsearched
from scores.searching import catch_up, piece_changed
from tests import people


@pytest.fixture
def cast(transactional_db):
    return people.gather()


def test_a_piece_that_changes_while_it_is_made_findable_has_its_lines_once(cast):
    piece = cast.edition.piece
    catch_up(cast.studio.pk)
    lines = SearchLine.objects.filter(piece=piece).count()
    assert lines
    piece_changed(piece)
    written = Event()

    def first() -> None:
        with transaction.atomic():
            catch_up(cast.studio.pk)
            written.set()
            Event().wait(timeout=0.5)  # The other comes as far as it can before this one is done.
        connection.close()

    def second() -> None:
        written.wait(timeout=20)
        piece_changed(piece)
        catch_up(cast.studio.pk)
        connection.close()

    with ThreadPoolExecutor(2) as pool:
        for done in [pool.submit(first), pool.submit(second)]:
            done.result()
    assert SearchLine.objects.filter(piece=piece).count() == lines
    assert not Unsearched.objects.exists()
