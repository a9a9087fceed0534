"""SVG drawn on a sheet."""

from io import BytesIO

import pdfplumber
import pytest
from reportlab.pdfgen.canvas import Canvas

from scores.music.chart import HEIGHT, chart
from scores.music.crossrhythm import grid
from studio.sheets.drawing import UnknownElement, draw_svg
from studio.sheets.faces import book_font

SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 50">{}</svg>'


def drawn(svg: str, *, x: float = 50, top: float = 700, width: float = 200):
    """The page on which the SVG was drawn, its upper left corner 50 from the left and 100 from the top of 800."""
    file = BytesIO()
    canvas = Canvas(file, pagesize=(400, 800), initialFontName=book_font())
    draw_svg(canvas, svg, x, top, width)
    canvas.showPage()
    canvas.save()
    return pdfplumber.open(BytesIO(file.getvalue())).pages[0]


def test_a_rectangle_stands_where_the_svg_says():
    rect = drawn(SVG.format('<rect x="10" y="5" width="20" height="10"/>')).rects[0]
    # Twice as large: 100 units are 200 points.
    assert [round(float(rect[side])) for side in ("x0", "top", "width", "height")] == [70, 110, 40, 20]


def test_groups_move_and_scale_what_is_in_them():
    inside = '<g transform="translate(10 5)"><rect transform="scale(2)" x="0" y="0" width="5" height="5"/></g>'
    rect = drawn(SVG.format(inside)).rects[0]
    assert [round(float(rect[side])) for side in ("x0", "top", "width", "height")] == [70, 110, 20, 20]


def test_words_stand_on_their_middle_and_stay_text():
    page = drawn(SVG.format('<text x="50" y="25" font-size="8" text-anchor="middle">12</text>'))
    assert page.extract_text() == "12"
    middle = (page.chars[0]["x0"] + page.chars[-1]["x1"]) / 2
    assert middle == pytest.approx(150, abs=0.5)
    assert page.chars[0]["size"] == pytest.approx(16)


def test_what_is_for_screens_only_is_left_out():
    page = drawn(SVG.format('<rect class="measure-box" x="0" y="0" width="9" height="9"/>'))
    assert page.rects == []


def test_nothing_is_missing_unnoticed():
    with pytest.raises(UnknownElement):
        drawn(SVG.format('<foreignObject width="5" height="5"/>'))


def test_a_chart_has_a_circle_or_square_for_every_stroke():
    crossing = grid(4, 3)
    page = drawn(chart(crossing, 300))
    squares = [rect for rect in page.rects if rect["width"] == pytest.approx(rect["height"], abs=0.01)]
    assert len(squares) == len(crossing.lower) == 3
    circles = [curve for curve in page.curves if len(curve["pts"]) > 4]
    assert len(circles) >= len(crossing.upper) == 4
    assert HEIGHT > 0


def test_a_window_shows_its_part_of_a_drawing_in_its_place():
    inner = '<rect x="100" y="20" width="10" height="10"/>'
    window = f'<svg x="10" y="5" width="40" height="20" viewBox="90 10 80 40">{inner}</svg>'
    rect = drawn(SVG.format(window)).rects[0]
    # Half size in its window, twice on the page: (10 + (100 - 90) / 2) * 2 + 50, (5 + (20 - 10) / 2) * 2 + 100.
    assert [round(float(rect[side])) for side in ("x0", "top", "width", "height")] == [80, 120, 10, 10]
