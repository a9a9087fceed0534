"""The pen for pictures of practice: strokes, signs, the line of days below, the key.

Pure: numbers and words in, SVG text out. Black and white attributes only, no style: a stylesheet may colour it, a
printer need not.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Literal
from xml.sax.saxutils import escape, quoteattr

LEAST_WIDTH, MOST_WIDTH = 200, 2000
TYPE = 13.0  # size of the words
SMALL = 12.0  # of figures and days
LETTER = 0.55  # width of a letter as a share of its size, generous for a book face
RIGHT = 10.0  # margin
TAIL = 14  # letters at the end of a name that is too long

Days = Sequence[tuple[date, str]]  # days to name under a picture, with their words
Sign = Literal[
    "clean", "unclean", "uncounted", "goal", "mark", "lesson", "full", "some", "plain", "none", "learned", "played"
]


@dataclass(frozen=True, slots=True)
class Drawing:
    """SVG text and its size in user units."""

    svg: str
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Cell:
    """A week of one passage: days with practice, clean runs and tries."""

    days: int
    clean: int
    tries: int


@dataclass(frozen=True, slots=True)
class Time:
    """Days from left to right; a day has a width, and `x` is its middle."""

    first: date
    last: date
    left: float
    right: float

    @property
    def day(self) -> float:
        return (self.right - self.left) / ((self.last - self.first).days + 1)

    def x(self, day: date) -> float:
        return self.left + ((day - self.first).days + 0.5) * self.day

    def begin(self, day: date) -> float:
        return self.left + (day - self.first).days * self.day

    def holds(self, day: date) -> bool:
        return self.first <= day <= self.last


# Signs


def wedge(x: float, bottom: float) -> str:
    return polygon([(x, bottom - 7), (x - 4, bottom), (x + 4, bottom)], fill="white")


def diamond(x: float, y: float) -> str:
    return polygon([(x, y - 6), (x + 5, y), (x, y + 6), (x - 5, y)])


def ring(x: float, y: float) -> str:
    return circle(x, y, 4.6, fill="white", stroke=2.0)


def cross(x: float, y: float) -> str:
    return f'<path d="M{x - 3.5:.2f} {y - 3.5:.2f}L{x + 3.5:.2f} {y + 3.5:.2f}M{x - 3.5:.2f} {y + 3.5:.2f}L{x + 3.5:.2f} {y - 3.5:.2f}" fill="none" stroke="black" stroke-width="1.4"/>'  # noqa: E501


SIGNS = {
    "clean": lambda x, y: circle(x, y, 3.8, fill="black"),
    "unclean": lambda x, y: circle(x, y, 3.6, fill="white", stroke=1.5),
    "uncounted": cross,
    "goal": lambda x, y: stroke(x - 9, y, x + 9, y, 2.2, dashes="9 4"),
    "mark": lambda x, y: stroke(x - 9, y, x + 9, y, 1.2, dashes="2 3"),
    "lesson": lambda x, y: wedge(x, y + 4),
    "full": lambda x, y: "".join(glass(x - 6, y - 6, 12, 12, 1.0)),
    "some": lambda x, y: "".join(glass(x - 6, y - 6, 12, 12, 0.4)),
    "plain": lambda x, y: "".join(box(Cell(1, 0, 0), x - 6, y - 6, 12)),
    "none": lambda x, y: circle(x, y, 1.3, fill="black"),
    "learned": diamond,
    "played": ring,
}


def glass(x: float, y: float, wide: float, tall: float, share: float) -> Iterable[str]:
    yield rect(x, y + tall * (1 - share), wide, tall * share, fill="black", stroke="none")
    yield rect(x, y, wide, tall)


def box(cell: Cell | None, x: float, y: float, side: float) -> Iterable[str]:
    if cell is None:
        yield circle(x + side / 2, y + side / 2, min(1.3, side / 6), fill="black")
    elif cell.tries:
        yield from glass(x, y, side, side, cell.clean / cell.tries)
    else:
        yield rect(x, y, side, side)
        yield stroke(x, y + side, x + side, y, 1)


# What all have


def width_of(text: str, size: float = TYPE) -> float:
    """About how wide a word is: signs of East Asia are square."""
    return sum(size if unicodedata.east_asian_width(sign) in "WF" else size * LETTER for sign in text)


def shortened(text: str, room: float, size: float = TYPE) -> str:
    """As much of the text as fits; what is left out is an ellipsis before the last words, which often tell names apart.
    The table beside a picture has it all."""
    if width_of(text, size) <= room:
        return text
    tail = text[-TAIL:] if width_of(text[-TAIL:], size) <= 0.75 * room else ""
    head = text[: len(text) - len(tail)]
    while head and width_of(head + "…" + tail, size) > room:
        head = head[:-1]
    return f"{head.rstrip()}…{tail}"


def checked_width(width: int, first: date, last: date) -> int:
    if not LEAST_WIDTH <= width <= MOST_WIDTH:
        raise ValueError(f"a picture is {LEAST_WIDTH} to {MOST_WIDTH} wide")
    if last < first:
        raise ValueError("the last day comes before the first")
    return width


def under(time: Time, y: float, days: Days) -> Iterable[str]:
    """The line under a picture, a tick for each day that has a name, and as many names as stand apart."""
    yield stroke(time.left, y, time.right, y, 0.8)
    edge = 0.0
    for day, words in days:
        if not time.holds(day):
            continue
        x = time.begin(day)
        yield stroke(x, y, x, y + 4, 0.8)
        if x >= edge and x + width_of(words, SMALL) <= time.right + RIGHT:
            yield words_at(x, y + 16, words, size=SMALL)
            edge = x + width_of(words, SMALL) + 10


def finished(body: Iterable[str], height: float, key: dict[Sign, str], width: int, title: str) -> Drawing:
    """The picture with its key below."""
    parts = list(body)
    x, y = 2.0, height + 10
    for sign, words in key.items():
        room = 24 + width_of(words, SMALL) + 14
        if x > 2 and x + room > width:
            x, y = 2.0, y + 18
        parts += [SIGNS[sign](x + 10, y), words_at(x + 24, y + 4, words, size=SMALL)]
        x += room
    height = y + 10 if key else height
    return Drawing(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height:.1f}" viewBox="0 0 {width}'
        f' {height:.1f}" role="img" aria-label={quoteattr(title)}>{"".join(parts)}</svg>',
        width,
        round(height, 1),
    )


def stroke(x1: float, y1: float, x2: float, y2: float, width: float, *, dashes: str = "") -> str:
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<line x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" stroke="black" stroke-width="{width}"{dashed}/>'
    )


def rect(x: float, y: float, wide: float, tall: float, *, fill: str = "none", stroke: str = "black") -> str:
    return (
        f'<rect x="{x:.2f}" y="{y:.2f}" width="{max(0.0, wide):.2f}" height="{max(0.0, tall):.2f}" fill="{fill}"'
        f' stroke="{stroke}" stroke-width="1"/>'
    )


def circle(x: float, y: float, radius: float, *, fill: str, stroke: float = 0) -> str:
    edge = f' stroke="black" stroke-width="{stroke}"' if stroke else ""
    return f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{radius:.2f}" fill="{fill}"{edge}/>'


def polygon(corners: Sequence[tuple[float, float]], *, fill: str = "black") -> str:
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in corners)
    return f'<polygon points="{points}" fill="{fill}" stroke="black" stroke-width="1"/>'


def polyline(corners: Sequence[tuple[float, float]], width: float, *, dashes: str) -> str:
    kept = [corners[0], *(after for before, after in pairwise(corners) if after != before)]
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in kept)
    return (
        f'<polyline points="{points}" fill="none" stroke="black" stroke-width="{width}" stroke-dasharray="{dashes}"/>'
    )


def words_at(x: float, y: float, words: str, *, anchor: str = "start", size: float = TYPE, bold: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:g}" text-anchor="{anchor}" fill="black"{weight}>'
        f"{escape(words)}</text>"
    )
