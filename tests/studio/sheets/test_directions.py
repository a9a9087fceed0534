"""Which way a text runs; examples from the Unicode Bidirectional Algorithm, UAX #9 (capitals stand for Hebrew)."""

import pytest

from studio.sheets.directions import levels, runs_right_to_left, visual_order

LETTERS = {chr(65 + place): chr(0x5D0 + place) for place in range(22)}
BACK = {hebrew: latin for latin, hebrew in LETTERS.items()}


def seen(text: str) -> str:
    """A text as it stands from left to right; capitals stand for letters that run from right to left."""
    written = "".join(LETTERS.get(char, char) for char in text)
    return "".join(BACK.get(char, char) for char, _ in visual_order(written, levels(written)))


@pytest.mark.parametrize(
    ("written", "as_seen"),
    [
        # UAX #9, section 3.4, rule L2, examples 1 to 3 (without their explicit embeddings).
        ("car means CAR.", "car means RAC."),
        ("he said CAR MEANS car.", "he said SNAEM RAC car."),
        ("CAR MEANS car.", ".car SNAEM RAC"),
        ("ABC 12 DEF", "FED 12 CBA"),
        ("op. 12 AB", "op. 12 BA"),
        ("AB op. 12", "op. 12 BA"),
        ("plain text", "plain text"),
    ],
)
def test_a_line_stands_as_the_standard_says(written: str, as_seen: str):
    assert seen(written) == as_seen


def test_the_first_letter_gives_the_direction():
    assert runs_right_to_left("12 שיר and so on")
    assert not runs_right_to_left("12 and שיר")
    assert not runs_right_to_left("12 – 3")


def test_text_without_such_letters_costs_nothing():
    assert levels("Ländler 3/4") == [0] * 11
