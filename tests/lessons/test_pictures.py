"""The pictures of practice: what is drawn, where, and that paper can draw it too."""

import math
from datetime import date, timedelta
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree
from reportlab.pdfgen.canvas import Canvas

from lessons import pictures
from lessons.pen import TYPE, Cell, Drawing, shortened, width_of
from lessons.pictures import Point, Span
from studio.sheets.drawing import draw_svg
from studio.sheets.faces import book_font

MONDAY = date(2026, 9, 7)
LAST = MONDAY + timedelta(days=27)
DAYS = [(MONDAY + timedelta(days=7 * number), f"week {number}") for number in range(4)]
WORDS = {"first": MONDAY, "last": LAST, "days": DAYS, "title": "what it shows"}


def at(days: int) -> date:
    return MONDAY + timedelta(days=days)


def found(drawing: Drawing, path: str) -> list[etree._Element]:
    return etree.fromstring(drawing.svg).xpath(path.replace("//", "//svg:"), namespaces={"svg": SVG})


SVG = "http://www.w3.org/2000/svg"


def tempo(points: list[Point], width: int = 400, goal: int | None = 96, **given) -> Drawing:
    fields = {"rungs": (60, 63, 66, 96), "marks": [(MONDAY, 60)], "lessons": [], "key": {}}
    return pictures.tempo_picture(points, goal=goal, width=width, **WORDS, **{**fields, **given})


def every_picture(width: int) -> list[Drawing]:
    """One of each kind, with every sign in its key."""
    key = dict.fromkeys(pictures.SIGNS, "a <sign> & more")
    points = [Point(at(1), 60, "clean"), Point(at(2), 63, "unclean"), Point(at(9), 66, "uncounted")]
    spans = [
        Span("Ländler <1>", at(0), at(20), goes_on=True, learned=at(3), performed=at(4)),
        Span("Study", at(2), at(9), is_aside=True),
    ]
    return [
        tempo(points, width, key=key, lessons=[at(0), at(7)], marks=[(at(0), 60), (at(7), 63)]),
        pictures.share_picture([(at(0), 3, 4), (at(7), 0, 2)], width=width, key=key, **WORDS),
        pictures.minutes_picture([(at(n), 10 * n) for n in range(28)], days=DAYS, width=width, title="m", long_day=60),
        pictures.weeks_picture(
            [("Ländler, measures 1–2", [Cell(3, 4, 8), None, Cell(1, 0, 0), None])],
            first=MONDAY, days=DAYS, width=width, key=key, title="w",
        ),
        pictures.timeline_picture(spans, width=width, key=key, **WORDS),
        pictures.strip([0, 3, 7, 9], title="s"),
    ]  # fmt: skip


@pytest.mark.parametrize("width", [200, 340, 720, 2000])
def test_page_and_paper_draw_the_same_picture(width: int):
    canvas = Canvas(BytesIO(), initialFontName=book_font())
    for drawing in every_picture(width):
        draw_svg(canvas, drawing.svg, 0, 800, 400)  # an element that paper does not know raises


@pytest.mark.parametrize("width", [200, 340, 720])
def test_nothing_depends_on_colour_or_style(width: int):
    for drawing in every_picture(width):
        root = etree.fromstring(drawing.svg)
        paints = {element.get(name) for element in root.iter() for name in ("fill", "stroke")} - {None}
        assert paints <= {"black", "white", "none"}
        assert not [element for element in root.iter() if element.get("style") or element.get("class")]


@pytest.mark.parametrize("width", [200, 340, 720])
def test_words_and_strokes_stay_inside_the_picture(width: int):
    for drawing in every_picture(width)[:-1]:
        for text in etree.fromstring(drawing.svg).iter(f"{{{SVG}}}text"):
            wide = width_of(text.text, float(text.get("font-size")))
            left = float(text.get("x")) - {"start": 0, "middle": wide / 2, "end": wide}[text.get("text-anchor")]
            assert left >= -2, text.text
            assert left + wide <= drawing.width + 2, text.text
            assert 0 <= float(text.get("y")) <= drawing.height


def test_a_picture_says_what_it_shows_to_those_who_cannot_see_it():
    drawing = pictures.share_picture([], width=400, key={}, **{**WORDS, "title": 'clean < 50 % & "more"'})
    root = etree.fromstring(drawing.svg)
    assert (root.get("role"), root.get("aria-label")) == ("img", 'clean < 50 % & "more"')


@given(st.lists(st.integers(20, 300), min_size=3, max_size=3, unique=True))
def test_the_scale_of_tempos_is_even_in_ratio(tempos: list[int]):
    """The definition: equal ratios are equal distances, whatever else is drawn."""
    points = [Point(at(number), tempo, "clean") for number, tempo in enumerate(tempos)]
    heights = [float(one.get("cy")) for one in found(tempo(points, rungs=(), marks=[], goal=None), "//circle")]
    unit = (heights[1] - heights[0]) / math.log(tempos[0] / tempos[1])
    wanted = heights[0] + unit * math.log(tempos[0] / tempos[2])
    blur = 0.02 * (1 + abs(math.log(tempos[0] / tempos[2]) / math.log(tempos[0] / tempos[1])))  # of two decimals
    assert unit > 0, "faster is higher"
    assert heights[2] == pytest.approx(wanted, abs=blur)


def test_clean_unclean_and_uncounted_days_have_shapes_of_their_own():
    points = [Point(at(1), 60, "clean"), Point(at(2), 60, "unclean"), Point(at(3), 60, "uncounted")]
    drawing = tempo(points)
    assert [one.get("fill") for one in found(drawing, "//circle")] == ["black", "white"]
    assert len(found(drawing, "//path")) == 1


def test_what_was_the_mark_before_the_first_day_shown_begins_at_the_edge():
    early = [(at(-20), 60), (at(-10), 63), (at(7), 66)]
    [stairs] = found(tempo([], marks=early), "//polyline")
    corners = [tuple(map(float, pair.split(","))) for pair in stairs.get("points").split()]
    assert corners[0][0] == pictures.LEFT
    assert len({y for _, y in corners}) == 2, "60 was over before the first day"


def test_the_tempo_to_reach_is_a_dashed_line_across():
    lines = [one for one in found(tempo([]), "//line") if one.get("stroke-dasharray")]
    assert len(lines) == 1
    assert float(lines[0].get("x2")) - float(lines[0].get("x1")) > 300


def test_a_week_is_filled_by_the_share_of_clean_runs():
    drawing = pictures.share_picture([(at(0), 3, 4)], width=400, key={}, **WORDS)
    filled, whole = found(drawing, "//rect")
    assert float(filled.get("height")) / float(whole.get("height")) == pytest.approx(3 / 4, abs=0.001)
    assert float(filled.get("y")) + float(filled.get("height")) == pytest.approx(
        float(whole.get("y")) + float(whole.get("height")), abs=0.011
    )


def test_bars_are_as_tall_as_minutes_are_many():
    minutes = [(at(0), 10), (at(1), 0), (at(2), 25)]
    bars = found(pictures.minutes_picture(minutes, days=DAYS, width=400, title=""), "//rect")
    assert len(bars) == 2, "a day without practice has no bar"
    assert float(bars[1].get("height")) / float(bars[0].get("height")) == pytest.approx(2.5, abs=0.01)


def test_the_line_of_a_long_day_is_drawn_only_where_a_day_was_long():
    def dashed(most: int) -> int:
        drawing = pictures.minutes_picture([(at(0), most)], days=DAYS, width=400, title="", long_day=60)
        return sum(bool(one.get("stroke-dasharray")) for one in found(drawing, "//line"))

    assert (dashed(60), dashed(61)) == (0, 1)


def test_weeks_without_practice_are_dots_and_uncounted_ones_are_crossed():
    cells = [None, Cell(1, 0, 0), Cell(2, 1, 2), None]
    drawing = pictures.weeks_picture([("x", cells)], first=MONDAY, days=DAYS, width=400, key={}, title="")
    assert len(found(drawing, "//circle")) == 2
    assert len(found(drawing, "//rect")) == 3, "one box, and one with its filling"


def test_a_piece_set_aside_is_dashed_and_one_in_work_has_an_arrow():
    aside, work = Span("a", at(0), at(9), is_aside=True), Span("b", at(0), LAST, goes_on=True)
    first = pictures.timeline_picture([aside], width=400, key={}, **WORDS)
    second = pictures.timeline_picture([work], width=400, key={}, **WORDS)
    assert [bool(found(one, "//polygon")) for one in (first, second)] == [False, True]
    assert [sum(bool(line.get("stroke-dasharray")) for line in found(one, "//line")) for one in (first, second)] == [
        1,
        0,
    ]


def test_a_long_name_keeps_the_words_that_tell_it_apart():
    short = shortened("A very long title of a very long piece in E-flat, measures 17–18", 160)
    assert short.endswith("…measures 17–18")
    assert width_of(short) <= 160


@given(st.text(max_size=60), st.floats(20, 400))
def test_a_shortened_name_fits(text: str, room: float):
    assert width_of(shortened(text, room)) <= max(room, 1.1 * TYPE)


@pytest.mark.parametrize("width", [0, 199, 2001])
def test_a_picture_of_no_sane_width_is_refused(width: int):
    with pytest.raises(ValueError, match="wide"):
        tempo([], width)
