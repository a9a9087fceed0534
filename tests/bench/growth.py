"""What is linear stays so: the cost of a note in a piece ten times as long."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from lxml import etree

from scores.engraving.plates import engrave
from scores.music.ornaments import realise
from scores.reading_files import ReadEdition
from scores.reading_files.reading import read
from scores.reading_files.stored import from_json, to_json
from scores.reading_files.walking import score_of
from tests.bench.material import longer
from tests.bench.measure import Row, Work, medians

TIMES = 10
MOST_UNEVEN = 1.3  # cost of a note in the long piece against the short one
PASSAGE_AT_MOST = 5.0  # the file is read as a whole for each engraving; half of what that alone would allow
RUNS = 5

Job = Callable[[ReadEdition, bytes], object]
JOBS: dict[str, Job] = {
    "reading the file": lambda edition, sent: read("piece.musicxml", sent),
    "score_of": lambda edition, sent: score_of(edition.music),
    "storing (to_json)": lambda edition, sent: to_json(edition.score),
    "loading (from_json)": lambda edition, sent: from_json(STORED[len(edition.score.notes)]),
    "ornaments (realise)": lambda edition, sent: realise(edition.score),
}
STORED: dict[int, str] = {}


def rows() -> Iterator[Row]:
    sent = [longer(3, times) for times in (1, TIMES)]
    editions = [read("piece.musicxml", data) for data in sent]
    counts = [len(edition.score.notes) for edition in editions]
    STORED.update({count: to_json(edition.score) for count, edition in zip(counts, editions, strict=True)})
    for name, job in JOBS.items():
        # The short piece is done as often as the long one is longer, so that both runs take about as long.
        many = partial(repeated, partial(job, editions[0], sent[0]))
        short, long = medians(many, partial(job, editions[1], sent[1]), times=RUNS)
        each = 1000 * short / (TIMES * counts[0]), 1000 * long / counts[1]
        peer = f"a note of {counts[0]}"
        yield Row(f"{name}, a note of {counts[1]}", each[1], peer, each[0], MOST_UNEVEN, unit="µs")
    yield passage_row(editions)


def repeated(work: Work) -> None:
    for _ in range(TIMES):
        work()


def passage_row(editions: list[ReadEdition]) -> Row:
    asks = [partial(engrave, edition.music, first=8, last=11, staff=38) for edition in editions]
    short, long = medians(*asks, times=RUNS)
    trees = medians(*(partial(etree.fromstring, edition.music) for edition in editions), times=RUNS)
    note = f"of these, lxml's own reading of the file takes {trees[0]:.0f} and {trees[1]:.0f} ms"
    name = f"a passage of a piece {TIMES}x as long"
    return Row(name, long, "the same passage of the piece itself", short, PASSAGE_AT_MOST, note=note)
