"""The published rules give what the recalled table and rules give when reckoned by hand (facts from memory of
Parncutt, Sloboda, Clarke, Raekallio and Desain 1997; the scores are arithmetic on them)."""

import pytest

from scores.music.fingering.cost import CANNOT
from scores.music.fingering.hand import hand
from scores.music.fingering.options import best, judge
from scores.music.fingering.passage import read_passage
from scores.music.fingering.published import RULES, Published
from scores.music.fingering.search import lay_out, paths
from tests.scores.music.fingering import make
from tests.scores.music.fingering.handbook import MAJOR, degrees, notes_of

RIGHT = hand("right")


def scale(tonic):
    return notes_of(degrees(tonic, MAJOR, 4, 8), "right")


@pytest.mark.parametrize(
    ("tonic", "standard", "points", "least"),
    [
        ("C", "12312345", 15, 15),
        ("G", "12312345", 16, 16),
        ("D", "12312345", 15, 15),
        ("A", "12312345", 14, 14),
        ("E", "12312345", 14, 14),
        ("B", "12312345", 14, 14),
        ("F", "12341234", 23, 22),
        ("Db", "23123412", 33, 23),
        ("Eb", "31234123", 33, 25),
        ("Gb", "23412312", 29, 17),
        ("Ab", "34123123", 34, 23),
        ("Bb", "41231234", 32, 24),
    ],
)
def test_scales_cost_what_the_table_gives(tonic, standard, points, least):
    notes = scale(tonic)
    assert judge(notes, make.fingers(notes, standard), RIGHT, rules="published").cost == points
    assert best(notes, RIGHT, 1, rules="published")[0].cost == least


@pytest.mark.parametrize("tonic", ["A", "E", "B"])
def test_on_sharp_keys_the_handbook_fingering_is_the_one_best(tonic):
    notes = scale(tonic)
    first, second = best(notes, RIGHT, 2, rules="published")
    assert first.fingers == make.fingers(notes, "12312345")
    assert second.cost > first.cost


def test_c_major_by_rule():
    notes = scale("C")
    rules = judge(notes, make.fingers(notes, "12312345"), RIGHT, rules="published").by_rule
    assert [rules.get(rule, 0) for rule in RULES] == [0, 4, 0, 2, 4, 2, 1, 1, 0, 0, 0, 1]


def test_c_major_has_as_many_candidates_as_the_spans_allow():
    graph = lay_out(Published(read_passage(scale("C"), "right"), RIGHT))
    possible = 0
    for path in paths(graph):
        if path.cost >= CANNOT:
            break
        possible += 1
    assert possible == 1803


def test_the_left_hand_is_judged_as_its_mirror():
    right = make.keys([60, 62, 64, 65, 67])
    left = make.keys([64, 62, 60, 59, 57], side="left")
    for text in ("12345", "12312", "13524"):
        one = judge(right, make.fingers(right, text), RIGHT, rules="published")
        other = judge(left, make.fingers(left, text), hand("left"), rules="published")
        assert (one.cost, one.by_rule) == (other.cost, other.by_rule)


def test_one_finger_on_two_keys_is_outside_the_rules():
    notes = make.line("C4 D4")
    (problem,) = judge(notes, make.fingers(notes, "11"), RIGHT, rules="published").impossible
    assert problem.kind == "outside-the-rules"
    assert problem.notes == ("n2", "n1")
