"""The command on a small file encoded here; it needs no database."""

import json
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from tests import music


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "small.musicxml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return written(tmp_path, music.LAENDLER)


@pytest.fixture
def wide(tmp_path: Path) -> Path:
    """A chord of a twelfth with nothing between."""
    chord = music.note("C4", "half.") + music.note("G5", "half.", chord=True)
    return written(tmp_path, music.score([music.ATTRIBUTES + chord], title="Wide"))


def read_back(capsys: pytest.CaptureFixture[str], *arguments: object) -> list[dict]:  # type: ignore[type-arg]
    call_command("finger", *map(str, arguments), "--json")
    return json.loads(capsys.readouterr().out)  # type: ignore[no-any-return]


def test_the_least_costly_come_in_order_with_fingers_rules_and_remarks(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = read_back(capsys, file, "--measures", "1-2", "--hand", "right", "--best", 5)
    assert [set(one) for one in found] == [{"fingers", "cost", "rules", "remarks"}] * 5
    costs = [one["cost"] for one in found]
    assert costs == sorted(costs)
    assert all(len(one["fingers"]) == 10 for one in found)
    assert len({tuple(one["fingers"].values()) for one in found}) == 5
    assert sum(found[0]["rules"].values()) == pytest.approx(found[0]["cost"], abs=0.02)
    on_note = next(remark for remark in found[0]["remarks"] if remark["notes"])
    assert on_note["measure"] in {"1", "2"}
    assert on_note["notes"][0] in found[0]["fingers"]


def test_printed_fingers_are_kept_when_asked_for(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for one in read_back(capsys, file, "--measures", "0-1", "--printed", "--best", 4):
        fingers = list(one["fingers"].values())
        assert (fingers[0], fingers[4]) == ("2", "5")


def test_the_published_rules_give_the_scale_its_recalled_score(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # One octave of A major going up: 14, and 12312345 is the one best (rules recalled from memory).
    names = ("A4", "B4", "C#5", "D5", "E5", "F#5", "G#5", "A5")
    scale = "".join(music.note(name, "quarter") for name in names)
    path = written(tmp_path, music.score([music.ATTRIBUTES + scale], title="Scale"))
    found = read_back(capsys, path, "--rules", "published", "--best", 2)
    assert "".join(found[0]["fingers"].values()) == "12312345"
    assert found[0]["cost"] == 14 < found[1]["cost"]


def test_words_for_reading(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("finger", str(file), "--measures", "3", "--best", "1")
    out = capsys.readouterr().out
    assert out.startswith("1. ")
    assert "cost " in out


def test_a_chord_beyond_the_hand_names_the_moment_and_the_smallest_change(wide: Path) -> None:
    with pytest.raises(CommandError) as wrong:
        call_command("finger", str(wide))
    assert "This hand cannot play that" in str(wrong.value)
    assert "Measure 1, beat 1: 19 semitones from C4 to G5" in str(wrong.value)
    assert "Roll the chord, or give C4 to the other hand" in str(wrong.value)


def test_a_hand_that_reaches_it_plays_it(wide: Path, capsys: pytest.CaptureFixture[str]) -> None:
    [first, *_] = read_back(capsys, wide, "--reach", "19-20")
    assert list(first["fingers"].values()) == ["1", "5"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--measures", "9-12"], "no measure “9”: this score has measures 0 to 4"),
        (["--measures", "1-x"], "no measure “x”"),
        (["--measures", "3-1"], "Measure 1 stands before measure 3"),
        (["--measures", "0", "--hand", "left"], "The left hand strikes nothing in measure 0"),
        (["--best", "0"], "no number from 1 to 50"),
        (["--reach", "14-12"], "not larger than"),
        (["--reach", "12"], "two numbers of semitones"),
        (["--tempo", "nan"], "no tempo from 20 to 300"),
    ],
)
def test_what_cannot_be_asked_gets_a_clear_word(file: Path, arguments: list[str], said: str) -> None:
    with pytest.raises(CommandError, match=said):
        call_command("finger", str(file), *arguments)


def test_a_file_that_is_none_or_no_score_is_named(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="No such file"):
        call_command("finger", str(tmp_path / "none.xml"))
    (tmp_path / "letter.xml").write_text("Dear teacher")
    with pytest.raises(CommandError):
        call_command("finger", str(tmp_path / "letter.xml"))
