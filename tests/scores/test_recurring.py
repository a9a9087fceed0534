"""What returns, found without keeping anyone waiting."""

from django.db import connection
from django.urls import reverse

from scores import recurring, repertoire
from scores.models import Recurrences
from scores.reading_files.reading import read
from scores.workshop import WorkshopFailed
from tests import make
from tests.scores.rondino import RONDINO
from tests.scores.test_views_editions import score_file


def test_a_long_work_is_looked_through_in_a_process_apart(monkeypatch):
    score = read("rondino.musicxml", RONDINO.encode()).score
    here, told = recurring.found_in(score), []
    monkeypatch.setattr(recurring, "AT_ONCE", 1)
    assert here
    assert recurring.found_in(score) == here
    assert recurring.found_in(score, lambda step, percent: told.append(percent)) == here
    assert told[-1] == 100


def test_nothing_is_found_in_a_work_that_takes_too_long(cast, monkeypatch):
    def stopped(*args, **options):
        raise WorkshopFailed("time")

    monkeypatch.setattr(recurring, "AT_ONCE", 1)
    monkeypatch.setattr(recurring.workshop, "run", stopped)
    assert recurring.found_in(cast.edition.score) == ()


def test_a_file_that_comes_in_is_looked_through_with_no_transaction_open(cast, logged_in, monkeypatch):
    piece = make.piece(studio=cast.studio)
    around, seen = len(connection.savepoint_ids), []

    def look(score, on_report=None):
        seen.append(len(connection.savepoint_ids))
        return recurring.found_in(score, on_report)

    monkeypatch.setattr(repertoire, "found_in", look)
    address = reverse("new-edition", args=[piece.pk])
    logged_in(cast.teacher).post(address, {"file": score_file("Rondino.musicxml", RONDINO)})
    assert seen == [around]
    assert Recurrences.objects.filter(edition__label="Rondino").get().groups
