"""What a student writes on: the ladder of tempos and the practice table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus.flowables import Flowable

from studio.sheets.setting import Line, Span, draw_line, set_words

RUNS = 3  # clean runs before the next rung


class Ladder(Flowable):
    """Metronome marks from left to right, the first set off; under each, a circle for each clean run in a row."""

    def __init__(self, marks: Sequence[int], *, size: float, above: float, words: str) -> None:
        super().__init__()
        self.marks, self.size, self.above, self.words = marks, size, above, words

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        self.step = min(width / len(self.marks), 4.6 * self.size)
        return width, self.above + 2.9 * self.size

    def draw(self) -> None:
        with self.canv.tagged("P", self.words):
            for number, mark in enumerate(self.marks):
                self.draw_rung(number * self.step, mark, is_first=number == 0)

    def draw_rung(self, x: float, mark: int, *, is_first: bool) -> None:
        canvas, wide = self.canv, self.step - 3
        span = Span(str(mark), self.size * 1.1, "bold" if is_first else "regular")
        line = set_words([span], wide).lines[0]
        draw_line(canvas, line, x + (wide - line.width) / 2, 1.75 * self.size)
        canvas.setLineWidth(2.2 if is_first else 0.9)
        canvas.line(x, 1.35 * self.size, x + wide, 1.35 * self.size)
        canvas.setLineWidth(0.7)
        radius = 0.3 * self.size
        for run in range(RUNS):
            canvas.circle(x + wide / 2 + (run - 1) * 3.2 * radius, 0.55 * self.size, radius, stroke=1, fill=0)


class PracticeTable(Flowable):
    """A row for the minutes and one for each passage; a column for each day, with room to write."""

    def __init__(
        self, days: Sequence[str], rows: Sequence[tuple[str, str]], *, size: float, above: float, spoken: str
    ) -> None:
        super().__init__()
        self.days, self.rows, self.size, self.above, self.spoken = days, rows, size, above, spoken
        self.head, self.row = 1.9 * size, 2.8 * size

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        self.width = width
        self.first = width * 0.27
        return width, self.above + self.head + self.row * len(self.rows)

    def draw(self) -> None:
        canvas: Canvas = self.canv
        height = self.head + self.row * len(self.rows)
        column = (self.width - self.first) / len(self.days)
        with canvas.artifact():
            self.draw_lines(canvas, height, column)
        with canvas.element("Table", self.spoken):
            with canvas.element("TR"):
                for number, day in enumerate(self.days):
                    with canvas.tagged("TH"):
                        self.centred(day, self.first + column * number, column, height - self.head + 0.6 * self.size)
            for number, (label, detail) in enumerate(self.rows, start=1):
                with canvas.element("TR"), canvas.tagged("TH"):
                    self.label(label, detail, height - self.head - self.row * (number - 1))

    def draw_lines(self, canvas: Canvas, height: float, column: float) -> None:
        canvas.setLineWidth(0.5)
        for number in range(len(self.rows) + 1):
            y = height - self.head - self.row * number
            canvas.line(0, y, self.width, y)
        canvas.line(0, height, self.width, height)
        for x in (0, self.width, *(self.first + column * number for number in range(len(self.days)))):
            canvas.line(x, 0, x, height)
        canvas.setLineWidth(0.35)
        for number in range(1, len(self.rows)):
            y = height - self.head - self.row * (number + 1)
            for day in range(len(self.days)):
                middle = self.first + column * (day + 0.5)
                canvas.line(
                    middle - 0.5 * self.size,
                    y + 0.45 * self.size,
                    middle + 0.5 * self.size,
                    y + self.row - 0.45 * self.size,
                )

    def centred(self, text: str, x: float, width: float, y: float) -> None:
        lines = set_words([Span(text, self.size)], width).lines
        if lines:
            draw_line(self.canv, lines[0], x + (width - lines[0].width) / 2, y)

    def label(self, label: str, detail: str, top: float) -> None:
        """A row's name: what fits of the title, and under it where the passage stands."""
        title, _, where = detail.partition("\n")
        spans = [Span(label, self.size, "bold"), Span(f"  {title}" if title else "", self.size)]
        lines = [one_line(spans, self.first - 10)]
        if where:
            lines.append(one_line([Span(where, self.size * 0.88)], self.first - 10))
        down = (self.row - 1.2 * self.size * len(lines)) / 2
        for number, line in enumerate(lines, start=1):
            draw_line(self.canv, line, 4, top - down - 1.2 * self.size * number + 0.3 * self.size)


def one_line(spans: Sequence[Span], width: float) -> Line:
    """Words in one line, cut with an ellipsis where they are too long."""
    lines = set_words(spans, width).lines
    if len(lines) == 1:
        return lines[0]
    *first, last = spans
    for count in range(len(last.text) - 1, 0, -1):
        shorter = set_words([*first, replace(last, text=last.text[:count].rstrip() + "…")], width).lines
        if len(shorter) == 1:
            return shorter[0]
    return lines[0]
