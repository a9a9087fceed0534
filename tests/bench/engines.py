"""The engines that compute on notation alone."""

from __future__ import annotations

import tracemalloc
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
from scores.music.notation import Note
from scores.music.ornaments import realise
from scores.reading_files.reading import read
from tests.bench import bare
from tests.bench.fingering_speed import BEST, MOST_UNEVEN, chords, ever_new, melody, numbered
from tests.bench.material import polonaise
from tests.bench.measure import Row, lib, medians, milliseconds

RUNS = 5
PEER = f"{lib('music21')} parse of the same piece"
SHORT, LONG = 50, 5000
MOST_MEMORY = 1.3  # linear, but for the room that tables keep to grow in


def rows() -> Iterator[Row]:
    path = polonaise(3)
    score = read(path.name, path.read_bytes()).score
    parse, ornaments = medians(partial(bare.parse, path), partial(realise, score), times=RUNS)
    yield Row("all ornaments of Polonaise 3", ornaments, PEER, parse, 1 / 10)
    yield max((whole_hand_row(number) for number in (1, 2, 3, 4)), key=lambda row: row.ratio)
    for name, notes in (("melody", melody(100)), ("chords", chords(100))):
        yield from against_scipy(name, notes)
    yield against_networkx(lay_out(House(read_passage(chords(100), "right"), hand("right"))))
    yield from growth_rows()
    [grid] = medians(whole_grid, times=100)
    yield Row("a grid of 13 against 11", grid, "limit", 1, 1)


def whole_hand_row(number: int) -> Row:
    """The best fingering of the whole right hand of a piece, from its notes on."""
    path = polonaise(number)
    score = read(path.name, path.read_bytes()).score
    right = score.in_measures(0, len(score.measures) - 1, "right")
    parse, fingering = medians(partial(bare.parse, path), partial(fingerings, right, 1), times=RUNS)
    name = f"best fingering, whole right hand: worst of four Polonaises, no. {number}"
    return Row(name, fingering, PEER, parse, 1 / 2)


def fingerings(notes: tuple[Note, ...], count: int) -> object:
    return best_shapes(House(read_passage(notes, "right"), hand("right")), count)


def whole_grid() -> object:
    """A grid with all that is shown of it."""
    grid = of_ratio(13, 11).grid
    return grid.gaps, grid.order, grid.nearest, grid.skeletons, grid.counts


def ten_best(graph: Graph) -> object:
    return list(islice(paths(graph), BEST))


def against_scipy(name: str, notes: tuple[Note, ...]) -> Iterator[Row]:
    """The search alone, and with laying out the graph, which the peer is given."""
    graph = lay_out(House(read_passage(notes, "right"), hand("right")))
    sources, targets, costs = zip(*numbered(graph), strict=True)
    size = max(*sources, *targets) + 1
    matrix = csr_matrix(([float(cost) for cost in costs], (sources, targets)), shape=(size, size))
    whole = partial(fingerings, notes, BEST)
    ours, laid, theirs = medians(partial(ten_best, graph), whole, partial(yen, matrix, 0, 1, BEST), times=RUNS)
    peer = f"{lib('scipy')} csgraph.yen, same graph"
    yield Row(f"ten best of 100 moments, {name}", ours, peer, theirs, 1)
    yield Row(f"the same with laying out the graph, {name}", laid, peer, theirs, 1)


def growth_rows() -> Iterator[Row]:
    """The same music, none of which comes again, in parts of 50 moments and as a whole."""
    whole = ever_new(LONG)
    parts = [whole[start : start + SHORT] for start in range(0, LONG, SHORT)]
    long, short = medians(lambda: ten_best_of(whole), lambda: [ten_best_of(part) for part in parts], times=3)
    name = f"ten best, a moment of {LONG}"
    yield Row(name, 1000 * long / LONG, f"a moment of {SHORT}", 1000 * short / LONG, MOST_UNEVEN, unit="µs")
    kilobytes = [memory_of(part) / len(part) / 1024 for part in (whole, parts[0])]
    yield Row(f"{name}: memory at most", kilobytes[0], f"a moment of {SHORT}", kilobytes[1], MOST_MEMORY, unit="kB")


def ten_best_of(moments: list[tuple[Note, ...]]) -> object:
    return fingerings(tuple(note for moment in moments for note in moment), BEST)


def memory_of(moments: list[tuple[Note, ...]]) -> int:
    """Bytes at most while the ten best are sought."""
    tracemalloc.start()
    ten_best_of(moments)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak


def against_networkx(graph: Graph) -> Row:
    """One run of networkx, which takes seconds."""
    network = networkx.DiGraph()
    network.add_weighted_edges_from(numbered(graph))
    [ours] = medians(partial(ten_best, graph), times=RUNS)
    theirs = milliseconds(lambda: list(islice(networkx.shortest_simple_paths(network, 0, 1, "weight"), BEST)))
    peer = f"{lib('networkx')} shortest simple paths, same graph"
    return Row("ten best of 100 moments, chords", ours, peer, theirs, 1 / 30)
