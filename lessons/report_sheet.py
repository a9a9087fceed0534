"""A report on a term, on paper: the teacher's words, then the pictures of practice with their sentences."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from io import BytesIO

from django.utils.translation import gettext as _
from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate
from reportlab.platypus.flowables import Flowable

from lessons.progress_page import WIDE, Shown
from studio.sheets.faces import Style, book_font, tidy
from studio.sheets.flowables import Block, Picture, Words
from studio.sheets.paper import Layout, layout_for
from studio.sheets.setting import Span, draw_line, set_words
from studio.sheets.tagging import TaggedCanvas

EMPTY_LINES = re.compile(r"\n\s*\n")


@dataclass(frozen=True)
class Report:
    """All that stands on the sheet. `pictures` have a heading of their own where it is not their usual one; `small` are
    the closing words."""

    student: str
    studio: str
    name: str
    days: str
    words: str
    pictures: tuple[tuple[str, Shown], ...]
    small: tuple[str, ...]
    paper: str
    language: str


def draw_report(report: Report) -> bytes:
    """The PDF: vectors, embedded faces, black on white, tagged for readers."""
    layout = layout_for(report.paper, large_print=False)
    file = BytesIO()
    document = BaseDocTemplate(
        file,
        pagesize=layout.size,
        title=tidy(f"{report.student}, {report.name}"),
        author=tidy(report.studio),
        creator="Passagework",
        initialFontName=book_font(),
    )
    frame = Frame(layout.side, layout.foot, layout.width, layout.height, 0, 0, 0, 0, id="column")
    document.addPageTemplates(PageTemplate("report", [frame]))
    margin = partial(draw_margin, report=report, layout=layout)
    canvas = partial(TaggedCanvas, language=report.language, margin=margin)
    document.build(list(stones(report, layout)), canvasmaker=canvas)
    return file.getvalue()


def draw_margin(canvas: TaggedCanvas, page: int, pages: int, *, report: Report, layout: Layout) -> None:
    """The foot of every page: whose report it is, and which page of how many."""
    y = layout.foot - 26
    canvas.setLineWidth(0.4)
    canvas.line(layout.side, y + 12, layout.side + layout.width, y + 12)
    count = _("%(page)d of %(pages)d") % {"page": page, "pages": pages}
    last = set_words([Span(count, layout.small)], layout.width).lines[0]
    draw_line(canvas, last, layout.side + layout.width - last.width, y)
    words = " · ".join((report.student, report.name, report.studio))
    lines = set_words([Span(words, layout.small)], layout.width - last.width - 20).lines
    if lines:
        draw_line(canvas, lines[0], layout.side, y)


def stones(report: Report, layout: Layout) -> Iterator[Flowable]:
    """Name and days, the teacher's words, a block for each picture, the closing words."""
    size = layout.text

    def words(text: str, style: Style = "regular", *, above: float = 0, at: float = size, role: str = "P") -> Words:
        return Words([Span(text, at, style)], above=above, role=role)

    yield words(report.student, "bold", at=layout.title * 1.4, role="H1")
    yield words(f"{report.name}, {report.days}", above=2)
    yield words(report.studio, "italic", above=1)
    for number, paragraph in enumerate(paragraphs(report.words)):
        yield words(paragraph, above=size * (1.6 if number == 0 else 0.7))
    for title, shown in report.pictures:
        yield picture_block(title, shown, layout)
    for number, text in enumerate(report.small):
        yield words(text, "italic", at=layout.small, above=size * (1.8 if number == 0 else 0.5))


def picture_block(title: str, shown: Shown, layout: Layout) -> Block:
    """A picture under its heading and its sentence; the three stay on one page."""
    size = layout.text
    drawing = shown.drawn(WIDE)
    scale = layout.width / drawing.width
    heading = Words([Span(title, size * 1.1, "bold")], above=size * 2, role="H2")
    stones = [
        Words([Span(shown.sentence, size)], above=2),
        Picture(
            drawing.svg,
            drawing.width * scale,
            drawing.height * scale,
            f"{title}. {shown.sentence}",
            above=size * 0.8,
            most=layout.height - 8 * size,
        ),
    ]
    return Block(lambda _continued: [heading], stones, page_height=layout.height, name=title)


def paragraphs(text: str) -> list[str]:
    """As they were typed; empty lines part them."""
    return [part.strip() for part in EMPTY_LINES.split("\n".join(text.splitlines())) if part.strip()]


def texts_of(report: Report) -> Iterator[str]:
    """What people wrote, for whoever looks for characters that no face has."""
    yield from (report.student, report.studio, report.name, report.words)
    for title, shown in report.pictures:
        yield title
        for row in shown.rows:
            yield row[0]
