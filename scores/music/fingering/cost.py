"""What the rule sets share: the fingers a step can have, and the graph of all fingerings that the search walks.

A shape has one code for each sounding key of a step (struck, then held): 1 to 5 a finger; 45 a substitution, the fourth
finger first; 0 a held key that had to be let go. Costs are hundredths of a point, whole numbers, so that sums are
exact. What cannot be played costs `CANNOT` for each reason: never chosen while there is another way, and a passage
that cannot be played still gets the answer that breaks it in the fewest places.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations, compress, permutations, product
from typing import Any

from scores.music.fingering.hand import Hand
from scores.music.fingering.passage import Passage, Step, thumb_covers
from scores.music.fingering.text import fingers_of

Shape = tuple[int, ...]
State = Any  # what a rule set likes to tell its nodes by, if it can be hashed
Term = tuple[str, int]
Terms = tuple[Term, ...]
Onward = tuple[list[State], list[int]]

POINT = 100
CANNOT = 10_000_000
MOST_WITH_CHANGES = 2
FINGERS = (1, 2, 3, 4, 5)
SUBSTITUTIONS = tuple(10 * a + b for a in FINGERS for b in FINGERS if abs(a - b) == 1)


def strike(code: int) -> int:
    """The finger that strikes."""
    return code // 10 or code


def hold(code: int) -> int:
    """The finger that is on the key in the end; 0 for a key that was let go."""
    return code % 10


def code_text(code: int) -> str:
    return f"{code // 10}-{code % 10}" if code > 5 else str(code)


def total(terms: Sequence[Term]) -> int:
    return sum(amount for _, amount in terms)


def by_rule(terms: Iterable[Terms]) -> dict[str, float]:
    """Points for each rule, rules that cost nothing left out."""
    found: dict[str, int] = {}
    for step in terms:
        for rule, amount in step:
            found[rule] = found.get(rule, 0) + amount
    return {rule: amount / POINT for rule, amount in found.items() if amount}


def fixed_codes(fixed: Mapping[str, str]) -> dict[str, int]:
    """The teacher's or the print's fingers as codes by note id; what is no finger is passed over."""
    codes = {}
    for note, text in fixed.items():
        fingers = fingers_of(text)
        if len(fingers) > 1 and fingers[0] == fingers[-1]:
            codes[note] = fingers[0]
        elif fingers:
            codes[note] = fingers[0] if len(fingers) == 1 else 10 * fingers[0] + fingers[-1]
    return codes


class Model(ABC):
    """A rule set applied to one passage for one hand. Subclasses say what a state is and what a step costs."""

    # Whether fingers may change silently on a key that is held while others are struck. Where more keys than
    # MOST_WITH_CHANGES sound they stay unless they are fixed otherwise.
    substitutes = False

    def __init__(self, passage: Passage, hand: Hand, fixed: Mapping[str, str] | None = None) -> None:
        self.passage = passage
        self.steps = passage.steps
        self.hand = hand
        self.fixed = fixed_codes(fixed or {})
        self._steps: dict[int, list[Shape]] = {}
        self._ways: dict[tuple[object, ...], list[Shape]] = {}

    @abstractmethod
    def first(self) -> list[tuple[State, int]]:
        """The states of the first step and what they cost, in the order in which equals are preferred."""

    @abstractmethod
    def following(self, index: int, states: Iterable[State]) -> Iterator[Onward]:
        """For each of these states of the step before `index`, the states that follow and what each of them costs."""

    @abstractmethod
    def shape_of(self, state: State) -> Shape:
        """The fingers of a state."""

    @abstractmethod
    def account(self, shapes: Sequence[Shape]) -> list[Terms]:
        """What each step of a whole fingering costs, rule by rule, reckoned anew from the fingers alone."""

    def turn(self, index: int) -> object | None:
        """What `following` depends on besides the state, told so that equal turns compare equal; None where
        every step is to be taken by itself."""
        return None

    def ways(self, step: Step) -> list[Shape]:
        """The fingers that can strike the step's keys: rising with the keys, unless fixed fingers ask for otherwise."""
        if step.index in self._steps:
            return self._steps[step.index]
        fixed = tuple(self.fixed_code(step, place) for place in range(len(step.struck)))
        spread = len(step.struck) > 5 and thumb_covers(step.struck[0], step.struck[1])
        swaps = self.swaps(step)
        known = (len(step.struck), fixed, spread, swaps)
        if known not in self._ways:
            self._ways[known] = find_ways(len(step.struck), fixed, spread, swaps)
        self._steps[step.index] = self._ways[known]
        return self._ways[known]

    def swaps(self, step: Step) -> tuple[bool, ...]:
        """Which of the struck keys may change fingers while they are held."""
        may = self.substitutes and len(step.sounding) <= MOST_WITH_CHANGES
        return tuple(may and is_held_on(self.steps, step, place) for place in range(len(step.struck)))

    def fixed_code(self, step: Step, place: int) -> int:
        if not self.fixed:
            return 0
        code = self.fixed.get(step.struck[place].note.id, 0)
        for note, at in step.doubled:
            code = code or (self.fixed.get(note, 0) if at == place else 0)
        return code

    def carried(self, step: Step, before: Shape, way: Shape) -> Shape:
        """The whole shape: the new fingers, and those that hold on, 0 where a finger was needed elsewhere."""
        if not step.held:
            return way
        busy = way if max(way) <= 5 else tuple([strike(code) for code in way])
        fingers = [before[place] % 10 for place in step.held]
        return way + tuple([0 if finger in busy else finger for finger in fingers])


def is_held_on(steps: Sequence[Step], step: Step, place: int) -> bool:
    """Whether another key is struck while this one is still down."""
    return step.index + 1 < len(steps) and place in steps[step.index + 1].held


def find_ways(count: int, fixed: Sequence[int], spread: bool, swaps: Sequence[bool]) -> list[Shape]:
    if count == 1:
        return [(code,) for code in codes_for(fixed[0], swaps[0])]
    rising = [(1, *fingers) for fingers in combinations(FINGERS, count - 1)] if spread else []
    rising += combinations(FINGERS, count) if count <= 5 else []
    found = [way for fingers in rising for way in with_codes(fingers, fixed, swaps)]
    if not found and count <= 5:
        found = [way for fingers in permutations(FINGERS, count) for way in with_codes(fingers, fixed, swaps)]
    if not found:
        free = [(strike(code),) if code else FINGERS for code in fixed]
        found = [way for fingers in product(*free) for way in with_codes(fingers, fixed, swaps)]
    return found


def codes_for(fixed: int, swap: bool) -> tuple[int, ...]:
    if fixed:
        return (fixed,)
    return FINGERS + SUBSTITUTIONS if swap else FINGERS


def with_codes(fingers: Sequence[int], fixed: Sequence[int], swaps: Sequence[bool]) -> list[Shape]:
    """The codes that strike with these fingers and agree with the fixed ones; no more than one finger changes silently
    unless more are fixed to."""
    choices = []
    for finger, code, swap in zip(fingers, fixed, swaps, strict=True):
        choices.append([one for one in codes_for(code, swap) if strike(one) == finger])
    free = [not code for code in fixed]
    return [way for way in product(*choices) if sum(code > 5 for code in compress(way, free)) <= 1]
