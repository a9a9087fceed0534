"""The accidentals that a file leaves to its reader."""

import pytest

from scores.engraving import cutting
from scores.engraving.accidentals import supply_accidentals
from scores.engraving.plates import engrave
from tests.music import ATTRIBUTES, BACK, grace, note, score
from tests.scores.corpus_music import PIECES, corpus_music, with_ids


def signs(*measures: str) -> list[tuple[str, str | None]]:
    """Each note of measures in three flats with the sign that it gets."""
    root = cutting.read(score([ATTRIBUTES + measures[0], *measures[1:]], title="").encode())
    supply_accidentals(root)
    pitches = ("step", "alter", "octave")
    return [
        ("".join(one.findtext(f"pitch/{tag}", "") for tag in pitches), one.findtext("accidental"))
        for one in root.iter("note")
    ]


@pytest.mark.parametrize(
    ("measures", "expected"),
    [
        (["Bb4", "B4", "B4", "Bb4"], [None, "natural", None, "flat"]),
        (["F#5", "F#4", "F#5"], ["sharp", "sharp", None]),
        (["B4", "|", "B4", "|", "Bb4"], ["natural", "natural", None]),
    ],
)
def test_a_sign_holds_for_its_own_line_to_the_end_of_the_measure(measures: list[str], expected: list[str | None]):
    inside = [part.split() for part in " ".join(measures).split("|")]
    found = signs(*("".join(note(name, "quarter") for name in names) for names in inside))
    assert [sign for _, sign in found] == expected


def test_a_tie_carries_a_note_over_the_bar_line():
    first = note("B4", "half.", extra="tied_start")
    second = note("B4", "quarter", extra="tied_stop") + note("B4", "quarter")
    assert [sign for _, sign in signs(first, second)] == ["natural", None, "natural"]


def test_what_sounds_first_speaks_first_whatever_the_file_writes_first():
    upper = note("G5", "quarter") + note("B4", "half")
    lower = note("B4", "quarter") + note("G4", "half")
    assert signs(upper + BACK + lower) == [("G5", None), ("B4", None), ("B4", "natural"), ("G4", None)]


def test_a_grace_speaks_before_its_note():
    assert signs(grace("F5") + note("F#5", "quarter") + note("F5", "quarter")) == [
        ("F5", None),
        ("F15", "sharp"),
        ("F5", "natural"),
    ]


@pytest.mark.parametrize("name", PIECES)
def test_an_edition_that_prints_its_accidentals_gets_back_what_was_taken_out(name: str):
    """The published edition's own signs are the standard. What it prints beyond the rule (courtesy) may be missing."""
    printed, supplied = cutting.read(corpus_music(name)), cutting.read(corpus_music(name))
    for sign in list(supplied.iter("accidental")):
        sign.getparent().remove(sign)
    supply_accidentals(supplied)
    pairs = list(zip(printed.iter("note"), supplied.iter("note"), strict=True))
    both = [(one.findtext("accidental"), other.findtext("accidental")) for one, other in pairs]
    assert all(other in (None, one) for one, other in both if one)
    assert sum(other is not None for _, other in both) >= 0.75 * sum(one is not None for one, _ in both) > 0
    assert sum(one is None and other is not None for one, other in both) <= 0.06 * len(both)


def test_a_file_without_accidentals_is_engraved_with_them():
    codes = engrave(with_ids(score([ATTRIBUTES + note("B4", "half.")], title="").encode())).systems[0].svg
    assert "glyph-E261" in codes  # SMuFL: natural
