"""Ornaments written out: what they add to an engraving, and to the desk of a passage."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from scores.engraving import Ossia, engrave
from scores.music.notation import Placement, Score
from scores.music.ornaments import realise
from scores.music.ornaments.written import strips_of
from scores.reading_files.reading import read
from tests.bench import bare
from tests.bench.material import polonaise
from tests.bench.measure import Row, lib, medians

RUNS = 9
LAST = 12  # the first twelve measures have most of the piece's ornaments
MOST_MORE = 2.5  # two lines for each ornament are two staves more under two
PLACEMENTS: tuple[Placement, Placement] = ("before", "on")


def lines_of(score: Score) -> list[Ossia]:
    """Both placements of every ornament, from the score to the note values."""
    found = []
    for placement in PLACEMENTS:
        performance = realise(score, placement=placement)
        keys = [one.key for one in performance.ornaments]
        found += [Ossia(strip, placement, placement) for strip in strips_of(score, performance, keys, 0, LAST)]
    return found


def rows() -> Iterator[Row]:
    path = polonaise(3)
    found = read(path.name, path.read_bytes())
    ossias = lines_of(found.score)
    drawn = partial(engrave, found.music, first=0, last=LAST)
    adorned, plain = medians(partial(drawn, ossias=ossias), drawn, times=RUNS)
    name = f"13 measures with {len(ossias)} ossias"
    yield Row(name, adorned, "the same measures without", plain, MOST_MORE, note="not from the cache")
    parse, written = medians(partial(bare.parse, path), partial(lines_of, found.score), times=RUNS)
    yield Row(
        "both placements of their ornaments as note values", written, f"{lib('music21')} parse of the piece", parse, 1
    )
