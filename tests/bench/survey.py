"""The survey of a piece against reading it, and a note of it in a piece of a hundred thousand."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from scores.music.notation import Score
from scores.music.survey import survey
from scores.reading_files.reading import read
from scores.reading_files.terms import Limits
from tests.bench import bare
from tests.bench.material import longer, polonaise
from tests.bench.measure import Row, lib, medians

SURVEY_AT_MOST = 1 / 5
MOST_UNEVEN = 1.3  # cost of a note in the long piece against the short one
NOTES = 100_000
RUNS = 7
LARGE = Limits(bytes=200 * 1024 * 1024, measures=10_000)


def rows() -> Iterator[Row]:
    for number in (1, 3):
        score = read("polonaise.mxl", polonaise(number).read_bytes()).score
        ours, peer = medians(partial(afresh, score), partial(bare.parse, polonaise(number)), times=RUNS)
        note = f"{len(score.notes)} notes, {len(survey(score))} findings"
        name = f"survey of Polonaise {number}"
        yield Row(name, ours, f"{lib('music21')} parse of the same piece", peer, SURVEY_AT_MOST, note=note)
    yield growth_row()


def growth_row() -> Row:
    """Polonaise 3 over and over, up to a hundred thousand notes, against ten thousand."""
    once = len(read("polonaise.musicxml", longer(3, 1)).score.notes)
    counts = (NOTES // 10 // once + 1, NOTES // once + 1)
    scores = [read("polonaise.musicxml", longer(3, count), LARGE).score for count in counts]
    short, long = medians(*(partial(afresh, score) for score in scores), times=3)
    each = [1000 * time / len(score.notes) for time, score in zip((short, long), scores, strict=True)]
    name = f"survey, a note of {len(scores[1].notes)}"
    peer = f"a note of {len(scores[0].notes)}"
    return Row(name, each[1], peer, each[0], MOST_UNEVEN, unit="µs", note=f"the whole of it {long / 1000:.1f} s")


def afresh(score: Score) -> None:
    """A survey with nothing remembered of an earlier one."""
    for name in ("by_id", "place_of"):
        score.__dict__.pop(name, None)
    survey(score)
