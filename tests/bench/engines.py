"""The engines that compute on notation alone."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import islice

import networkx

from scores.music.crossrhythm import of_ratio
from scores.music.fingering.hand import hand
from scores.music.fingering.house import House
from scores.music.fingering.passage import read_passage
from scores.music.fingering.search import best_shapes, lay_out, paths
from scores.music.ornaments import realise
from scores.reading_files import read
from tests.bench import bare
from tests.bench.fingering_speed import BEST, chords, melody, numbered
from tests.bench.material import polonaise
from tests.bench.measure import Row, lib, medians

RUNS = 5


def rows() -> Iterator[Row]:
    path = polonaise(3)
    score = read(path.name, path.read_bytes()).score
    right = score.in_measures(0, len(score.measures) - 1, "right")
    fingers = partial(whole_hand, right)
    parse, ornaments, fingering = medians(partial(bare.parse, path), partial(realise, score), fingers, times=RUNS)
    music21 = f"{lib('music21')} parse of the same piece"
    yield Row("all ornaments of Polonaise 3", ornaments, music21, parse, 1 / 10)
    yield Row("best fingering, its whole right hand", fingering, music21, parse, 1 / 2)
    for name, notes in (("melody", melody(100)), ("chords", chords(100))):
        yield search_row(name, notes)
    [grid] = medians(partial(of_ratio, 13, 11), times=100)
    yield Row("a grid of 13 against 11", grid, "limit", 1, 1)


def whole_hand(notes) -> object:
    return best_shapes(House(read_passage(notes, "right"), hand("right")), 1)


def search_row(name: str, notes) -> Row:
    graph = lay_out(House(read_passage(notes, "right"), hand("right")))
    network = networkx.DiGraph()
    network.add_weighted_edges_from(numbered(graph))
    [ours] = medians(lambda: list(islice(paths(graph), BEST)), times=RUNS)
    [theirs] = medians(lambda: list(islice(networkx.shortest_simple_paths(network, 0, 1, "weight"), BEST)), times=1)
    peer = f"{lib('networkx')} shortest simple paths, same graph"
    return Row(f"ten best of 100 moments, {name}", ours, peer, theirs, 1 / 30)
