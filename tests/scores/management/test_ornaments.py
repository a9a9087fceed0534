"""The command on a small file encoded here; it needs no database."""

import json
from fractions import Fraction
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from tests import music


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A measure with a grace, a turn and a left hand."""
    inside = (
        music.ATTRIBUTES
        + music.note("G4", "quarter")
        + music.grace("D5")
        + music.note("C5", "quarter")
        + music.note("Bb4", "quarter", extra=music.TURN)
        + music.BACK
        + music.note("C3", "half.", staff=2)
    )
    path = tmp_path / "small.musicxml"
    path.write_text(music.score([inside], title="Small"), encoding="utf-8")
    return path


def read_back(capsys: pytest.CaptureFixture[str], *arguments: object) -> list[dict]:  # type: ignore[type-arg]
    call_command("ornaments", *map(str, arguments), "--json")
    return json.loads(capsys.readouterr().out)  # type: ignore[no-any-return]


def test_both_placements_are_written_out(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before, on = (read_back(capsys, file, "--placement", placement, "--tempo", 60)[0] for placement in ("before", "on"))
    assert (before["kind"], before["measure"], before["beat"], before["hand"]) == ("grace", "1", "2", "right")
    assert Fraction(before["notes"][0]["onset"]) < 1 == Fraction(on["notes"][0]["onset"])
    assert sum(Fraction(note["length"]) for note in on["notes"]) == 1


def test_a_turn_has_its_neighbours_from_the_key(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    turn = read_back(capsys, file)[1]
    assert turn["kind"] == "turn"
    assert [note["pitch"] for note in turn["notes"]] == ["C5", "Bb4", "Ab4", "Bb4"]


def test_words_for_reading(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("ornaments", str(file))
    assert "measure 1, beat 3, right hand: turn, on: C5(1/4)" in capsys.readouterr().out


def test_bad_input_gets_a_clear_word(file: Path, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="between 20 and 300"):
        call_command("ornaments", str(file), "--tempo", "0")
    with pytest.raises(CommandError, match="No such file"):
        call_command("ornaments", str(tmp_path / "none.xml"))
    (tmp_path / "letter.xml").write_text("Dear teacher")
    with pytest.raises(CommandError):
        call_command("ornaments", str(tmp_path / "letter.xml"))
