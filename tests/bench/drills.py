"""Charts of cross-rhythms with their music, and what their scripts add to a page."""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from fractions import Fraction
from functools import partial
from pathlib import Path

from django.contrib.staticfiles import finders
from django.core.cache import cache

from scores.music.crossrhythm import of_ratio
from scores.rhythm_pictures import picture
from tests.bench.measure import Row, medians

RUNS = 7
AT_FIRST = ("scores/drill.js",)
ON_TRYING = ("scores/tryit.js", "scores/timing.js", "scores/tryit_drawing.js")
MOST_AT_FIRST = 25_000  # bytes compressed that everything which sounds may add to a page


def rows() -> Iterator[Row]:
    ask = partial(drawn, 8, 3)
    medians(ask, times=1)
    [first] = medians(ask, times=RUNS, before=cache.clear)
    [again] = medians(ask, times=3 * RUNS)
    yield Row("a chart of 8 against 3 with its music again", again, "the first time, workshop warm", first, 0.1)
    [largest] = medians(partial(drawn, 16, 15), times=RUNS)
    yield Row("a chart of 16 against 15 again, in lines for a phone", largest, "limit", 20, 1)
    yield Row("script of drills, compressed", weight(AT_FIRST), "limit", MOST_AT_FIRST, 1, "B")
    yield Row("scripts that come with the first try, compressed", weight(ON_TRYING), "limit", MOST_AT_FIRST, 1, "B")


def drawn(upper: int, lower: int) -> object:
    return picture(of_ratio(upper, lower, Fraction(lower)), None, 340)


def weight(names: tuple[str, ...]) -> float:
    return float(sum(len(gzip.compress(Path(finders.find(name)).read_bytes(), 9)) for name in names))
