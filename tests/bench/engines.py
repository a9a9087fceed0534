"""The engines that compute on notation alone."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import islice

import networkx
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import yen

from scores.music.crossrhythm import of_ratio
from scores.music.fingering.hand import hand
from scores.music.fingering.house import House
from scores.music.fingering.passage import read_passage
from scores.music.fingering.search import Graph, best_shapes, lay_out, paths
from scores.music.ornaments import realise
from scores.reading_files.reading import read
from tests.bench import bare
from tests.bench.fingering_speed import BEST, chords, melody, numbered
from tests.bench.material import polonaise
from tests.bench.measure import Row, lib, medians, milliseconds

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
    yield against_scipy(lay_out(House(read_passage(melody(100), "right"), hand("right"))))
    yield against_networkx(lay_out(House(read_passage(chords(100), "right"), hand("right"))))
    [grid] = medians(whole_grid, times=100)
    yield Row("a grid of 13 against 11", grid, "limit", 1, 1)


def whole_hand(notes) -> object:
    return best_shapes(House(read_passage(notes, "right"), hand("right")), 1)


def whole_grid() -> object:
    """A grid with all that is shown of it."""
    grid = of_ratio(13, 11).grid
    return grid.gaps, grid.order, grid.nearest, grid.skeletons, grid.counts


def ten_best(graph: Graph) -> object:
    return list(islice(paths(graph), BEST))


def against_scipy(graph: Graph) -> Row:
    sources, targets, costs = zip(*numbered(graph), strict=True)
    size = max(*sources, *targets) + 1
    matrix = csr_matrix(([float(cost) for cost in costs], (sources, targets)), shape=(size, size))
    ours, theirs = medians(partial(ten_best, graph), partial(yen, matrix, 0, 1, BEST), times=RUNS)
    peer = f"{lib('scipy')} csgraph.yen, same graph"
    return Row("ten best of 100 moments, melody", ours, peer, theirs, 1)


def against_networkx(graph: Graph) -> Row:
    """One run of networkx, which takes seconds."""
    network = networkx.DiGraph()
    network.add_weighted_edges_from(numbered(graph))
    [ours] = medians(partial(ten_best, graph), times=RUNS)
    theirs = milliseconds(lambda: list(islice(networkx.shortest_simple_paths(network, 0, 1, "weight"), BEST)))
    peer = f"{lib('networkx')} shortest simple paths, same graph"
    return Row("ten best of 100 moments, chords", ours, peer, theirs, 1 / 30)
