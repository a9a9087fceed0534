"""The chart: exact places, shapes that need no colour, drawn by a PDF library without a word of complaint."""

import io
import re
from itertools import pairwise
from math import gcd, lcm

import pytest
from lxml import etree
from svglib.svglib import svg2rlg

from scores.music.chart import HEIGHT, Strip, chart, described, drawn
from scores.music.crossrhythm import grid

SVG = "{http://www.w3.org/2000/svg}"
RATIOS = [(upper, lower) for upper in range(1, 17) for lower in range(1, 16)]


def places_of(drawing: str, name: str, attribute: str) -> list[float]:
    root = etree.fromstring(drawing.encode())
    return [float(item.get(attribute)) for item in root.iter() if item.get("class") == name]


def lines_of(drawing: str) -> list[etree._Element]:
    return [item for item in etree.fromstring(drawing.encode()).iter() if item.get("class") == "chart-line"]


def middle(item: etree._Element) -> float:
    if item.get("cx"):
        return float(item.get("cx"))
    return float(item.get("x")) + float(item.get("width")) / 2


@pytest.mark.parametrize("width", [320, 360, 700])
def test_strokes_stand_exactly_for_every_ratio_up_to_sixteen_to_fifteen(width: int) -> None:
    for upper, lower in RATIOS:
        drawing = chart(grid(upper, lower), width)
        found: dict[str, list[int]] = {"right": [], "left": []}
        steps = []
        for line in lines_of(drawing):
            strokes = [item for item in line if item.get("class") in found]
            first = min(int(item.get("data-part")) for item in strokes)
            places = {int(item.get("data-part")): middle(item) for item in strokes}
            for item in strokes:
                found[item.get("class")].append(int(item.get("data-part")))
            # Every line begins with a stroke at the margin, and parts are equally wide.
            assert places[first] == pytest.approx(34, abs=0.02)
            steps += [(x - 34) / (part - first) for part, x in places.items() if part > first]
            assert max(places.values()) <= width - 10
        parts = lcm(upper, lower)
        assert sorted(found["right"]) == [place * parts // upper for place in range(upper)]
        assert sorted(found["left"]) == [place * parts // lower for place in range(lower)]
        assert steps == pytest.approx([steps[0]] * len(steps), abs=0.02) if steps else True
        assert len(places_of(drawing, "together", "x1")) == gcd(upper, lower)


def test_on_a_phone_the_chart_goes_on_in_lines_and_strokes_stand_apart() -> None:
    for upper, lower in RATIOS:
        drawing = chart(grid(upper, lower), 340)
        struck = 0
        for line in lines_of(drawing):
            places = sorted({round(middle(item), 1) for item in line if item.get("class") in ("right", "left")})
            struck += len(places)
            assert all(after - x >= 4.9 for x, after in pairwise(places))
        # Attacks of a cycle: a + b - gcd(a, b), by arithmetic.
        assert struck == upper + lower - gcd(upper, lower)
    assert len(lines_of(chart(grid(8, 3), 340))) == 1
    assert len(lines_of(chart(grid(16, 15), 340))) > 1


def test_strokes_that_nearly_meet_stay_on_one_line() -> None:
    for upper, lower in RATIOS:
        drawing = chart(grid(upper, lower), 340)
        assert drawing.count('class="near"') == len(grid(upper, lower).near), (upper, lower)


def a_strip(knots: tuple[tuple[int, float], ...]) -> Strip:
    return Strip('<path class="ink" d="M0 0 L1 1"/>', (0, -50, 1400, 200), 0.25, knots)


def test_the_grid_stands_under_the_heads() -> None:
    # Heads at 200, 500, 900, the end at 1300; a quarter of a unit each: 75, 100 and 100 after the first.
    strip = a_strip(((0, 200.0), (2, 500.0), (4, 900.0), (6, 1300.0)))
    drawing = drawn(grid(3, 2), 400, strip=strip)
    [line] = lines_of(drawing.svg)
    right = [middle(item) for item in line if item.get("class") == "right"]
    assert right == pytest.approx([50, 125, 225])
    # The left hand's second stroke is half way between the second head and the third.
    assert [middle(item) for item in line if item.get("class") == "left"] == pytest.approx([50, 175])
    [window] = [item for item in etree.fromstring(drawing.svg.encode()).iter() if item.get("class") == "strip"]
    assert (float(window.get("x")), float(window.get("height"))) == (0, 50)
    assert drawing.height == pytest.approx(50 + 4 + HEIGHT - 16)


def test_music_too_long_for_the_width_is_seen_through_a_window_for_each_line() -> None:
    strip = a_strip(((0, 200.0), (24, 4200.0)))
    drawing = drawn(grid(8, 3), 400, strip=strip)
    windows = [item for item in etree.fromstring(drawing.svg.encode()).iter() if item.get("class") == "strip"]
    assert len(windows) == len(lines_of(drawing.svg)) == 3
    seen = [[float(number) for number in window.get("viewBox").split()] for window in windows]
    for before, after in pairwise(seen):
        assert before[0] + before[2] == pytest.approx(after[0], abs=2)


def test_near_misses_are_marked_by_shape() -> None:
    assert chart(grid(8, 3)).count('class="near"') == 2
    assert chart(grid(3, 2)).count('class="near"') == 0


def test_no_two_numbers_of_a_line_touch_on_a_phone() -> None:
    for upper, lower in RATIOS:
        for line in lines_of(chart(grid(upper, lower), 320)):
            rows: dict[str, list[tuple[float, float]]] = {}
            for text in line.iter(f"{SVG}text"):
                if text.get("class", "").startswith("count"):
                    half = len(text.text or "") * float(text.get("font-size", 0)) * 0.56 / 2
                    rows.setdefault(text.get("y", ""), []).append((float(text.get("x", 0)) - half, half * 2))
            assert rows
            for numbers in rows.values():
                assert all(x + size <= after for (x, size), (after, _) in pairwise(numbers))


def test_the_drawing_has_no_styles_and_text_stays_text() -> None:
    drawing = chart(grid(4, 3), labels=("r.h.", "l.h."), title='4 against 3, "even" & slow')
    assert "style" not in drawing
    assert re.findall(r">(\d+)<", drawing) == [str(number) for number in range(1, 13)]
    assert "r.h." in drawing
    assert etree.fromstring(drawing.encode()).get("aria-label") == '4 against 3, "even" & slow'


def test_a_pdf_library_draws_it() -> None:
    drawing = svg2rlg(io.BytesIO(chart(grid(16, 15), 500).encode()))
    assert drawing is not None
    assert drawing.width == pytest.approx(500 * 0.75, rel=0.34)


def test_it_can_be_read_aloud() -> None:
    assert described(grid(3, 2)) == "R 1 3 5 / L 1 4 / 6"


@pytest.mark.parametrize("width", [0, 199, 2001])
def test_an_impossible_width_is_refused(width: int) -> None:
    with pytest.raises(ValueError, match="wide"):
        chart(grid(3, 2), width)
