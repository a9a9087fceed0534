"""Two editions set side by side: against reading one of them, and ten times as many measures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from music21 import converter

from scores.music.notation import Score
from scores.music.readings import compare
from scores.reading_files.reading import read
from tests.bench.material import longer
from tests.bench.measure import Row, lib, medians

TIMES = 10
SHARE = 0.5  # of the time that music21 takes to parse one of the two
MOST_UNEVEN = 2.0  # cost of a measure in the long piece, which says the same ten times, against the short one


def rows() -> Iterator[Row]:
    short, long = (pair(times) for times in (1, TIMES))
    sent = longer(3, 1)
    parsed = medians(lambda: converter.parseData(sent.decode(), format="musicxml"), times=3)[0]
    few, many = medians(lambda: compare(*short), lambda: compare(*long))
    yield Row("two editions of Polonaise 3 compared", few, f"{lib('music21')} parse of one", parsed, SHARE)
    counts = len(short[0].measures), len(long[0].measures)
    each = 1000 * many / counts[1], 1000 * few / counts[0]
    yield Row(
        f"a measure of {counts[1]} compared", each[0], f"a measure of {counts[0]}", each[1], MOST_UNEVEN, unit="µs"
    )


def pair(times: int) -> tuple[Score, Score]:
    """A piece, and an edition of it with a note in forty an octave higher."""
    score = read("piece.musicxml", longer(3, times)).score
    notes = tuple(
        replace(note, pitch=replace(note.pitch, octave=note.pitch.octave + 1)) if place % 40 == 7 else note
        for place, note in enumerate(score.notes)
    )
    return score, replace(score, notes=notes)
