"""What returns in a piece: beside reading it, and in a piece ten times as long."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from music21 import converter

from scores.music.notation import Score
from scores.music.recurrences import again, recurrences
from scores.music.returns import Weave
from scores.reading_files.reading import read
from tests.bench.material import longer
from tests.bench.measure import Row, lib, medians

TIMES = 10
ONE_OF = 0.2  # of what music21's parse of the piece takes
MOST_UNEVEN = 1.5  # cost of a measure in the long piece against the short one: sorting costs a little more than linear
MANY = 42  # Polonaises 3 in a row: about two thousand measures
SECONDS = 5.0
RUNS = 5


def found(score: Score) -> object:
    return again(recurrences(score), len(score.measures))


def rows() -> Iterator[Row]:
    scores = {times: read("piece.musicxml", longer(3, times)).score for times in (1, TIMES)}
    parse = partial(converter.parse, longer(3, 1), format="musicxml")
    ours, theirs = medians(partial(found, scores[1]), parse, times=RUNS)
    peer = f"{lib('music21')} parse of the same piece"
    yield Row("what returns in Polonaise 3", ours, peer, theirs, ONE_OF)
    yield growth_row(scores)
    yield long_row()
    yield asked_row(scores[TIMES])


def growth_row(scores: dict[int, Score]) -> Row:
    counts = {times: len(score.measures) for times, score in scores.items()}

    def many() -> None:
        for _ in range(TIMES):
            found(scores[1])

    short, long = medians(many, partial(found, scores[TIMES]), times=RUNS)
    each = 1000 * short / (TIMES * counts[1]), 1000 * long / counts[TIMES]
    name = f"what returns, a measure of {counts[TIMES]}"
    return Row(name, each[1], f"a measure of {counts[1]}", each[0], MOST_UNEVEN, unit="µs")


def long_row() -> Row:
    score = read("piece.musicxml", longer(3, MANY)).score
    (took,) = medians(partial(found, score), times=1)
    name = f"what returns in {len(score.measures)} measures of {len(score.notes)} notes"
    return Row(name, took / 1000, "limit", SECONDS, 1, unit="s")


def asked_row(score: Score) -> Row:
    """Where a stretch of three measures comes again, in a piece that is ready: what a desk asks for each of its notes
    once."""
    weave = Weave(score)
    inside = [note for note in score.in_measures(4, 6) if note.side == "right"]
    ends = inside[0].id, inside[-1].id
    weave.returns(*ends, "right")

    def asked() -> None:
        weave.known.clear()
        weave.returns(*ends, "right")

    (took,) = medians(asked, times=RUNS)
    return Row(f"where three measures come again, of {len(score.measures)}", took, "limit", 20.0, 1)
