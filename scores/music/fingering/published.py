"""The twelve rules of Parncutt, Sloboda, Clarke, Raekallio and Desain (1997), as recalled from memory, as written.

They speak of melodies. A chord takes part in a melody with its outermost note away from the thumb, and its own pairs of
fingers are judged by the first three rules; that is this project's reading, not the paper's.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations

from scores.music.fingering.cost import CANNOT, POINT, Model, Onward, Shape, State, Term, Terms, hold, strike, total
from scores.music.fingering.passage import Key, Step

RULES = (
    "stretch",
    "small span",
    "large span",
    "position change count",
    "position change size",
    "weak finger",
    "three-four-five",
    "three to four",
    "four on black",
    "thumb on black",
    "five on black",
    "thumb passing",
)
Played = tuple[int, Key]


def points(rule: int, amount: float) -> Term:
    return (RULES[rule - 1], round(amount * POINT))


class Published(Model):
    """States are the fingers of two steps: (finger two steps of melody ago or 0, shape)."""

    def first(self) -> list[tuple[State, int]]:
        step = self.steps[0]
        return [((0, way), total(self.alone(step, way))) for way in self.ways(step)]

    def following(self, index: int, states: Iterable[State]) -> Iterator[Onward]:
        step = self.steps[index]
        for before, last_shape in states:
            top = hold(last_shape[len(self.steps[index - 1].struck) - 1])
            shapes = [self.carried(step, last_shape, way) for way in self.ways(step)]
            costs = [total(self.joined(index, before, last_shape, shape)) for shape in shapes]
            yield [(top, shape) for shape in shapes], costs

    def shape_of(self, state: State) -> Shape:
        shape: Shape = state[1]
        return shape

    def account(self, shapes: Sequence[Shape]) -> list[Terms]:
        terms = [self.alone(self.steps[0], shapes[0])] if shapes else []
        before = 0
        for index in range(1, len(shapes)):
            terms.append(self.joined(index, before, shapes[index - 1], shapes[index]))
            before = hold(shapes[index - 1][len(self.steps[index - 1].struck) - 1])
        return terms

    def played(self, index: int, shape: Shape) -> Played:
        """The melody's key of a step, and the finger that is on it."""
        struck = self.steps[index].struck
        return (hold(shape[len(struck) - 1]), struck[-1])

    def alone(self, step: Step, shape: Shape) -> Terms:
        """What the step costs by itself."""
        terms: list[Term] = []
        for code in shape[: len(step.struck)]:
            if strike(code) > 3:
                terms.append(points(6, 1))
        sounding = [(strike(code), key) for code, key in zip(shape, step.sounding, strict=True) if code]
        if any(not code for code in shape):
            terms.append(("cannot", CANNOT * shape.count(0)))
        if len(sounding) > 1:
            for low, high in combinations(sorted(sounding, key=lambda pair: pair[1].key), 2):
                terms += self.pair(low, high)
        else:
            terms += colours(sounding[0], None, None)
        return tuple(terms)

    def joined(self, index: int, before: int, last_shape: Shape, shape: Shape) -> Terms:
        """What the step costs after the one before, and as the third of three."""
        step = self.steps[index]
        here = (strike(shape[len(step.struck) - 1]), step.struck[-1])
        last = self.played(index - 1, last_shape)
        terms = list(self.alone(step, shape))
        terms += self.pair(last, here)
        terms += passing(last, here)
        terms += colours(last, None, here)[len(colours(last, None, None)) :]
        terms += colours(here, last, None)[len(colours(here, None, None)) :]
        if (last[0], here[0]) == (3, 4):
            terms.append(points(8, 1))
        if {(last[0], last[1].black), (here[0], here[1].black)} == {(3, False), (4, True)}:
            terms.append(points(9, 1))
        if before:
            terms += self.triple((before, self.steps[index - 2].struck[-1]), last, here)
        return tuple(terms)

    def pair(self, one: Played, other: Played) -> list[Term]:
        """Rules 1 to 3, and what no hand of these spans can do."""
        if one[0] == other[0]:
            return [] if one[1].key == other[1].key else [("cannot", CANNOT)]
        (low, low_key), (high, high_key) = sorted((one, other), key=lambda played: played[0])
        spans, span = self.hand.by_pair[(low, high)], high_key.key - low_key.key
        each = 1 if low == 1 else 2
        terms = []
        if not spans.min_practical <= span <= spans.max_practical:
            terms.append(("cannot", CANNOT))
        beyond = max(span - spans.max_comfortable, spans.min_comfortable - span)
        if beyond > 0:
            terms.append(points(1, 2 * beyond))
        if span < spans.min_relaxed:
            terms.append(points(2, each * (spans.min_relaxed - span)))
        if span > spans.max_relaxed:
            terms.append(points(3, each * (span - spans.max_relaxed)))
        return terms

    def triple(self, first: Played, second: Played, third: Played) -> list[Term]:
        """Rules 4, 5 and 7. The same finger on two keys is a pair whose every span is none."""
        terms = []
        fingers = {first[0], second[0], third[0]}
        if fingers == {3, 4, 5}:
            terms.append(points(7, 1))
        (low, low_key), (high, high_key) = sorted((first, third), key=lambda played: played[0])
        span = high_key.key - low_key.key
        if low == high:
            beyond, practical = float(abs(span)), span == 0
        else:
            spans = self.hand.by_pair[(low, high)]
            beyond = max(span - spans.max_comfortable, spans.min_comfortable - span)
            practical = spans.min_practical <= span <= spans.max_practical
        if beyond > 0:
            between = first[1].key < second[1].key < third[1].key or first[1].key > second[1].key > third[1].key
            terms.append(points(4, 2 if second[0] == 1 and between and not practical else 1))
            terms.append(points(5, beyond))
        return terms


def passing(last: Played, here: Played) -> list[Term]:
    """Rule 12."""
    (low, low_key), (high, high_key) = sorted((last, here), key=lambda played: played[0])
    if low != 1 or high == 1 or high_key.key >= low_key.key:
        return []
    if low_key.black == high_key.black:
        return [points(12, 1)]
    return [points(12, 3)] if low_key.black else []


def colours(here: Played, last: Played | None, following: Played | None) -> list[Term]:
    """Rules 10 and 11, for the neighbours that are given."""
    finger, key = here
    if not key.black or finger not in (1, 5):
        return []
    rule = 10 if finger == 1 else 11
    terms = [points(10, 1)] if finger == 1 else []
    neighbours: Iterable[Played | None] = (last, following)
    return terms + [points(rule, 2) for other in neighbours if other and not other[1].black]
