"""Editions that came in before there was a survey."""

import pytest
from django.core.management import call_command

from scores.models import Difficulty, Edition, Preparation
from tests import make

pytestmark = pytest.mark.django_db


def test_editions_without_findings_get_theirs_and_others_are_left_alone(cast, capsys):
    edition = cast.edition
    before = list(Difficulty.objects.values_list("kind", "detail", "count"))
    Preparation.objects.all().delete()
    Difficulty.objects.all().delete()
    call_command("survey_editions")
    assert capsys.readouterr().out == "Surveyed: 1\n"
    assert list(Difficulty.objects.values_list("kind", "detail", "count")) == before != []
    call_command("survey_editions")
    assert capsys.readouterr().out == "Surveyed: 0\n"
    assert Preparation.objects.get().edition == edition


def test_one_that_cannot_be_surveyed_keeps_none_waiting(cast, capsys):
    broken = cast.edition
    Edition.objects.filter(pk=broken.pk).update(packed_score=b"nothing")
    edition = make.edition(piece=broken.piece, label="Second print")
    Preparation.objects.all().delete()
    call_command("survey_editions")
    told = capsys.readouterr()
    assert (told.out, f"Edition {broken.pk} could not be surveyed" in told.err) == ("Surveyed: 1\n", True)
    assert Preparation.objects.get().edition == edition
