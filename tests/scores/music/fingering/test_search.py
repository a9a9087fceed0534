"""The search against other ways to the same answer: every fingering written out, and networkx on the same graph."""

import random
from fractions import Fraction
from itertools import islice, product

import networkx
import pytest

from scores.music.fingering.cost import total
from scores.music.fingering.hand import hand
from scores.music.fingering.house import House
from scores.music.fingering.passage import read_passage
from scores.music.fingering.published import Published
from scores.music.fingering.search import apart, best_shapes, different, lay_out, paths
from tests.scores.music.fingering import make
from tests.scores.music.fingering.handbook import scales

MODELS = {"house": House, "published": Published}


def random_notes(dice, moments, *, chords=0.0, held=0.0, side="right"):
    """A random passage: steps and leaps, some chords, some notes that last over the next moments."""
    notes, key = [], dice.randint(55, 70)
    for place in range(moments):
        key = min(max(key + dice.choice([-7, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5, 12]), 45), 84)
        keys = {key} | ({key + dice.choice([3, 4, 7, 12])} if dice.random() < chords else set())
        length = dice.choice([2, 3]) if dice.random() < held else 1
        for one in sorted(keys):
            notes.append(make.note(f"n{len(notes)}", one, place, length, side=side, voice=str(len(notes))))
    return tuple(notes)


def written_out(model):
    """What every possible fingering costs, each reckoned from its fingers alone."""
    costs = []
    for chosen in product(*(model.ways(step) for step in model.steps)):
        shapes = [chosen[0]]
        for step, way in zip(model.steps[1:], chosen[1:], strict=True):
            shapes.append(model.carried(step, shapes[-1], way))
        costs.append(sum(total(step) for step in model.account(shapes)))
    return sorted(costs)


def network(graph):
    found = networkx.DiGraph()
    for cost, node in graph.starts:
        found.add_edge("start", (0, node), weight=cost)
    for layer, links in enumerate(graph.links):
        for node in range(len(graph.layers[layer])):
            for cost, after in links.of(node):
                found.add_edge((layer, node), (layer + 1, after), weight=cost)
    for node in range(len(graph.layers[-1])):
        found.add_edge((len(graph.layers) - 1, node), "end", weight=0)
    return found


@pytest.mark.parametrize("rules", MODELS)
def test_the_search_equals_every_fingering_written_out_on_random_lines(rules):
    dice = random.Random(1)
    for _ in range(1000):
        notes = random_notes(dice, dice.randint(1, 4), side=dice.choice(["right", "left"]))
        model = MODELS[rules](read_passage(notes, notes[0].side), hand(notes[0].side))
        costs = written_out(model)
        assert [cost for cost, _ in best_shapes(model, 12)] == costs[:12]


@pytest.mark.parametrize("rules", MODELS)
def test_the_search_equals_every_fingering_written_out_with_chords_and_held_notes(rules):
    dice = random.Random(2)
    for _ in range(200):
        notes = random_notes(dice, dice.randint(2, 3), chords=0.5, held=0.4)
        model = MODELS[rules](read_passage(notes, "right"), hand("right", dice.choice(["small", "large"])))
        assert [cost for cost, _ in best_shapes(model, 12)] == written_out(model)[:12]


def test_the_search_equals_every_fingering_written_out_in_a_run_with_its_memory():
    for notes in (make.line("C4 E4 G4 C5 E5"), make.line("Bb3 D4 F4 Bb4 D5"), make.line("C4 F4 Bb4 Eb5 Bb4")):
        model = House(read_passage(notes, "right"), hand("right"))
        assert any(step.in_run for step in model.steps)
        assert [cost for cost, _ in best_shapes(model, 60)] == written_out(model)[:60]


def test_no_fingering_comes_twice():
    notes = make.line("C4 E4+G4 A4 G4")
    found = [shapes for _, shapes in best_shapes(House(read_passage(notes, "right"), hand("right")), 500)]
    assert len(set(found)) == len(found) == 500


@pytest.mark.parametrize("rules", MODELS)
def test_the_shortest_path_of_networkx_costs_the_same(rules):
    dice = random.Random(3)
    for _ in range(25):
        notes = random_notes(dice, dice.randint(5, 14), chords=0.2, held=0.2)
        model = MODELS[rules](read_passage(notes, "right"), hand("right"))
        graph = lay_out(model)
        shortest = networkx.shortest_path_length(network(graph), "start", "end", weight="weight")
        assert shortest == next(paths(graph)).cost == best_shapes(model, 1)[0][0]


def test_the_k_shortest_paths_of_networkx_cost_the_same():
    notes = scales()[1].notes[:8]
    graph = lay_out(House(read_passage(notes, "right"), hand("right")))
    found = network(graph)
    ways = islice(networkx.shortest_simple_paths(found, "start", "end", weight="weight"), 8)
    costs = [networkx.path_weight(found, way, "weight") for way in ways]
    assert costs == [path.cost for path in islice(paths(graph), 8)]


def test_costs_that_come_out_are_what_their_fingers_cost():
    for exercise in scales()[::7]:
        model = House(read_passage(exercise.notes, exercise.side), hand(exercise.side))
        for cost, shapes in best_shapes(model, 5):
            assert cost == sum(total(step) for step in model.account(shapes))
        for cost, shapes in different(model, 4):
            assert cost == sum(total(step) for step in model.account(shapes))


def test_a_turn_of_the_music_that_comes_again_costs_the_same_again():
    up = [60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79, 81, 83, 84]
    arpeggio = [63, 67, 70, 75, 79, 82, 87]
    keys = (up + up[-2:0:-1]) * 3 + arpeggio + arpeggio[::-1] + up + [67, 67, 84, 60] * 3 + up
    model = House(read_passage(make.keys(keys, each=Fraction(1, 4)), "right"), hand("right"), tempo=100)
    for cost, shapes in best_shapes(model, 20):
        assert cost == sum(total(step) for step in model.account(shapes))


def test_different_options_differ_and_begin_with_the_best():
    for exercise in scales()[::5]:
        model = House(read_passage(exercise.notes, exercise.side), hand(exercise.side))
        found = different(model, 4)
        assert len(found) == 4
        assert found[0] == best_shapes(model, 1)[0]
        assert [cost for cost, _ in found] == sorted(cost for cost, _ in found)
        for place, (_, one) in enumerate(found):
            assert all(apart(model, one, other) for _, other in found[:place])


def test_a_long_passage_gets_different_options_too():
    dice = random.Random(4)
    notes = random_notes(dice, 120)
    model = House(read_passage(notes, "right"), hand("right"))
    found = different(model, 3)
    assert len(found) == 3
    assert found[0][0] == best_shapes(model, 1)[0][0]
    for place, (_, one) in enumerate(found):
        assert all(apart(model, one, other) for _, other in found[:place])


def test_the_graph_grows_in_proportion_to_the_passage():
    sizes = {}
    for count in (1, 10):
        notes = make.keys([60, 64, 62, 65, 67, 64, 69, 65] * 5 * count, each=Fraction(1, 4))
        sizes[count] = lay_out(House(read_passage(notes, "right"), hand("right"))).size
    assert sizes[10][1] <= 10.5 * sizes[1][1]


def test_nothing_to_search_gives_nothing():
    model = House(read_passage((), "right"), hand("right"))
    assert best_shapes(model, 3) == different(model, 3) == []
    assert best_shapes(House(read_passage(make.line("C4"), "right"), hand("right")), 0) == []
