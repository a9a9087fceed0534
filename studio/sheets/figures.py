"""A table of words and figures on a printed page: its head is repeated on each page, no row is parted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.platypus.flowables import Flowable

from studio.sheets.setting import Line, Span, draw_line, set_words

LEADING = 1.32
GAP = 10.0  # points between two columns


@dataclass(frozen=True)
class Column:
    """`share` of the width that figures leave; a column of figures (share 0) is as wide as its widest cell."""

    name: str
    share: float = 0

    @property
    def is_figures(self) -> bool:
        return self.share == 0


class Figures(Flowable):
    """Rows under a head. `strong`: the numbers of rows in bold, with a line above: totals."""

    def __init__(
        self,
        columns: Sequence[Column],
        rows: Sequence[Sequence[str]],
        *,
        size: float,
        above: float = 0,
        strong: frozenset[int] = frozenset(),
        widths: Sequence[float] = (),
    ) -> None:
        super().__init__()
        self.columns, self.rows, self.size, self.above, self.strong = columns, rows, size, above, strong
        self.widths = list(widths)
        self.heights: list[float] = []

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        self.width = width
        self.widths = self.widths or self.measured(width)
        self.lines = [self.row_lines(row, number in self.strong) for number, row in enumerate(self.rows)]
        self.heights = [(max(map(len, cells), default=1) * LEADING + 0.45) * self.size for cells in self.lines]
        self.head = (LEADING + 0.5) * self.size
        self.height = self.above + self.head + sum(self.heights)
        return width, self.height

    def measured(self, width: float) -> list[float]:
        """Figures never break; the words share what is left."""
        widths = []
        for place, column in enumerate(self.columns):
            cells = [
                (column.name, False),
                *((row[place], number in self.strong) for number, row in enumerate(self.rows)),
            ]
            widths.append(max(self.cell_width(*cell) for cell in cells) if column.is_figures else 0)
        left = width - sum(widths) - GAP * (len(widths) - 1)
        shares = sum(column.share for column in self.columns) or 1
        return [wide or left * column.share / shares for wide, column in zip(widths, self.columns, strict=True)]

    def cell_width(self, text: str, is_strong: bool) -> float:
        lines = set_words([self.span(text, is_strong)], 10_000).lines
        return max((line.width for line in lines), default=0) + 0.5

    def span(self, text: str, is_strong: bool) -> Span:
        return Span(text, self.size, "bold" if is_strong else "regular")

    def row_lines(self, row: Sequence[str], is_strong: bool) -> list[list[Line]]:
        cells = zip(row, self.widths, strict=True)
        return [list(set_words([self.span(text, is_strong)], wide).lines) for text, wide in cells]

    def split(self, width: float, height: float) -> list[Flowable]:
        """What fits, and the rest under the head again. A total never stands alone on a page."""
        self.wrap(width, height)
        room, count = height - self.above - self.head, 0
        while count < len(self.rows) and room >= self.heights[count]:
            room -= self.heights[count]
            count += 1
        if count == len(self.rows):
            return [self]
        while count > 0 and count in self.strong:
            count -= 1
        if count == 0:
            return []
        return [self.part(0, count, self.above), self.part(count, len(self.rows), 0)]

    def part(self, start: int, stop: int, above: float) -> Figures:
        strong = frozenset(number - start for number in self.strong if start <= number < stop)
        rows = self.rows[start:stop]
        return Figures(self.columns, rows, size=self.size, above=above, strong=strong, widths=self.widths)

    def draw(self) -> None:
        canvas = self.canv
        y = self.height - self.above
        with canvas.element("Table"):
            with canvas.element("TR"):
                for place, column in enumerate(self.columns):
                    lines = set_words([Span(column.name, self.size * 0.9, "italic")], 10_000).lines
                    with canvas.tagged("TH"):
                        self.draw_cell(list(lines), place, y)
            y -= self.head
            self.rule(y + 0.25 * self.size, 0.6)
            for number, cells in enumerate(self.lines):
                if number in self.strong:
                    self.rule(y, 0.6)
                with canvas.element("TR"):
                    for place, lines in enumerate(cells):
                        with canvas.tagged("TD"):
                            self.draw_cell(lines, place, y)
                y -= self.heights[number]
                if number + 1 not in self.strong:
                    self.rule(y, 0.25)

    def rule(self, y: float, thick: float) -> None:
        with self.canv.artifact():
            self.canv.setLineWidth(thick)
            self.canv.line(0, y, self.width, y)

    def draw_cell(self, lines: list[Line], place: int, top: float) -> None:
        left = sum(self.widths[:place]) + GAP * place
        for number, line in enumerate(lines, start=1):
            baseline = top - (number * LEADING - 0.2) * self.size
            x = left + self.widths[place] - line.width if self.columns[place].is_figures else left
            draw_line(self.canv, line, x, baseline)
