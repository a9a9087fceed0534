"""How fast the least costly fingerings come: `python -m tests.bench.fingering_speed`.

The same graph is given to networkx (k shortest simple paths) and to scipy (compiled Yen). Prints ratios of one run.
"""

from __future__ import annotations

import random
import time
import tracemalloc
from collections.abc import Callable
from fractions import Fraction
from functools import partial
from itertools import islice

import networkx
import numpy
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import yen

from scores.music.fingering.hand import hand
from scores.music.fingering.house import House
from scores.music.fingering.passage import read_passage
from scores.music.fingering.search import Graph, best_shapes, different, lay_out, paths
from scores.music.notation import Note
from tests.scores.music.fingering import make

BEST = 10
LEAST_FASTER_THAN_NETWORKX = 30
MOST_UNEVEN = 1.2


def melody(count: int) -> tuple[Note, ...]:
    """Scales, turns and leaps within three octaves."""
    dice, key, way, keys = random.Random(11), 67, 1, []
    for _ in range(count):
        keys.append(key)
        way = way if dice.random() < 0.8 and 52 < key < 88 else (1 if key < 70 else -1)
        key += way * dice.choice([1, 2, 2, 2, 3, 4, 7])
    return make.keys(keys, each=Fraction(1, 4))


def chords(count: int) -> tuple[Note, ...]:
    """Two to four notes at once."""
    dice, names = random.Random(12), []
    for _ in range(count):
        base = dice.randint(55, 70)
        spread = dice.choice([(0, 4), (0, 4, 7), (0, 3, 7), (0, 5, 9), (0, 4, 7, 12), (0, 3, 8, 12)])
        names.append([base + up for up in spread])
    return tuple(
        make.note(f"n{place}-{key}", key, Fraction(place), 1) for place, keys in enumerate(names) for key in keys
    )


def ever_new(count: int) -> list[tuple[Note, ...]]:
    """Moments of one to four notes of which no two in turn come again, so that nothing found once serves twice."""
    dice, seen, found = random.Random(13), set[tuple[int, ...]](), list[tuple[Note, ...]]()
    last: list[int] = []
    while len(found) < count:
        base = dice.randint(52, 76)
        keys = sorted({base, *(base + dice.randint(1, 12) for _ in range(dice.choice([0, 1, 2, 3, 3])))})
        # As the rules see it: the same an octave higher is the same.
        low = (last or keys)[0]
        turn = (low % 12, len(last), *(key - low for key in (*last, *keys)))
        if turn not in seen:
            seen.add(turn)
            place = len(found)
            found.append(tuple(make.note(f"n{place}-{key}", key, Fraction(place, 2), Fraction(1, 2)) for key in keys))
            last = keys
    return found


def seconds(work: Callable[[], object], times: int = 3) -> float:
    """Processor time, the best of a few runs."""
    best = float("inf")
    for _ in range(times):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def numbered(graph: Graph) -> list[tuple[int, int, int]]:
    """Edges (from, to, cost) with the start as node 0 and the end as node 1. One is added to every cost, since the
    sparse matrix knows no edge of cost zero; every path has the same number of edges, so the order stays."""
    first, edges = [2], []
    for layer in graph.layers:
        first.append(first[-1] + len(layer))
    edges += [(0, 2 + node, cost + 1) for cost, node in graph.starts]
    for index, links in enumerate(graph.links):
        for node in range(len(graph.layers[index])):
            edges += [(first[index] + node, first[index + 1] + after, cost + 1) for cost, after in links.of(node)]
    edges += [(first[-2] + node, 1, 1) for node in range(len(graph.layers[-1]))]
    return edges


def against_others(name: str, notes: tuple[Note, ...]) -> None:
    graph = lay_out(House(read_passage(notes, "right"), hand("right")))
    edges = numbered(graph)
    rows, columns, costs = (numpy.array(part) for part in zip(*edges, strict=True))
    size = int(max(columns.max(), rows.max())) + 1
    matrix = csr_matrix((costs.astype(float), (rows, columns)), shape=(size, size))
    network = networkx.DiGraph()
    network.add_weighted_edges_from(edges)
    ours = seconds(lambda: list(islice(paths(graph), BEST)))
    whole = seconds(lambda: best_shapes(House(read_passage(notes, "right"), hand("right")), BEST))
    compiled = seconds(lambda: yen(matrix, 0, 1, BEST), 1)
    simple = seconds(lambda: list(islice(networkx.shortest_simple_paths(network, 0, 1, "weight"), BEST)), 1)
    extra = len(graph.layers) + 1
    theirs = [round(cost) for cost in yen(matrix, 0, 1, BEST)]
    same = [path.cost + extra for path in islice(paths(graph), BEST)] == theirs
    print(
        f"{name}: {len(graph.layers)} moments, {graph.size[1]} edges; search {ours * 1000:.1f} ms, "
        f"with laying out the graph {whole * 1000:.0f} ms; networkx {simple / ours:.0f}x as long "
        f"(at least {LEAST_FASTER_THAN_NETWORKX}), scipy's yen {compiled / ours:.1f}x (at least 1), with laying out "
        f"{compiled / whole:.1f}x; same costs: {same}"
    )


def ever_new_notes(count: int) -> tuple[Note, ...]:
    return tuple(note for moment in ever_new(count) for note in moment)


def ten_best(notes: tuple[Note, ...]) -> object:
    return best_shapes(House(read_passage(notes, "right"), hand("right")), BEST)


def growth() -> None:
    """Time and memory for a moment from 50 to 5,000 moments."""
    each, room = {}, {}
    for count in (50, 500, 5000):
        notes = ever_new_notes(count)
        each[count] = seconds(partial(ten_best, notes), 20 if count == 50 else 3) / count
        tracemalloc.start()
        ten_best(notes)
        room[count] = tracemalloc.get_traced_memory()[1] / count
        tracemalloc.stop()
    print("per moment:", ", ".join(f"{count}: {1e6 * took:.0f} µs" for count, took in each.items()))
    print(f"  5,000 against 500 moments: {each[5000] / each[500]:.2f} (at most {MOST_UNEVEN})")
    print("memory at most:", ", ".join(f"{count}: {size / 1024:.1f} kB a moment" for count, size in room.items()))


def main() -> None:
    against_others("melody", melody(100))
    against_others("chords", chords(100))
    growth()
    offered = seconds(lambda: different(House(read_passage(melody(100), "right"), hand("right")), 4))
    print(f"four different options of 100 moments: {offered * 1000:.0f} ms")


if __name__ == "__main__":
    main()
