"""The command on a small file encoded here; it needs no database."""

import json
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from tests.music import ATTRIBUTES, LAENDLER, note, score


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "laendler.musicxml"
    path.write_text(LAENDLER, encoding="utf-8")
    return path


def read_back(capsys: pytest.CaptureFixture[str], *arguments: object) -> list[dict]:  # type: ignore[type-arg]
    call_command("survey", *map(str, arguments), "--json")
    return json.loads(capsys.readouterr().out)  # type: ignore[no-any-return]


def test_the_json_has_what_the_interface_says_in_score_order(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = read_back(capsys, file)
    assert [(one["measure"], one["beat"], one["hand"], one["kind"], one["sort"]) for one in found][:4] == [
        ("0", "3", "right", "printed", ""),
        ("1", "3/2", "right", "grace", ""),
        ("1", "2", "right", "printed", ""),
        ("2", "1", "both", "cross-rhythm", "4:3"),
    ]
    assert found[1]["detail"] == "A grace note before B♭4: C5."
    assert all(one["notes"] for one in found)


def test_kinds_can_be_chosen_or_left_out_and_one_hand_asked_for(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert {one["kind"] for one in read_back(capsys, file, "--kinds", "grace,ornament")} == {"grace", "ornament"}
    assert "grace" not in {one["kind"] for one in read_back(capsys, file, "--without", "grace")}
    assert {one["hand"] for one in read_back(capsys, file, "--hand", "left")} <= {"left", "both"}


def test_hand_tempo_and_speed_count(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "octaves.musicxml"
    octave = note("C4", "eighth") + note("C5", "eighth", chord=True)
    path.write_text(score([ATTRIBUTES + octave * 6], title="Octaves"), encoding="utf-8")

    def kinds(*more: str) -> set[str]:
        return {one["kind"] for one in read_back(capsys, path, *more)}

    assert not {"stretch", "reach", "fast"} & kinds()
    assert "stretch" in kinds("--reach", "10-12")
    assert "reach" in kinds("--reach", "8-11")
    assert "fast" in kinds("--tempo", "200", "--fast", "5", "--without", "repeat")


def test_words_for_reading(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("survey", str(file))
    assert "measure 1, beat 1½, right hand: grace: A grace note before B♭4: C5." in capsys.readouterr().out
    call_command("survey", str(file), "--kinds", "tremolo")
    assert capsys.readouterr().out == "Nothing of the kind stands in this score.\n"


def test_bad_input_gets_a_clear_word(file: Path, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="between 20 and 300"):
        call_command("survey", str(file), "--tempo", "0")
    with pytest.raises(CommandError, match="notes a second"):
        call_command("survey", str(file), "--fast", "0")
    with pytest.raises(CommandError, match="no kind of finding: whims"):
        call_command("survey", str(file), "--kinds", "whims")
    with pytest.raises(CommandError, match="3 to 24"):
        call_command("survey", str(file), "--reach", "14-12")
    with pytest.raises(CommandError, match="No such file"):
        call_command("survey", str(tmp_path / "none.xml"))
    (tmp_path / "letter.xml").write_text("Dear teacher")
    with pytest.raises(CommandError):
        call_command("survey", str(tmp_path / "letter.xml"))
