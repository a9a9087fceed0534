"""The command against arithmetic; it needs no database."""

import json

import pytest
from django.core.management import CommandError, call_command


def output(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    call_command("crossrhythm", *arguments)
    return capsys.readouterr().out


def test_json_has_the_whole_grid(capsys: pytest.CaptureFixture[str]) -> None:
    data = json.loads(output(capsys, "8", "3", "--tempo", "60", "--beats", "3", "--json"))
    assert data["grid"] == 24
    assert data["upper"] == [0, 3, 6, 9, 12, 15, 18, 21]
    assert data["lower"] == [0, 8, 16]
    assert data["together"] == [0]
    assert sum(data["gaps"]) == 24
    assert data["nearest"][0]["distance"] == 1
    assert data["ms_per_part"] == 125


def test_one_cycle_lasts_one_beat_unless_told_otherwise(capsys: pytest.CaptureFixture[str]) -> None:
    data = json.loads(output(capsys, "3", "2", "--tempo", "100", "--json"))
    assert data["gaps"] == [2, 1, 1, 2]
    assert data["ms_per_part"] == 100


def test_words_for_reading(capsys: pytest.CaptureFixture[str]) -> None:
    words = output(capsys, "3", "2")
    assert "order: both, R, L, R" in words
    assert "nice cup of tea" in words


def test_hands_that_fit_plainly_are_said_to(capsys: pytest.CaptureFixture[str]) -> None:
    assert "no cross-rhythm" in output(capsys, "1", "1")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("0", "2"), "at least one"),
        (("200", "199"), "up to 64"),
        (("3", "2", "--tempo", "0"), "between 20 and 300"),
        (("3", "2", "--tempo", "nan"), "between 20 and 300"),
        (("3", "2", "--tempo", "inf"), "between 20 and 300"),
        (("3", "2", "--beats", "0"), "needs a length"),
        (("3", "2", "--beats", "1/0"), "invalid"),
        (("three", "2"), "invalid"),
    ],
)
def test_bad_input_gets_a_clear_word(arguments: tuple[str, ...], words: str) -> None:
    with pytest.raises(CommandError, match=words):
        call_command("crossrhythm", *arguments)
