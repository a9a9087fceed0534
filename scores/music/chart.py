"""The chart of a cross-rhythm as SVG text, the same for page and paper.

Black attributes and classes only, no style: a stylesheet may colour it, a printer need not. Right hand: filled circles
above. Left hand: open squares below. A thick line joins strokes that meet; a thin line with a small diamond
joins those that nearly meet. The count stands below as text.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from xml.sax.saxutils import escape, quoteattr

from scores.music.crossrhythm import Crossing, Grid

HEIGHT = 132
LEAST_WIDTH, MOST_WIDTH = 200, 2000
RIGHT_Y, LEFT_Y = 26, 78
COUNT_Y = 106
MARGIN = 34
RADIUS = 6.0
DIGIT = 0.6  # Width of a figure as a share of the type size, generous for every face.
SIZES = (13, 11, 9)


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where parts stand: the first at `left`, each `step` wide."""

    left: float
    step: float

    def x(self, part: int) -> float:
        return self.left + part * self.step


def chart(
    crossing: Crossing | Grid,
    width: int = 360,
    *,
    labels: tuple[str, str] = ("R", "L"),
    title: str = "",
) -> str:
    """The drawing, `width` (200 to 2000) user units wide; `labels` name the right and the left hand, `title` is read
    aloud in place of the picture. Raises `ValueError` for a width outside that range."""
    if not LEAST_WIDTH <= width <= MOST_WIDTH:
        raise ValueError(f"a chart is {LEAST_WIDTH} to {MOST_WIDTH} wide")
    grid = crossing.grid if isinstance(crossing, Crossing) else crossing
    frame = _Frame(MARGIN, (width - MARGIN - 14) / grid.parts)
    radius = _radius(grid, frame)
    body = (
        *_lines(grid, frame),
        *_meetings(grid, frame),
        *_near(grid, frame, radius),
        *_strokes(grid, frame, radius),
        *_labels(labels),
        *_counts(grid, frame),
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="crossrhythm" width="{width}" height="{HEIGHT}"'
        f' viewBox="0 0 {width} {HEIGHT}" role="img" aria-label={quoteattr(title or described(grid))}>'
        + "".join(body)
        + "</svg>"
    )


def described(grid: Grid) -> str:
    """The chart in letters and numbers alone: "R 1 3 5 / L 1 4 / 6"."""
    right = " ".join(str(part + 1) for part in grid.upper)
    left = " ".join(str(part + 1) for part in grid.lower)
    return f"R {right} / L {left} / {grid.parts}"


def _radius(grid: Grid, frame: _Frame) -> float:
    """Small enough that two strokes of one hand never touch."""
    room = min(
        (after - at for hand in (grid.upper, grid.lower) for at, after in pairwise(hand)),
        default=grid.parts,
    )
    return max(1.5, min(RADIUS, room * frame.step * 0.4))


def _lines(grid: Grid, frame: _Frame) -> Iterable[str]:
    """Both hands' lines, and a tick for every part where there is room to tell them apart."""
    for y in (RIGHT_Y, LEFT_Y):
        yield _line("hand-line", frame.x(0), y, frame.x(grid.parts), y, 0.8)
    if frame.step >= 4:
        for part in range(grid.parts + 1):
            yield _line("part", frame.x(part), LEFT_Y + 11, frame.x(part), LEFT_Y + 16, 0.6)


def _meetings(grid: Grid, frame: _Frame) -> Iterable[str]:
    for part in grid.together:
        yield _line("together", frame.x(part), RIGHT_Y, frame.x(part), LEFT_Y, 3.2)


def _near(grid: Grid, frame: _Frame, radius: float) -> Iterable[str]:
    for miss in grid.near:
        above, below = frame.x(miss.upper_at), frame.x(miss.lower_at)
        yield _line("near-line", above, RIGHT_Y, below, LEFT_Y, 0.8)
        x, y, half = (above + below) / 2, (RIGHT_Y + LEFT_Y) / 2, max(3.0, radius * 0.8)
        points = f"{x:.2f},{y - half:.2f} {x + half:.2f},{y:.2f} {x:.2f},{y + half:.2f} {x - half:.2f},{y:.2f}"
        yield f'<polygon class="near" points="{points}" fill="white" stroke="black" stroke-width="1.2"/>'


def _strokes(grid: Grid, frame: _Frame, radius: float) -> Iterable[str]:
    for part in grid.upper:
        yield f'<circle class="right" cx="{frame.x(part):.2f}" cy="{RIGHT_Y}" r="{radius:.2f}" fill="black"/>'
    for part in grid.lower:
        side = 2 * radius - 1
        yield (
            f'<rect class="left" x="{frame.x(part) - side / 2:.2f}" y="{LEFT_Y - side / 2:.2f}" width="{side:.2f}"'
            f' height="{side:.2f}" fill="white" stroke="black" stroke-width="1.6"/>'
        )


def _labels(labels: tuple[str, str]) -> Iterable[str]:
    for label, y in zip(labels, (RIGHT_Y, LEFT_Y), strict=True):
        yield f'<text class="hand" x="2" y="{y + 4}" font-size="12" fill="black">{escape(label)}</text>'


def _counts(grid: Grid, frame: _Frame) -> Iterable[str]:
    """Every number where all fit on one line, the struck ones heavy. Else only struck numbers, the right hand's on the
    upper line and the left hand's on the lower, as many as stand apart."""
    size = next((size for size in SIZES if _fits(range(grid.parts), frame, size)), None)
    if size is not None:
        struck = set(grid.struck)
        for part in range(grid.parts):
            yield _number(part, frame, COUNT_Y, size, heavy=part in struck)
        return
    for hand, y in ((grid.upper, COUNT_Y), (grid.lower, COUNT_Y + 16)):
        size = next((size for size in SIZES if _fits(hand, frame, size)), SIZES[-1])
        for part in _apart(hand, frame, size):
            yield _number(part, frame, y, size, heavy=part in grid.together)


def _width(part: int, size: int) -> float:
    return len(str(part + 1)) * size * DIGIT + 2


def _fits(parts: Iterable[int], frame: _Frame, size: int) -> bool:
    parts = list(parts)
    return len(_apart(parts, frame, size)) == len(parts)


def _apart(parts: Iterable[int], frame: _Frame, size: int) -> list[int]:
    kept: list[int] = []
    edge = 0.0
    for part in parts:
        half = _width(part, size) / 2
        if frame.x(part) - half >= edge:
            kept.append(part)
            edge = frame.x(part) + half
    return kept


def _number(part: int, frame: _Frame, y: int, size: int, *, heavy: bool) -> str:
    weight = ' font-weight="bold"' if heavy else ""
    name = "count struck" if heavy else "count"
    return (
        f'<text class="{name}" x="{frame.x(part):.2f}" y="{y}" font-size="{size}" text-anchor="middle"'
        f' fill="black"{weight}>{part + 1}</text>'
    )


def _line(name: str, x1: float, y1: float, x2: float, y2: float, width: float) -> str:
    return (
        f'<line class="{name}" x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" stroke="black"'
        f' stroke-width="{width}"/>'
    )
