"""Where the ink of a system ends above and below, along its width."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from math import inf

STEP = 20  # user units, a ninth of a staff space

Point = tuple[float, float]


class Skyline:
    """Grows as boxes and outlines are added; y grows downwards, so that `top` is a least and `bottom` a greatest."""

    def __init__(self) -> None:
        self.highest: dict[int, float] = {}
        self.lowest: dict[int, float] = {}
        self.left, self.right = inf, -inf

    def add(self, left: float, top: float, right: float, bottom: float) -> None:
        self.left, self.right = min(self.left, left), max(self.right, right)
        for place in range(int(left // STEP), int(right // STEP) + 1):
            self.highest[place] = min(top, self.highest.get(place, inf))
            self.lowest[place] = max(bottom, self.lowest.get(place, -inf))

    def add_outline(self, points: Iterable[Point], half: float) -> None:
        """A line through the points, `half` thick to each side: a sloping beam is high only at its high end."""
        points = list(points)
        if len(points) == 1:
            points *= 2
        for (x, y), (next_x, next_y) in pairwise(points):
            pieces = max(1, min(40, int(abs(next_x - x) // 90))) if y != next_y else 1
            for piece in range(pieces):
                a, b = piece / pieces, (piece + 1) / pieces
                xs = sorted((x + a * (next_x - x), x + b * (next_x - x)))
                ys = sorted((y + a * (next_y - y), y + b * (next_y - y)))
                self.add(xs[0] - half, ys[0] - half, xs[1] + half, ys[1] + half)

    def top(self, left: float = -inf, right: float = inf) -> float:
        """The highest ink between two places; 0 where there is none."""
        return min(self._between(self.highest, left, right), default=0.0)

    def bottom(self, left: float = -inf, right: float = inf) -> float:
        return max(self._between(self.lowest, left, right), default=0.0)

    def _between(self, values: dict[int, float], left: float, right: float) -> list[float]:
        if left == -inf or right == inf:
            return list(values.values())
        places = range(int(left // STEP), int(right // STEP) + 1)
        return [values[place] for place in places if place in values]
