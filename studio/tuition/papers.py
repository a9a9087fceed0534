"""Invoices and statements on paper: a `Paper` says all that stands on it, `draw` makes the PDF.

A paper is kept as data (`to_data`), so that what was sent can be drawn again and read without a PDF program.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from functools import partial
from io import BytesIO
from typing import Any

from django.utils.translation import gettext as _
from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate
from reportlab.platypus.flowables import Flowable

from studio.sheets.faces import Style, book_font, tidy
from studio.sheets.figures import Column, Figures
from studio.sheets.flowables import Columns, Words
from studio.sheets.paper import Layout, layout_for
from studio.sheets.setting import Span, draw_line, set_words
from studio.sheets.tagging import TaggedCanvas


@dataclass(frozen=True)
class Paper:
    """What stands on an invoice or a statement, every amount and date in its words.

    `rows` have a cell for each of `columns`; `totals` are rows of their own (label, amount). `facts` stand beside the
    receiver: (label, words). `columns`: (name, share of the width; 0 for figures).
    """

    title: str
    sender: list[str]
    receiver: list[str]
    facts: list[list[str]]
    columns: list[list[Any]]
    rows: list[list[str]]
    totals: list[list[str]]
    words: list[str] = field(default_factory=list)
    small: list[str] = field(default_factory=list)
    size: str = "A4"
    language: str = "en"


def to_data(paper: Paper) -> dict[str, Any]:
    """As JSON keeps it."""
    return asdict(paper)


def from_data(data: dict[str, Any]) -> Paper:
    return Paper(**data)


def texts_of(paper: Paper) -> Iterator[str]:
    """Everything that is set, for whoever looks for characters that no face has."""
    yield from (paper.title, *paper.sender, *paper.receiver, *paper.words, *paper.small)
    for row in (*paper.facts, *paper.rows, *paper.totals):
        yield from row


def draw(paper: Paper) -> bytes:
    """The PDF: text stays text, black on white, tagged for readers."""
    layout = layout_for(paper.size, large_print=False)
    file = BytesIO()
    document = BaseDocTemplate(
        file,
        pagesize=layout.size,
        title=tidy(paper.title),
        author=tidy(paper.sender[0]),
        creator="Passagework",
        initialFontName=book_font(),
    )
    frame = Frame(layout.side, layout.foot, layout.width, layout.height, 0, 0, 0, 0, id="column")
    document.addPageTemplates(PageTemplate("paper", [frame]))
    margin = partial(draw_margin, paper=paper, layout=layout)
    document.build(
        list(stones(paper, layout)), canvasmaker=partial(TaggedCanvas, language=paper.language, margin=margin)
    )
    return file.getvalue()


def draw_margin(canvas: TaggedCanvas, page: int, pages: int, *, paper: Paper, layout: Layout) -> None:
    """The foot of every page: what it is, whose, and which page of how many."""
    y = layout.foot - 26
    canvas.setLineWidth(0.4)
    canvas.line(layout.side, y + 12, layout.side + layout.width, y + 12)
    count = set_words([Span(_("%(page)d of %(pages)d") % {"page": page, "pages": pages}, layout.small)], layout.width)
    last = count.lines[0]
    draw_line(canvas, last, layout.side + layout.width - last.width, y)
    words = " · ".join((paper.sender[0], paper.title, *paper.receiver[:1]))
    lines = set_words([Span(words, layout.small)], layout.width - last.width - 20).lines
    if lines:
        draw_line(canvas, lines[0], layout.side, y)


def total_row(columns: list[Column], label: str, amount: str) -> list[str]:
    """The label under the widest column of words, the amount under the last of figures."""
    widest = max(range(len(columns)), key=lambda place: columns[place].share)
    row = [""] * len(columns)
    row[widest], row[-1] = label, amount
    return row


def stones(paper: Paper, layout: Layout) -> Iterator[Flowable]:
    """Sender, receiver beside the facts, title, table, totals, words."""
    size = layout.text

    def words(text: str, style: Style = "regular", *, above: float = 0, at: float = size, role: str = "P") -> Words:
        return Words([Span(text, at, style)], above=above, role=role)

    yield words(paper.sender[0], "bold", at=layout.title)
    if paper.sender[1:]:
        yield words("\n".join(paper.sender[1:]), at=layout.small, above=2)
    receiver = [words("\n".join(paper.receiver) or " ", above=size * 3.2)]
    facts = [words(" ", at=2, above=size * 2.9)]
    facts += [Words([Span(f"{label}: ", size), Span(value, size, "bold")]) for label, value in paper.facts]
    yield Columns(receiver, facts, gap=24, right_width=layout.width * 0.42)
    yield words(paper.title, "bold", at=layout.title * 1.25, above=size * 3, role="H1")
    columns = [Column(name, share) for name, share in paper.columns]
    totals = [total_row(columns, label, amount) for label, amount in paper.totals]
    first_total = len(paper.rows)
    yield Figures(
        columns,
        [*paper.rows, *totals],
        size=size,
        above=size,
        strong=frozenset(range(first_total, first_total + len(totals))),
    )
    for number, text in enumerate(paper.words):
        yield words(text, above=size * (1.8 if number == 0 else 0.6))
    for number, text in enumerate(paper.small):
        yield words(text, at=layout.small, above=size * (1.8 if number == 0 else 0.4))
