"""The picture of the keys under a hand."""

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scores.music.keyboard import LEAST_WHITE, ends, keyboard, white

SVG = "{http://www.w3.org/2000/svg}"


def rects(svg: str, name: str) -> list[ElementTree.Element]:
    return [one for one in ElementTree.fromstring(svg).iter(f"{SVG}rect") if one.get("class") == name]


def test_an_octave_from_middle_c_has_a_disc_on_each_key() -> None:
    svg = keyboard({60: "1", 72: "5"}, title="An octave")
    assert len(rects(svg, "white down")) == 2
    assert re.findall(r"<g class=\"finger\">.*?>(\d)</text>", svg) == ["1", "5"]


def test_black_keys_stand_in_twos_and_threes() -> None:
    # Between the keys of one octave, from C: after C, D, F, G, A. Common knowledge of the keyboard.
    svg = keyboard({62: "1", 69: "4"}, title="")
    lefts = [float(one.get("x", "")) for one in rects(svg, "white") + rects(svg, "white down")]
    blacks = sorted(float(one.get("x", "")) + 7.5 for one in rects(svg, "black"))
    places = [sum(left < black for left in lefts) for black in blacks]
    assert places[:5] == [1, 2, 4, 5, 6]


def test_the_title_is_read_aloud_in_place_of_the_picture() -> None:
    picture = ElementTree.fromstring(keyboard({61: "2"}, title='D "flat" & <more>'))
    assert (picture.get("role"), picture.get("aria-label")) == ("img", 'D "flat" & <more>')


def test_a_substitution_stands_on_its_key_and_nothing_is_styled_inline() -> None:
    svg = keyboard({60: "4-5"}, title="")
    assert ">4-5</text>" in svg
    assert "style=" not in svg


@given(st.integers(0, 127), st.integers(0, 36))
def test_every_hand_lies_inside_its_picture(lowest: int, span: int) -> None:
    highest = min(lowest + span, 127)
    first, last = ends(lowest, highest)
    assert 0 <= first <= lowest <= highest <= last <= 127
    assert len(white(first, last)) >= LEAST_WHITE
    assert first == 0 or first % 12 in {0, 5}
    assert last == 127 or last % 12 in {4, 11}


def test_no_key_and_keys_off_the_keyboard_are_refused() -> None:
    for down in ({}, {-1: "1"}, {128: "1"}):
        with pytest.raises(ValueError, match="between 0 and 127"):
            keyboard(down, title="")
