"""Where a score is broken into systems.

The engraver breaks well in a wide column. In a narrow one it squeezes a measure that does not fit until its notes
collide, so there the breaks are chosen here, from the width that each measure wants.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from lxml import etree

LONGEST = 40  # measures in one system
MEASURE = re.compile(r'class="measure"')
STAFF_LINE = re.compile(r'<path d="M(-?\d+) (-?\d+) L(-?\d+) \2"')
FIRST_METRE = re.compile(r'class="meterSig">.*?translate\((-?\d+)', re.DOTALL)


@dataclass(frozen=True)
class Widths:
    """In the engraver's inner units: what each measure wants, and what clefs and key take at a later system's head.
    `measures[0]` has the head of the first system in it."""

    measures: tuple[float, ...]
    head: float

    def of(self, first: int, stop: int) -> float:
        return sum(self.measures[first:stop]) + (self.head if first else 0)


def widths_of(svg: str) -> Widths:
    """Reads the widths from a score engraved as a single system."""
    found = []
    begin = 0.0
    for piece in MEASURE.split(svg)[1:]:
        line = STAFF_LINE.search(piece)
        left, right = (float(line[1]), float(line[3])) if line else (0.0, 0.0)
        begin = begin if found else left
        found.append(right - left)
    metre = FIRST_METRE.search(svg)
    return Widths(tuple(found), max(0.0, float(metre[1]) - begin) if metre else 0.0)


def systems_of(widths: Widths, room: float) -> list[tuple[int, int]]:
    """Breaks measures into systems (first, stop) that fill `room` as evenly as they can."""
    count = len(widths.measures)
    best: list[tuple[float, int]] = [(0.0, 0)]
    for stop in range(1, count + 1):
        choices = []
        for first in range(stop - 1, max(-1, stop - 1 - LONGEST), -1):
            wanted = widths.of(first, stop)
            if wanted > room and first < stop - 1:
                break
            slack = max(0.0, 1 - wanted / room)
            choices.append((best[first][0] + slack * slack * (0.6 if stop == count else 1) + 0.05, first))
        best.append(min(choices))
    systems, stop = [], count
    while stop:
        first = best[stop][1]
        systems.append((first, stop))
        stop = first
    return systems[::-1]


def break_before(root: etree._Element, places: Sequence[int]) -> None:
    """Writes the breaks into the score: a new page, since each system is drawn on a page of its own."""
    part = root.find("part")
    measures = [] if part is None else part.findall("measure")
    for place in places:
        measures[place].insert(0, etree.Element("print", {"new-page": "yes"}))
