"""Where the ink of a system ends above and below, along its width."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import inf

STEP = 20  # user units, a ninth of a staff space
SLICE = 90  # how finely a sloping outline is followed

Point = tuple[float, float]
Box = tuple[float, float, float, float]


class Skyline:
    """Grows as boxes and outlines are added; y grows downwards, so that `top` is a least and `bottom` a greatest.

    The heights along the width are worked out only when somebody asks for a stretch of them.
    """

    def __init__(self) -> None:
        self.extent: Box = (inf, inf, -inf, -inf)
        self.waiting: list[Box] = []
        self.outlines: list[tuple[Sequence[Point], float]] = []
        self.highest: dict[int, float] = {}
        self.lowest: dict[int, float] = {}

    def add(self, left: float, top: float, right: float, bottom: float) -> None:
        self.widen(left, top, right, bottom)
        self.waiting.append((left, top, right, bottom))

    def add_outline(self, points: Sequence[Point], half: float) -> None:
        """A line through the points, `half` thick to each side: a sloping beam is high only at its high end."""
        xs, ys = [point[0] for point in points], [point[1] for point in points]
        self.widen(min(xs) - half, min(ys) - half, max(xs) + half, max(ys) + half)
        self.outlines.append((points, half))

    def widen(self, left: float, top: float, right: float, bottom: float) -> None:
        was = self.extent
        self.extent = (min(was[0], left), min(was[1], top), max(was[2], right), max(was[3], bottom))

    def top(self, left: float, right: float) -> float:
        """The highest ink between two places; 0 where there is none."""
        self.settle()
        places = range(int(left // STEP), int(right // STEP) + 1)
        return min((self.highest[place] for place in places if place in self.highest), default=0.0)

    def bottom(self, left: float, right: float) -> float:
        """The lowest ink between two places; 0 where there is none."""
        self.settle()
        places = range(int(left // STEP), int(right // STEP) + 1)
        return max((self.lowest[place] for place in places if place in self.lowest), default=0.0)

    def settle(self) -> None:
        for points, half in self.outlines:
            for start, end in pairwise(points if len(points) > 1 else [*points, *points]):
                self.waiting += slices(start, end, half)
        for left, top, right, bottom in self.waiting:
            for place in range(int(left // STEP), int(right // STEP) + 1):
                if top < self.highest.get(place, inf):
                    self.highest[place] = top
                if bottom > self.lowest.get(place, -inf):
                    self.lowest[place] = bottom
        self.outlines, self.waiting = [], []


def slices(start: Point, end: Point, half: float) -> list[Box]:
    (x, y), (next_x, next_y) = start, end
    count = max(1, min(40, int(abs(next_x - x) // SLICE))) if y != next_y else 1
    found = []
    for piece in range(count):
        a, b = piece / count, (piece + 1) / count
        xs = sorted((x + a * (next_x - x), x + b * (next_x - x)))
        ys = sorted((y + a * (next_y - y), y + b * (next_y - y)))
        found.append((xs[0] - half, ys[0] - half, xs[1] + half, ys[1] + half))
    return found
