"""Handouts for tests, made by hand: no engraver and no rows are needed to draw a sheet."""

from datetime import date
from io import BytesIO

import pdfplumber

from lessons.handouts.content import Content, Music, Ornament, Remark, Rhythm, Stage, Work
from lessons.handouts.sheet import draw_sheet
from scores.music.chart import HEIGHT, chart
from scores.music.crossrhythm import grid


def system(*, digits: str = "12345", width: float = 480, height: float = 90) -> Music:
    """Five lines and a row of digits, in the elements that the engraving uses."""
    lines = "".join(
        f'<path d="M0 {200 + 180 * line} L14000 {200 + 180 * line}" stroke-width="18"/>' for line in range(5)
    )
    texts = "".join(
        f'<text x="{800 + 900 * place}" y="120" font-size="330" text-anchor="middle" font-weight="bold">{digit}</text>'
        for place, digit in enumerate(digits)
    )
    outline = '<path transform="scale(1,-1)" d="M0 39c0 68 73 172 200 172z"/>'
    head = f'<defs><g id="glyph-E0A4" stroke="none">{outline}</g></defs>'
    note = '<use href="#glyph-E0A4" transform="translate(800 560) scale(0.72)"/>'
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 14000 {14000 * height / width:.0f}">{head}'
        f'<g class="ink" fill="black" stroke="black">{lines}{note}<g stroke="none">{texts}</g></g></svg>'
    )
    return Music(svg, width, height, "Measures 1 to 4.")


def work(number: int = 1, **given) -> Work:
    fields = {
        "number": number,
        "title": "Ländler in E-flat",
        "composer": "Ottilie Rasmussen",
        "edition": "Brandt edition",
        "where": "measures 1–4",
        "hands": "right hand",
        "task": "",
        "music": (system(),),
        "trouble": "",
        "options": (),
        "ornaments": (Ornament("2", "1", "turn on F5", "on the beat", "Unhurried."),),
        "rhythms": (),
        "remarks": (Remark("1", "Let the grace note fall on the way down."),),
        "tempo_now": 60,
        "tempo_goal": 72,
        "ladder": (60, 63, 66, 69, 72),
    }
    return Work(**{**fields, **given})


def rhythm(upper: int = 4, lower: int = 3) -> Rhythm:
    stages = tuple(Stage(f"Stage {number}", "Slowly, and evenly.") for number in range(1, 8))
    picture = chart(grid(upper, lower), 300)
    words = "Grid of 12 parts."
    return Rhythm("measure 2 from beat 1", picture, 300, HEIGHT, words, "both, right, left", "", stages)


def content(*works: Work, **given) -> Content:
    fields = {
        "studio": "Studio Harbour Street",
        "student": "Oda Lindqvist",
        "day": date(2020, 11, 23),
        "until": date(2020, 11, 30),
        "notes": "Sing the melody once before playing.",
        "tasks": (),
        "works": works or (work(),),
        "caution": "Rest your hands often. If anything hurts, stop and say so.",
        "url": "https://studio.example.org/this-week/",
        "paper": "A4",
        "large_print": False,
        "language": "en",
    }
    return Content(**{**fields, **given})


def read(one: Content) -> list[str]:
    """The text of each page of the drawn sheet, as another library reads it."""
    with pdfplumber.open(BytesIO(draw_sheet(one))) as document:
        return [page.extract_text() for page in document.pages]


def with_title(title: str) -> Content:
    return content(work(title=title), student=title)
