"""The least costly ways through a passage, exactly and in order.

The fingerings of a passage are the paths of a layered graph: a layer for each step, a node for each state that the rule
set tells apart, an edge for each way on. One pass forwards lays the graph out, one pass backwards finds what each node
still costs to the end; with that known, paths come out in order of cost, each new one for a handful of heap
operations. Time and memory grow with the number of steps times the edges between two.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import islice, pairwise
from operator import add

from scores.music.fingering.cost import POINT, Model, Shape, State, strike
from scores.music.fingering.house import new_position

# How far `different` looks in order of cost, and in passages of how many moments.
DEEPEST, SHORT = 400, 24
# What each finger already offered costs more, in turn, until something else is better.
DEARER = tuple(round(points * POINT) for points in (0.25, 0.5, 1, 2, 4, 8))

# An option is left out if it costs more than so many times the best and so much on top.
TOO_DEAR, ALWAYS_WORTH = 2, 6 * POINT


@dataclass(frozen=True)
class Links:
    """All ways from one layer to the next: those of node n stand from `first[n]` to `first[n + 1]`, each with its cost
    and the node it leads to. Arrays, because a long piece has millions of them."""

    first: list[int]
    costs: array[int]
    targets: array[int]

    def of(self, node: int) -> Iterator[tuple[int, int]]:
        """(cost, next node) of one node."""
        part = slice(self.first[node], self.first[node + 1])
        return zip(self.costs[part], self.targets[part], strict=True)


@dataclass
class Graph:
    """`layers[i]` are the states of step i; `links[i]` lead from layer i to the next; `starts` are (cost, node) into
    the first layer."""

    layers: list[list[State]]
    links: list[Links]
    starts: list[tuple[int, int]]

    @property
    def size(self) -> tuple[int, int]:
        """Nodes and edges."""
        nodes = sum(len(layer) for layer in self.layers)
        return nodes, len(self.starts) + sum(len(links.costs) for links in self.links)


@dataclass(frozen=True, slots=True)
class Path:
    cost: int
    nodes: tuple[int, ...]


def lay_out(model: Model) -> Graph:
    """The graph of all fingerings of the model's passage. What is laid out once for a turn of the music serves wherever
    that turn comes again."""
    if not model.steps:
        return Graph([], [], [])
    found = model.first()
    layer = [state for state, _ in found]
    graph = Graph([layer], [], [(cost, place) for place, (_, cost) in enumerate(found)])
    known: dict[tuple[object, ...], tuple[Links, list[State]]] = {}
    for index in range(1, len(model.steps)):
        turn = model.turn(index)
        key = None if turn is None else (turn, *layer)
        laid = known.get(key) if key else None
        if laid is None:
            laid = link(model, index, layer)
            if key:
                known[key] = laid
        links, layer = laid
        graph.links.append(links)
        graph.layers.append(layer)
    return graph


def link(model: Model, index: int, layer: list[State]) -> tuple[Links, list[State]]:
    """The ways from the states of the step before `index`, and the states they lead to."""
    places = Places()
    first, costs, targets = [0], list[int](), list[int]()
    for states, each in model.following(index, layer):
        costs += each
        targets += map(places.__getitem__, states)
        first.append(len(costs))
    return Links(first, array("q", costs), array("l", targets)), list(places)


class Places(dict[State, int]):
    """Numbers states as they come."""

    def __missing__(self, state: State) -> int:
        place = self[state] = len(self)
        return place


def totals(links: Links, after: list[int]) -> list[int]:
    """For each way, its cost and what is left after it."""
    return list(map(add, links.costs, map(after.__getitem__, links.targets)))


def to_the_end(graph: Graph) -> list[list[int]]:
    """What each node still costs to the end of the passage, at least."""
    left = [[0] * len(graph.layers[-1])]
    for links in reversed(graph.links):
        sums = totals(links, left[-1])
        left.append([min(sums[start:stop]) for start, stop in pairwise(links.first)])
    left.reverse()
    return left


def paths(graph: Graph) -> Iterator[Path]:
    """All paths, the least costly first; equals in a fixed order. Each node's ways on are kept in order of
    what they cost more than the best one, so that a new path is an old one that turns off at one place."""
    if not graph.layers:
        return
    left = to_the_end(graph)
    starts = sorted((cost + left[0][node], node) for cost, node in graph.starts)
    detours: dict[tuple[int, int], list[tuple[int, int]]] = {}

    def ways_on(layer: int, node: int) -> list[tuple[int, int]]:
        known = detours.get((layer, node))
        if known is None:
            after, best = left[layer + 1], left[layer][node]
            known = sorted((cost + after[target] - best, target) for cost, target in graph.links[layer].of(node))
            detours[layer, node] = known
        return known

    # An entry is a whole path told by where it leaves an earlier one: (cost, order, earlier path, layer, rank).
    order = 0
    heap: list[tuple[int, int, tuple[int, ...], int, int]] = [(starts[0][0], order, (), -1, 0)]
    last = len(graph.layers) - 1
    while heap:
        cost, _, earlier, layer, rank = heappop(heap)
        nodes = list(earlier[: layer + 1])
        options = starts if layer < 0 else ways_on(layer, nodes[-1])
        nodes.append(options[rank][1])
        for at in range(layer + 1, last):
            nodes.append(ways_on(at, nodes[-1])[0][1])
        path = tuple(nodes)
        yield Path(cost, path)
        if rank + 1 < len(options):
            order += 1
            heappush(heap, (cost + options[rank + 1][0] - options[rank][0], order, earlier, layer, rank + 1))
        for at in range(layer + 1, last):
            options = ways_on(at, path[at])
            if len(options) > 1:
                order += 1
                heappush(heap, (cost + options[1][0], order, path, at, 1))


Found = tuple[int, tuple[Shape, ...]]


def shapes_of(model: Model, graph: Graph, nodes: tuple[int, ...]) -> tuple[Shape, ...]:
    return tuple(model.shape_of(layer[node]) for layer, node in zip(graph.layers, nodes, strict=True))


def best_shapes(model: Model, count: int) -> list[Found]:
    """The `count` least costly fingerings with their costs, fewer if there are no more."""
    return list(islice(in_order(model), max(0, count)))


def in_order(model: Model) -> Iterator[Found]:
    """All fingerings with their costs, the least costly first."""
    graph = lay_out(model)
    return ((path.cost, shapes_of(model, graph, path.nodes)) for path in paths(graph))


def different(model: Model, count: int) -> list[Found]:
    """Up to `count` fingerings that a player would call different, the least costly first.

    The first is the best there is; what costs far more than it is not worth offering. Short passages are searched in
    order of cost for the next that is different from all before it; what that does not find, and long passages, by
    making the fingers already offered dearer, step by step, until the best way is another one.
    """
    graph = lay_out(model)
    if not graph.layers or count < 1:
        return []
    asked = DEEPEST if len(graph.layers) <= SHORT else 1
    chosen: list[Found] = []
    for path in islice(paths(graph), asked):
        shapes = shapes_of(model, graph, path.nodes)
        if all(apart(model, shapes, other) for _, other in chosen):
            chosen.append((path.cost, shapes))
        if len(chosen) == count:
            break
    while len(chosen) < count:
        found = another(model, graph, [shapes for _, shapes in chosen])
        if found is None:
            break
        chosen.append(found)
    most = TOO_DEAR * chosen[0][0] + ALWAYS_WORTH
    return sorted((option for option in chosen if option[0] <= most), key=lambda option: option[0])


def apart(model: Model, one: Sequence[Shape], other: Sequence[Shape]) -> bool:
    """Whether two fingerings differ enough to be offered side by side: in a fifth of the notes and two at least, and
    then in where the hand moves or in a third of them; in a passage of three notes and fewer, anywhere."""
    pairs = [
        (strike(here[place]), strike(there[place]))
        for step, here, there in zip(model.steps, one, other, strict=True)
        for place in range(len(step.struck))
        if step.is_struck_here(place)
    ]
    unlike = sum(a != b for a, b in pairs)
    if len(pairs) <= 3:
        return unlike > 0
    if unlike < max(2, len(pairs) / 5):
        return False
    return unlike * 3 >= len(pairs) or positions(model, one) != positions(model, other)


def positions(model: Model, shapes: Sequence[Shape]) -> tuple[int, ...]:
    """The steps at which a line's hand is set down anew."""
    return tuple(
        step.index
        for step in model.steps[1:]
        if new_position(model.steps[step.index - 1], step, shapes[step.index - 1], shapes[step.index])
    )


def another(model: Model, graph: Graph, chosen: Sequence[Sequence[Shape]]) -> Found | None:
    """The best way once the fingers of the chosen ones cost more, by as little as makes it different from all."""
    shared = [
        [
            sum(
                strike(a) == strike(b)
                for other in chosen
                for a, b in zip(model.shape_of(state)[: len(step.struck)], other[step.index], strict=False)
            )
            for state in layer
        ]
        for step, layer in zip(model.steps, graph.layers, strict=True)
    ]
    for dearer in DEARER:
        nodes = best_nodes(graph, [[dearer * count for count in layer] for layer in shared])
        shapes = shapes_of(model, graph, nodes)
        if all(apart(model, shapes, other) for other in chosen):
            return path_cost(graph, nodes), shapes
    return None


def best_nodes(graph: Graph, added: list[list[int]]) -> tuple[int, ...]:
    """The best path when each node costs `added` on top."""
    after = added[-1]
    ways: list[list[int]] = []
    for links, more in zip(reversed(graph.links), reversed(added[:-1]), strict=True):
        sums = totals(links, after)
        best = [min(sums[start:stop]) for start, stop in pairwise(links.first)]
        ways.append([links.targets[sums.index(least, at)] for least, at in zip(best, links.first, strict=False)])
        after = [cost + own for cost, own in zip(best, more, strict=True)]
    nodes = [min((cost + after[node], node) for cost, node in graph.starts)[1]]
    for way in reversed(ways):
        nodes.append(way[nodes[-1]])
    return tuple(nodes)


def path_cost(graph: Graph, nodes: Sequence[int]) -> int:
    cost = next(cost for cost, node in graph.starts if node == nodes[0])
    for links, (here, there) in zip(graph.links, pairwise(nodes), strict=True):
        cost += next(cost for cost, target in links.of(here) if target == there)
    return cost
