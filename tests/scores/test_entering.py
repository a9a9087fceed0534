"""Putting a typed passage together, and finding slips in it."""

import pytest

from scores.entering import Typed, compose, mistakes_in

# Lines from the abc standard 2.1, section 4 and its sample tunes (from memory), which must pass as they are.
STANDARD = [
    "GABc dedB|dedB dedB|c2ec B2dB|c2A2 A2BA|",
    "|:GABc dedB|[1 c2ec B2dB:|2 A2F2 G4:|",
    "A>B A<B (3ABC (3:2:2G4c2 (5abcde",
    "{g}A3 A{g}AA|{gAGAG}A3 {/g}C",
    "[CEGc]2 [^F_B]/2 z4 Z2 x |",
    '!trill!A !3!B .a ~c Td "Am"e "^above"f',
    "(c (d e f) g a)-a | [K:G] c, c' C,, ^^c __d =e |]",
    "w: some words be-low it",
    "% a remark",
    "",
]


@pytest.mark.parametrize("line", STANDARD)
def test_what_the_standard_writes_is_no_mistake(line):
    assert mistakes_in(line) == []


@pytest.mark.parametrize(
    ("text", "line", "sign", "words"),
    [
        ("C D Q", 1, 5, "“Q” is no note"),
        ("C D\nE [CE", 2, 3, "never closed with “]”"),
        ("C {d E", 1, 3, "never closed with “}”"),
        ("[C?E]", 1, 1, "something else than notes"),
        ("C 5", 1, 3, "has no meaning here"),
        ("C !trill", 1, 3, "never closed with “!”"),
        ("V:2\nC", 1, 1, "leave out “V:”"),
    ],
)
def test_a_slip_is_told_with_its_place(text, line, sign, words):
    (mistake,) = mistakes_in(text)
    assert (mistake.line, mistake.sign) == (line, sign)
    assert words in mistake.words


@pytest.mark.parametrize("opening", ["[", "{", "[!1!"])
def test_a_long_run_that_is_never_closed_is_answered(opening):
    (mistake,) = mistakes_in(opening + "a  " * 200)  # would outlast the universe if spaces could be shared out
    assert mistake.sign == 1
    assert "never closed" in mistake.words


def test_two_hands_are_two_voices_with_their_clefs():
    tune = compose(Typed(right="C2", left="C,2", metre="2/4", key="F", title="A song\nK:G"))
    assert tune.splitlines() == [
        "X:1",
        "T:A song K:G",
        "M:2/4",
        "L:1/8",
        "%%score {1 2}",
        "V:1 clef=treble",
        "V:2 clef=bass",
        "K:F",
        "V:1",
        "C2",
        "V:2",
        "C,2",
    ]


def test_empty_lines_and_the_line_ends_of_every_system_are_taken():
    tune = compose(Typed(right="C2\r\n\r\nD2\rE2", left=" ", metre="2/4", key="C"))
    assert tune.splitlines()[-4:] == ["V:1", "C2", "D2", "E2"]
    assert "V:2" not in tune
