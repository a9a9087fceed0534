"""The chart: exact places, shapes that need no colour, drawn by a PDF library without a word of complaint."""

import io
import re
from itertools import pairwise

import pytest
from lxml import etree
from svglib.svglib import svg2rlg

from scores.music.chart import chart, described
from scores.music.crossrhythm import grid

SVG = "{http://www.w3.org/2000/svg}"
RATIOS = [(upper, lower) for upper in range(1, 17) for lower in range(1, 16)]


def places(drawing: str, name: str, attribute: str) -> list[float]:
    root = etree.fromstring(drawing.encode())
    return [float(item.get(attribute)) for item in root.iter() if item.get("class") == name]


@pytest.mark.parametrize("width", [320, 360, 700])
def test_strokes_stand_exactly_for_every_ratio_up_to_sixteen_to_fifteen(width: int) -> None:
    for upper, lower in RATIOS:
        drawing = chart(grid(upper, lower), width)
        right = places(drawing, "right", "cx")
        boxes = list(zip(places(drawing, "left", "x"), places(drawing, "left", "width"), strict=True))
        left = [x + size / 2 for x, size in boxes]
        whole = (width - 34 - 14) / 1
        assert right == pytest.approx([34 + whole * place / upper for place in range(upper)], abs=0.011)
        assert left == pytest.approx([34 + whole * place / lower for place in range(lower)], abs=0.02)
        assert len(places(drawing, "together", "x1")) == len(grid(upper, lower).together)


def test_near_misses_are_marked_by_shape() -> None:
    assert chart(grid(8, 3)).count('class="near"') == 2
    assert chart(grid(3, 2)).count('class="near"') == 0


def test_no_two_numbers_of_a_line_touch_on_a_phone() -> None:
    for upper, lower in RATIOS:
        root = etree.fromstring(chart(grid(upper, lower), 320).encode())
        lines: dict[str, list[tuple[float, float]]] = {}
        for text in root.iter(f"{SVG}text"):
            if text.get("class", "").startswith("count"):
                half = len(text.text or "") * float(text.get("font-size", 0)) * 0.56 / 2
                lines.setdefault(text.get("y", ""), []).append((float(text.get("x", 0)) - half, half * 2))
        for numbers in lines.values():
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
