"""The chart of a cross-rhythm as SVG text, the same for page and paper.

Black attributes and classes only, no style: a stylesheet may colour it, a printer need not. Right hand: filled circles
above. Left hand: open squares below. A thick line joins strokes that meet; a thin line with a small diamond
joins those that nearly meet. The count stands below as text. Engraved notes may stand above the grid (`Strip`); the
grid then stands under their heads. What does not fit the width at a legible size goes on in further lines.

What a script finds: `g.chart-line[data-knots]`, "part x part x ...", between which a moving mark goes evenly; strokes
and counts carry `data-part`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from xml.sax.saxutils import escape, quoteattr

from scores.music.crossrhythm import Crossing, Grid

HEIGHT = 132  # of a line without music
LEAST_WIDTH, MOST_WIDTH = 200, 2000
RIGHT_Y, LEFT_Y = 26, 78
COUNT_Y = 106
MARGIN, END = 34, 14
RADIUS = 6.0
DIGIT = 0.6  # Width of a figure as a share of the type size, generous for every face.
SIZES = (13, 11, 9)
LEAST_GAP = 5.0  # between any two strokes, of one hand or of two
LEAST_ROOM = 15.0  # between two strokes of one hand
BEFORE = 9.0  # what of the music is shown before the first stroke of a further line
MUSIC_GAP = 4.0


@dataclass(frozen=True)
class Strip:
    """Engraved music of the span on one long line. `ink` is what stands inside its <svg>, `box` (left, top, width,
    height) its extent in its own units, `scale` turns those into the chart's. `knots` are (part, x) in its own units,
    rising from part 0 to the end of the grid."""

    ink: str
    box: tuple[float, float, float, float]
    scale: float
    knots: tuple[tuple[int, float], ...]

    @property
    def height(self) -> float:
        return self.box[3] * self.scale

    @property
    def lead(self) -> float:
        """What stands before the first note: brace, clef, key."""
        return (self.knots[0][1] - self.box[0]) * self.scale

    def along(self, part: int) -> float:
        """How far a part stands from the first one, in the chart's units."""
        after = min(max(1, bisect_right(self.knots, (part, float("inf")))), len(self.knots) - 1)
        (left, x), (right, far) = self.knots[after - 1], self.knots[after]
        return (x + (far - x) * (part - left) / (right - left) - self.knots[0][1]) * self.scale


@dataclass(frozen=True)
class Chart:
    """A drawing and its size, in user units."""

    svg: str
    width: float
    height: float


@dataclass(frozen=True)
class _Line:
    """Parts `first` to before `last`; `places[part - first]` is where a part stands."""

    first: int
    last: int
    top: float
    places: tuple[float, ...]

    def x(self, part: int) -> float:
        return self.places[part - self.first]

    def holds(self, part: int) -> bool:
        return self.first <= part < self.last

    def of(self, parts: Iterable[int]) -> list[int]:
        return [part for part in parts if self.holds(part)]


def chart(
    crossing: Crossing | Grid,
    width: int = 360,
    *,
    labels: tuple[str, str] = ("R", "L"),
    title: str = "",
) -> str:
    """`drawn` without music, as SVG text alone."""
    return drawn(crossing, width, labels=labels, title=title).svg


def drawn(
    crossing: Crossing | Grid,
    width: int = 360,
    *,
    labels: tuple[str, str] = ("R", "L"),
    title: str = "",
    strip: Strip | None = None,
) -> Chart:
    """The drawing, `width` (200 to 2000) user units wide; `labels` name the right and the left hand, `title` is read
    aloud in place of the picture. Raises `ValueError` for a width outside that range."""
    if not LEAST_WIDTH <= width <= MOST_WIDTH:
        raise ValueError(f"a chart is {LEAST_WIDTH} to {MOST_WIDTH} wide")
    grid = crossing.grid if isinstance(crossing, Crossing) else crossing
    above = strip.height + MUSIC_GAP if strip else 0.0
    lines = _lines_of(grid, width, strip)
    height = len(lines) * (above + _depth(lines))
    body = [part for line in lines for part in _drawn_line(grid, line, labels, strip)]
    return Chart(
        f'<svg xmlns="http://www.w3.org/2000/svg" class="crossrhythm" width="{width}" height="{height:.1f}"'
        f' viewBox="0 0 {width} {height:.1f}" role="img" data-parts="{grid.parts}"'
        f" aria-label={quoteattr(title or described(grid))}>" + "".join(body) + "</svg>",
        width,
        round(height, 1),
    )


def described(grid: Grid) -> str:
    """The chart in letters and numbers alone: "R 1 3 5 / L 1 4 / 6"."""
    right = " ".join(str(part + 1) for part in grid.upper)
    left = " ".join(str(part + 1) for part in grid.lower)
    return f"R {right} / L {left} / {grid.parts}"


def least_length(grid: Grid) -> float:
    """How long the grid has to be for its strokes to stand apart."""
    gap = min((after - at for at, after in pairwise((*grid.struck, grid.parts))), default=grid.parts)
    room = min((after - at for hand in (grid.upper, grid.lower) for at, after in pairwise(hand)), default=grid.parts)
    return grid.parts * max(LEAST_GAP / gap, LEAST_ROOM / room)


# Lines


def _lines_of(grid: Grid, width: int, strip: Strip | None) -> list[_Line]:
    step = max(width - MARGIN - END, least_length(grid)) / grid.parts
    along = [strip.along(part) if strip else part * step for part in range(grid.parts + 1)]
    above = strip.height + MUSIC_GAP if strip else 0.0
    lines: list[_Line] = []
    first = 0
    while first < grid.parts:
        left = max(MARGIN, strip.lead) if strip and not lines else MARGIN
        last = _break(grid, along, first, width - left - END)
        places = tuple(left + along[part] - along[first] for part in range(first, last + 1))
        lines.append(_Line(first, last, 0, places))
        first = last
    deep = above + _depth(lines)
    return [replace(line, top=above + number * deep) for number, line in enumerate(lines)]


def _depth(lines: Iterable[_Line]) -> int:
    """Of each line: less where one row of numbers is enough."""
    return HEIGHT - 16 if all(_counts_all(line) for line in lines) else HEIGHT


def _break(grid: Grid, along: Sequence[float], first: int, room: float) -> int:
    """Where the line that begins with `first` ends: at the end of the grid, else before a stroke that follows none too
    closely, so that strokes that nearly meet stay together."""
    if along[-1] - along[first] <= room + 0.5:
        return grid.parts
    fitting = [part for part in grid.struck if part > first and along[part] - along[first] <= room]
    before = dict(zip(grid.struck[1:], grid.struck, strict=False))
    apart = [part for part in fitting if along[part] - along[before[part]] >= 2 * LEAST_GAP]
    late = [part for part in apart if along[part] - along[first] >= room / 2]
    if late or apart or fitting:
        return max(late or apart or fitting)
    return max(first + 1, bisect_right(along, along[first] + room) - 1)


def _drawn_line(grid: Grid, line: _Line, labels: tuple[str, str], strip: Strip | None) -> Iterable[str]:
    radius = _radius(grid, line)
    ends = sorted({line.first, line.last, *line.of(grid.struck)})
    knots = " ".join(f"{part} {line.x(part):.1f}" for part in ends)
    if strip:
        yield _music(strip, line, is_last=line.last == grid.parts)
    yield f'<g class="chart-line" transform="translate(0 {line.top:.1f})" data-knots="{knots}">'
    yield from _lines(line)
    yield from _meetings(grid, line)
    yield from _near(grid, line, radius)
    yield from _strokes(grid, line, radius)
    yield from _labels(labels)
    yield from _counts(grid, line)
    yield "</g>"


def _music(strip: Strip, line: _Line, *, is_last: bool) -> str:
    """A window on the music above this line."""
    left, top, width, height = strip.box
    begin, end = left, left + width
    x = line.x(line.first) - strip.lead
    if line.first:
        begin = strip.knots[0][1] + (strip.along(line.first) - BEFORE) / strip.scale
        x = line.x(line.first) - BEFORE
    if not is_last:
        end = strip.knots[0][1] + (strip.along(line.last) - BEFORE) / strip.scale
    wide = end - begin
    return (
        f'<svg class="strip" x="{x:.1f}" y="{line.top - strip.height - MUSIC_GAP:.1f}" width="{wide * strip.scale:.1f}"'
        f' height="{strip.height:.1f}" viewBox="{begin:.0f} {top:.0f} {wide:.0f} {height:.0f}">{strip.ink}</svg>'
    )


# What stands in a line


def _radius(grid: Grid, line: _Line) -> float:
    """Small enough that two strokes of one hand never touch."""
    room = min(
        (line.x(after) - line.x(at) for hand in (grid.upper, grid.lower) for at, after in pairwise(line.of(hand))),
        default=RADIUS / 0.4,
    )
    return max(1.5, min(RADIUS, room * 0.4))


def _lines(line: _Line) -> Iterable[str]:
    """Both hands' lines, and a tick for every part where there is room to tell them apart."""
    for y in (RIGHT_Y, LEFT_Y):
        yield _stroke("hand-line", line.places[0], y, line.places[-1], y, 0.8)
    if (line.places[-1] - line.places[0]) / (line.last - line.first) >= 4:
        for x in line.places:
            yield _stroke("part", x, LEFT_Y + 11, x, LEFT_Y + 16, 0.6)


def _meetings(grid: Grid, line: _Line) -> Iterable[str]:
    for part in line.of(grid.together):
        yield _stroke("together", line.x(part), RIGHT_Y, line.x(part), LEFT_Y, 3.2)


def _near(grid: Grid, line: _Line, radius: float) -> Iterable[str]:
    for miss in grid.near:
        if not (line.holds(miss.upper_at) and line.holds(miss.lower_at)):
            continue
        above, below = line.x(miss.upper_at), line.x(miss.lower_at)
        yield _stroke("near-line", above, RIGHT_Y, below, LEFT_Y, 0.8)
        x, y, half = (above + below) / 2, (RIGHT_Y + LEFT_Y) / 2, max(3.0, radius * 0.8)
        points = f"{x:.2f},{y - half:.2f} {x + half:.2f},{y:.2f} {x:.2f},{y + half:.2f} {x - half:.2f},{y:.2f}"
        yield f'<polygon class="near" points="{points}" fill="white" stroke="black" stroke-width="1.2"/>'


def _strokes(grid: Grid, line: _Line, radius: float) -> Iterable[str]:
    for part in line.of(grid.upper):
        yield (
            f'<circle class="right" data-part="{part}" cx="{line.x(part):.2f}" cy="{RIGHT_Y}" r="{radius:.2f}"'
            ' fill="black"/>'
        )
    for part in line.of(grid.lower):
        side = 2 * radius - 1
        yield (
            f'<rect class="left" data-part="{part}" x="{line.x(part) - side / 2:.2f}" y="{LEFT_Y - side / 2:.2f}"'
            f' width="{side:.2f}" height="{side:.2f}" fill="white" stroke="black" stroke-width="1.6"/>'
        )


def _labels(labels: tuple[str, str]) -> Iterable[str]:
    for label, y in zip(labels, (RIGHT_Y, LEFT_Y), strict=True):
        yield f'<text class="hand" x="2" y="{y + 4}" font-size="12" fill="black">{escape(label)}</text>'


def _counts_all(line: _Line) -> bool:
    return any(_fits(range(line.first, line.last), line, size) for size in SIZES)


def _counts(grid: Grid, line: _Line) -> Iterable[str]:
    """Every number where all fit on one line, the struck ones heavy. Else only struck numbers, the right hand's on the
    upper line and the left hand's on the lower, as many as stand apart."""
    every = range(line.first, line.last)
    size = next((size for size in SIZES if _fits(every, line, size)), None)
    if size is not None:
        struck = set(grid.struck)
        for part in every:
            yield _number(part, line, COUNT_Y, size, heavy=part in struck)
        return
    for hand, y in ((line.of(grid.upper), COUNT_Y), (line.of(grid.lower), COUNT_Y + 16)):
        size = next((size for size in SIZES if _fits(hand, line, size)), SIZES[-1])
        for part in _apart(hand, line, size):
            yield _number(part, line, y, size, heavy=part in grid.together)


def _width(part: int, size: int) -> float:
    return len(str(part + 1)) * size * DIGIT + 2


def _fits(parts: Iterable[int], line: _Line, size: int) -> bool:
    parts = list(parts)
    return len(_apart(parts, line, size)) == len(parts)


def _apart(parts: Iterable[int], line: _Line, size: int) -> list[int]:
    kept: list[int] = []
    edge = 0.0
    for part in parts:
        half = _width(part, size) / 2
        if line.x(part) - half >= edge:
            kept.append(part)
            edge = line.x(part) + half
    return kept


def _number(part: int, line: _Line, y: int, size: int, *, heavy: bool) -> str:
    weight = ' font-weight="bold"' if heavy else ""
    name = "counted struck" if heavy else "counted"
    return (
        f'<text class="{name}" data-part="{part}" x="{line.x(part):.2f}" y="{y}" font-size="{size}"'
        f' text-anchor="middle" fill="black"{weight}>{part + 1}</text>'
    )


def _stroke(name: str, x1: float, y1: float, x2: float, y2: float, width: float) -> str:
    return (
        f'<line class="{name}" x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" stroke="black"'
        f' stroke-width="{width}"/>'
    )
