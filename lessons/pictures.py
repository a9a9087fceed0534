"""Pictures of practice as SVG text, the same for page and paper.

Pure: data in, SVG out. What differs is told by shape, dash or a word, never by colour. Words come in translated; every
picture is `width` user units wide, which are pixels on a page, and has the height that it needs. All raise `ValueError`
for a width outside 200 to 2000.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from lessons.pen import (
    RIGHT,
    SIGNS,
    SMALL,
    TYPE,
    Cell,
    Days,
    Drawing,
    Sign,
    Time,
    box,
    checked_width,
    diamond,
    finished,
    glass,
    polygon,
    polyline,
    rect,
    ring,
    shortened,
    stroke,
    under,
    wedge,
    width_of,
    words_at,
)

LEFT = 38.0  # room for figures beside
HEAD = 18.0  # room above
WIDE_FROM = 500  # from this width on names stand beside their line, else above it
NAMES = 250.0  # room for names beside
Kind = Literal["clean", "unclean", "uncounted"]


@dataclass(frozen=True, slots=True)
class Point:
    """The fastest tempo of a day, in quarters a minute, and whether enough of the day's tries were clean."""

    day: date
    tempo: int
    kind: Kind


@dataclass(frozen=True, slots=True)
class Span:
    """A piece of a repertoire from its first day to the last; it `goes_on` while it is played, `is_aside` is dashed."""

    name: str
    first: date
    last: date
    goes_on: bool = False
    is_aside: bool = False
    learned: date | None = None
    performed: date | None = None


# One passage


def tempo_picture(
    points: Sequence[Point],
    *,
    goal: int | None,
    rungs: Sequence[int],
    marks: Sequence[tuple[date, int]],
    lessons: Sequence[date],
    first: date,
    last: date,
    days: Days,
    key: dict[Sign, str],
    width: int,
    title: str,
) -> Drawing:
    """Tempo over the days from `first` to `last`: a sign for each day's fastest, the tempo to reach, the marks of the
    ladder at the left, and the mark to practise at from each day of `marks` on. Its scale is even in ratio."""
    time = Time(first, last, LEFT, checked_width(width, first, last) - RIGHT)
    seen = [*(point.tempo for point in points), *rungs, *(tempo for _, tempo in marks), *([goal] if goal else [])]
    low, high = (min(seen) * 0.97, max(seen) * 1.03) if seen else (40.0, 208.0)
    top, bottom = HEAD, HEAD + 170

    def y(tempo: float) -> float:
        return bottom - (bottom - top) * math.log(tempo / low) / math.log(high / low)

    body = [*_rungs([(rung, y(rung)) for rung in sorted(set(rungs))], time, bottom, goal)]
    if goal:
        body.append(stroke(time.left, y(goal), time.right, y(goal), 2.2, dashes="9 4"))
    body += _stairs([(day, y(tempo)) for day, tempo in marks], time)
    body += [wedge(time.x(day), bottom) for day in lessons if time.holds(day)]
    body += [SIGNS[point.kind](time.x(point.day), y(point.tempo)) for point in points if time.holds(point.day)]
    body += under(time, bottom, days)
    return finished(body, bottom + 22, key, width, title)


def _rungs(rungs: Sequence[tuple[int, float]], time: Time, bottom: float, goal: int | None) -> Iterable[str]:
    """A tick for each mark, the slowest first, and its number where there is room."""
    edge = bottom + TYPE
    for rung, y in rungs:
        yield stroke(time.left - 5, y, time.left, y, 0.8)
        if edge - y >= TYPE:
            yield words_at(time.left - 8, y + 4, str(rung), anchor="end", size=SMALL, bold=rung == goal)
            edge = y


def _stairs(marks: Sequence[tuple[date, float]], time: Time) -> Iterable[str]:
    """The mark to practise at, as stairs; what was before the first day shown begins at the left edge."""
    corners: list[tuple[float, float]] = []
    ordered = sorted(marks, key=lambda mark: mark[0])
    before = [mark for mark in ordered if mark[0] <= time.first][-1:]
    for day, height in before + [mark for mark in ordered if time.first < mark[0] <= time.last]:
        x = max(time.left, time.begin(day))
        if corners:
            corners.append((x, corners[-1][1]))
        corners.append((x, height))
    if corners:
        corners.append((time.right, corners[-1][1]))
        yield polyline(corners, 1.2, dashes="2 3")


def share_picture(
    weeks: Sequence[tuple[date, int, int]],
    *,
    first: date,
    last: date,
    days: Days,
    key: dict[Sign, str],
    width: int,
    title: str,
) -> Drawing:
    """Clean runs out of tries, week by week: (Monday, clean runs, tries). A box is all tries, what is filled from below
    the clean ones."""
    time = Time(first, last, LEFT, checked_width(width, first, last) - RIGHT)
    top, bottom = HEAD + 4, HEAD + 84
    body = [
        words_at(LEFT - 6, top + 4, "100 %", anchor="end", size=10),
        words_at(LEFT - 8, bottom, "0", anchor="end", size=SMALL),
    ]
    are_told = all(width_of(f"{clean}/{tries}", 10) <= 7 * time.day - 1 for _, clean, tries in weeks)
    for monday, clean, tries in weeks:
        begin = time.begin(max(first, monday)) + 1
        wide = min(28.0, time.begin(min(last, monday + timedelta(days=6))) + time.day - begin - 1)
        if tries and wide > 0:
            body += glass(begin, top, wide, bottom - top, clean / tries)
            if are_told:
                body.append(words_at(begin + wide / 2, top - 5, f"{clean}/{tries}", anchor="middle", size=10))
    body += under(time, bottom, days)
    return finished(body, bottom + 22, key, width, title)


def minutes_picture(
    minutes: Sequence[tuple[date, int]], *, days: Days, width: int, title: str, long_day: int | None = None
) -> Drawing:
    """Minutes of each day, one bar a day; thin lines part the weeks. `long_day`: minutes above which a day is long,
    shown as a dashed line where one is."""
    first, last = minutes[0][0], minutes[-1][0]
    time = Time(first, last, LEFT, checked_width(width, first, last) - RIGHT)
    most = max((count for _, count in minutes), default=0)
    step = next((step for step in (5, 10, 15, 30, 60, 120, 240) if 4 * step >= most), 600)
    ceiling = max(step, math.ceil(most / step) * step)
    top, bottom = HEAD, HEAD + 90
    unit = (bottom - top) / ceiling
    body = []
    for count in range(0, ceiling + 1, step):
        y = bottom - count * unit
        body.append(words_at(LEFT - 8, y + 4, str(count), anchor="end", size=SMALL))
        body.append(stroke(LEFT - 4, y, LEFT, y, 0.8))
    body += [stroke(time.begin(day), top, time.begin(day), bottom, 0.3) for day, _ in minutes if day.weekday() == 0]
    if long_day and most > long_day:
        body.append(stroke(LEFT, bottom - long_day * unit, time.right, bottom - long_day * unit, 1, dashes="6 3"))
    gap = min(2.0, time.day * 0.2)
    for day, count in minutes:
        if count:
            x, tall = time.begin(day) + gap / 2, count * unit
            body.append(rect(x, bottom - tall, time.day - gap, tall, fill="black", stroke="none"))
    body += under(time, bottom, days)
    return finished(body, bottom + 22, {}, width, title)


# One student


def weeks_picture(
    rows: Sequence[tuple[str, Sequence[Cell | None]]],
    *,
    first: date,
    days: Days,
    key: dict[Sign, str],
    width: int,
    title: str,
) -> Drawing:
    """Passages against weeks from Monday `first` on: a box for a week with practice, filled from below by the share of
    clean tries, crossed where nobody counted; a dot for a week without."""
    count = max((len(cells) for _, cells in rows), default=1)
    last = first + timedelta(days=7 * count - 1)
    beside = width >= WIDE_FROM
    time = Time(first, last, NAMES if beside else 2.0, checked_width(width, first, last) - 2)
    step = 7 * time.day
    side = min(18.0, step - 2)
    row_height = side + (8 if beside else 8 + TYPE + 4)
    body, y = [], 6.0
    for name, cells in rows:
        if beside:
            body.append(words_at(NAMES - 10, y + side / 2 + 4, shortened(name, NAMES - 12), anchor="end"))
        else:
            body.append(words_at(2, y + TYPE - 1, shortened(name, width - 4)))
        line = y if beside else y + TYPE + 4
        for number, cell in enumerate(cells):
            body += box(cell, time.left + number * step + (step - side) / 2, line, side)
        y += row_height
    body += under(time, y + 2, days)
    return finished(body, y + 24, key, width, title)


def timeline_picture(
    spans: Sequence[Span], *, first: date, last: date, days: Days, key: dict[Sign, str], width: int, title: str
) -> Drawing:
    """Pieces as lines over the years: an arrow goes on, dashes were set aside; a diamond where learned, a ring where
    played before an audience."""
    beside = width >= WIDE_FROM
    time = Time(first, last, NAMES if beside else 8.0, checked_width(width, first, last) - 14)
    row_height = 22.0 if beside else 34.0
    body: list[str] = []
    y = 6.0
    depth = y + row_height * len(spans) + 2
    body += [stroke(time.begin(day), 4, time.begin(day), depth, 0.3) for day, _ in days if time.holds(day)]
    for span in spans:
        if beside:
            body.append(words_at(NAMES - 12, y + 13, shortened(span.name, NAMES - 14), anchor="end"))
        else:
            body.append(words_at(8, y + TYPE - 1, shortened(span.name, width - 16)))
        body += _span(span, time, y + (9 if beside else 22))
        y += row_height
    body += under(time, depth, days)
    return finished(body, depth + 22, key, width, title)


def _span(span: Span, time: Time, y: float) -> Iterable[str]:
    left, right = time.x(max(span.first, time.first)), time.x(min(span.last, time.last))
    right = max(right, left + 3)
    yield stroke(left, y - 4, left, y + 4, 1.2)
    yield stroke(left, y, right, y, 2.4 if span.goes_on else 1.2, dashes="4 4" if span.is_aside else "")
    if span.goes_on:
        yield polygon([(right + 7, y), (right, y - 4), (right, y + 4)])
    else:
        yield stroke(right, y - 4, right, y + 4, 1.2)
    if span.learned and time.holds(span.learned):
        yield diamond(time.x(span.learned), y)
    if span.performed and time.holds(span.performed):
        yield ring(time.x(span.performed), y)


# All students


def strip(weeks: Sequence[int], *, title: str) -> Drawing:
    """Days with practice in each of a few weeks, 0 to 7, the last week at the right: a bar each, as small as a word.
    The dots above stand at seven."""
    wide, tall, step = 14.0 * len(weeks), 24.0, 14.0
    body = [stroke(0, tall - 1, wide, tall - 1, 0.8), stroke(0, 1, wide, 1, 0.4, dashes="1 3")]
    for number, days in enumerate(weeks):
        height = (tall - 3) * min(7, days) / 7
        if days:
            body.append(rect(number * step + 2, tall - 1 - height, step - 4, height, fill="black", stroke="none"))
    return finished(body, tall, {}, int(wide), title)
