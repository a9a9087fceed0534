"""The house rules: what a fingering costs a hand at the keyboard, for teaching.

Where the published rules count semitones between neighbours, these measure on the keyboard and think in whole hand
positions: passing the thumb, leaping and hopping end one position and begin the next, and in a scale or an arpeggio the
positions are to return each octave. `touch` says what fingers on keys cost; here is what needs memory.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from operator import add

from scores.music.fingering.cost import (
    FINGERS,
    POINT,
    Model,
    Onward,
    Shape,
    State,
    Terms,
    fixed_codes,
    hold,
    strike,
    total,
)
from scores.music.fingering.hand import Hand
from scores.music.fingering.passage import Passage, Step
from scores.music.fingering.touch import Touch
from scores.music.fingering.weights import WEIGHTS, Weights

# Letters (0 to 6) of the thumb in this position and the one before, NONE if there is none; and the notes that this
# position has played, counted up to FULL.
Memory = tuple[int, int, int]

Shapes = tuple[Shape, ...]

NONE = -1
FULL = 3
NO_MEMORY: Memory = (NONE, NONE, FULL)
MEMORIES = 256  # more than the largest number of a memory
FAR = 12  # semitones: a wider step within a line begins a new position for any hand
OPEN_HAND = (0, 0, 1, 2, 2, 3)  # by finger: how many notes of a triad's arpeggio lie between it and the thumb


@dataclass(frozen=True, slots=True)
class Ways:
    """The ways on from a shape, outside a run: the states they lead to, what they cost, the fingers that strike first,
    and the same fingers where they begin a new position, 0 where the hand stays in its own."""

    states: list[State]
    costs: list[int]
    fingers: list[int]
    fresh: list[int]


class House(Model):
    """States are numbers: MEMORIES times that of the shape, and that of the memory of positions."""

    substitutes = True

    def __init__(
        self,
        passage: Passage,
        hand: Hand,
        fixed: Mapping[str, str] | None = None,
        *,
        tempo: float | None = None,
        learned: Mapping[str, str] | None = None,
        weights: Weights = WEIGHTS,
    ) -> None:
        super().__init__(passage, hand, fixed)
        self.w = weights
        self.touch = Touch(self.steps, hand, weights, tempo)
        self.marks = self.mark_steps()
        self.counts = [self.fingers_that_count(index) for index in range(len(self.steps))]
        self.looks = number([where_keys_lie(step) for step in self.steps])
        self.shapes: list[Shape] = []
        self.numbers: dict[Shape, int] = {}
        self.known: dict[tuple[int, int], Ways] = {}
        self.struck: dict[int, tuple[Shapes, list[int]]] = {}
        self.arrivals: dict[tuple[int, Shape], tuple[list[int], list[int], list[int]]] = {}
        self.motions: dict[tuple[int, Shape], tuple[list[int], list[int]]] = {}
        self.alones: dict[tuple[int, Shape], int] = {}
        self.places = number([(step.struck[0].letter % 7, step.degrees) for step in self.steps])
        self.memories: list[dict[int, tuple[list[int], list[int]]]] = [{} for _ in self.steps]
        # What a new position costs by how many notes the last one has played: one of the last two, and another.
        soon = [weights.short * (FULL - count) for count in range(FULL + 1)]
        self.soon = [(round(points * POINT), round((weights.returns + points) * POINT)) for points in soon]
        self.thumb_letters: dict[int, list[int]] = {}
        learned_codes = fixed_codes(learned or {})
        self.habits = {
            (step.index, place): strike(learned_codes[key.note.id])
            for step in self.steps
            for place, key in enumerate(step.struck)
            if key.note.id in learned_codes
        }

    def first(self) -> list[tuple[State, int]]:
        step = self.steps[0]
        return [
            (
                self.shape_number(way) + memory_number(self.begin(step, way)),
                total(self.touch.alone(step, way)) + self.start_cost(step, way) + self.habit_cost(0, way),
            )
            for way in self.ways(step)
        ]

    def following(self, index: int, states: Iterable[State]) -> Iterator[Onward]:
        step, mark, known = self.steps[index], self.marks[index], self.known
        memories = self.memories[self.places[index]]
        in_run, habits = step.in_run, self.habits
        for state in states:
            number, memory = divmod(state, MEMORIES)
            ways = known.get((mark, number)) or self.ways_after(index, number)
            onward, costs = ways.states, ways.costs
            if in_run:
                turns = ways.fresh if memory else ways.fingers
                after, penalties = memories.get(memory) or self.memories_after(step, memory)
                onward = list(map(add, onward, map(after.__getitem__, turns)))
                costs = list(map(add, costs, map(penalties.__getitem__, turns)))
            if habits:
                shapes = map(self.shape_of, onward)
                costs = [cost + self.habit_cost(index, shape) for cost, shape in zip(costs, shapes, strict=True)]
            yield onward, costs

    def memories_after(self, step: Step, memory: int) -> tuple[list[int], list[int]]:
        """The memory after a step of a run and what it costs: first where the hand stays in its position, then for each
        finger that begins a new one. Most ways stay, and the others differ by the finger alone."""
        if not memory:
            return self.set_out(step)
        known = self.memories[self.places[step.index]]
        if memory not in known:
            known[memory] = self.go_on(step, memory)
        return known[memory]

    def ways_after(self, index: int, number: int) -> Ways:
        """The ways on from a shape, told by its number."""
        # What went before a silent change no longer counts.
        mark, final = self.marks[index], settled(self.shapes[number])
        key = (mark, self.shape_number(final) // MEMORIES)
        known = self.known.get(key) or self.reckon(index, final)
        self.known[mark, number] = self.known[key] = known
        return known

    def shape_number(self, shape: Shape) -> int:
        """A state of this shape with no memory of positions: what to add a memory's number to."""
        number = self.numbers.get(shape)
        if number is None:
            number = self.numbers[shape] = MEMORIES * len(self.shapes)
            self.shapes.append(shape)
        return number

    def reckon(self, index: int, last_shape: Shape) -> Ways:
        """As `ways_after`. What the motion costs and what the step costs by itself are reckoned once for all fingers
        that they do not depend on."""
        strikes, which = self.strikes(index)
        costs, fresh = self.coming(index, last_shape, strikes)
        numbers, alone, fingers = self.arrived(index, last_shape)
        if len(strikes) < len(which):
            costs, fresh = [costs[at] for at in which], [fresh[at] for at in which]
        return Ways(numbers, list(map(add, costs, alone)), fingers, fresh)

    def coming(self, index: int, last_shape: Shape, strikes: Shapes) -> tuple[list[int], list[int]]:
        """What the motion costs for each way to strike, and the fingers that begin a new position, 0 where none
        does. Fingers that hold on without being struck again do not count."""
        key = (self.marks[index], last_shape[: self.counts[index]])
        known = self.motions.get(key)
        if known is None:
            last, step = self.steps[index - 1], self.steps[index]
            fresh = [new[0] if new_position(last, step, last_shape, new) else 0 for new in strikes]
            known = self.motions[key] = (self.touch.motion_costs(index, last_shape, strikes), fresh)
        return known

    def arrived(self, index: int, last_shape: Shape) -> tuple[list[int], list[int], list[int]]:
        """For each way to strike: the number of the whole shape, what the step costs by itself, and the first finger.
        Of the last shape only the fingers count that hold on."""
        step = self.steps[index]
        key = (self.marks[index], tuple([last_shape[place] for place in step.held]))
        known = self.arrivals.get(key)
        if known is None:
            shapes = [self.carried(step, last_shape, way) for way in self.ways(step)]
            known = self.arrivals[key] = (
                [self.shape_number(shape) for shape in shapes],
                [self.alone(step, shape) for shape in shapes],
                [strike(shape[0]) for shape in shapes],
            )
        return known

    def strikes(self, index: int) -> tuple[Shapes, list[int]]:
        """The ways to strike a step without their silent changes, each once, and the place of each way in these."""
        mark = self.marks[index]
        known = self.struck.get(mark)
        if known is None:
            strikes = [tuple([strike(code) for code in way]) for way in self.ways(self.steps[index])]
            places = {shape: place for place, shape in enumerate(dict.fromkeys(strikes))}
            known = self.struck[mark] = (tuple(places), [places[shape] for shape in strikes])
        return known

    def alone(self, step: Step, shape: Shape) -> int:
        """What a step costs by itself. Remembered by where its keys lie."""
        key = (self.looks[step.index], shape)
        known = self.alones.get(key)
        if known is None:
            known = self.alones[key] = total(self.touch.alone(step, shape))
        return known

    def fingers_that_count(self, index: int) -> int:
        """How many fingers of the step before a motion depends on: those that struck, and those that hold only where a
        key of theirs is struck again."""
        if not index:
            return 0
        last = self.steps[index - 1]
        again = any(at >= len(last.struck) for at, _ in self.touch.stays[index])
        return len(last.sounding) if again else len(last.struck)

    def turn(self, index: int) -> object | None:
        if self.habits:
            return None
        step = self.steps[index]
        if not step.in_run:
            return self.marks[index]
        rising = self.steps[index + 1].struck[0].key > step.struck[0].key if index + 1 < len(self.steps) else None
        return (self.marks[index], step.struck[0].letter % 7, step.degrees, rising)

    def shape_of(self, state: State) -> Shape:
        shape: Shape = self.shapes[state // MEMORIES]
        return shape

    def account(self, shapes: Sequence[Shape]) -> list[Terms]:
        found: list[Terms] = []
        memory = NO_MEMORY
        for index, shape in enumerate(shapes):
            step = self.steps[index]
            terms = self.touch.alone(step, shape)
            if index:
                before = settled(shapes[index - 1])
                terms += self.touch.motion(index, before, shape)
                fresh = new_position(self.steps[index - 1], step, before, shape)
                memory, penalty = self.remember(step, memory, shape, fresh)
            else:
                memory, penalty = self.begin(step, shape), self.start_cost(step, shape)
            terms += (("pattern", penalty),) if penalty else ()
            habit = self.habit_cost(index, shape)
            found.append(terms + ((("learned", habit),) if habit else ()))
        return found

    def mark_steps(self) -> list[int]:
        """A number for each step; equal numbers mean the same ways from the step before at the same costs."""
        looks: list[Hashable] = []
        for index, step in enumerate(self.steps):
            last = self.steps[index - 1] if index else None
            base = last.sounding[0].key if last else 0
            look = (
                base % 12,
                tuple(key.key - base for key in last.sounding) if last else (),
                len(last.struck) if last else 0,
                tuple(key.key - base for key in step.sounding),
                step.held,
                step.gap,
                self.touch.speeds[index],
                step.turn or index == len(self.steps) - 1,
                last is not None and (last.turn or index == 1),
                tuple(self.fixed_code(step, place) for place in range(len(step.struck))),
                self.swaps(step),
            )
            looks.append(look)
        return number(looks)

    # Positions

    def begin(self, step: Step, shape: Shape) -> Memory:
        """The memory where a run begins: the hand lies as if it had come from before, so that a run that begins on the
        fourth finger upwards has used three."""
        if not step.in_run:
            return NO_MEMORY
        return (thumb_letter(step, shape), NONE, min(self.used(step, shape), FULL))

    def used(self, step: Step, shape: Shape) -> int:
        """How many fingers of its position a run has used up with its first note."""
        finger, coming = strike(shape[0]), self.steps[step.index + 1].struck[0].key
        return finger if coming > step.struck[0].key else 6 - finger

    def start_cost(self, step: Step, shape: Shape) -> int:
        """A run is best begun with the whole hand before it, where its outer finger has a white key to begin on."""
        begins = step.in_run and not step.struck[0].black
        return round(self.w.start * (self.used(step, shape) - 1) * POINT) if begins else 0

    def remember(self, step: Step, memory: Memory, shape: Shape, fresh: bool) -> tuple[Memory, int]:
        """The memory after a step, and what a new position costs."""
        if not step.in_run:
            return NO_MEMORY, 0
        turns = strike(shape[0]) if fresh or memory[0] == NONE else 0
        after, penalties = self.memories_after(step, memory_number(memory))
        return memory_of(after[turns]), penalties[turns]

    def set_out(self, step: Step) -> tuple[list[int], list[int]]:
        """As `memories_after`, where a run begins."""
        ways: list[Shape] = [(finger,) for finger in FINGERS]
        memories = [memory_number(self.begin(step, way)) for way in ways]
        return [0, *memories], [0, *(self.start_cost(step, way) for way in ways)]

    def go_on(self, step: Step, memory: int) -> tuple[list[int], list[int]]:
        """As `memories_after`, within a run. A new position costs if it is neither of the last two an octave on, or
        comes before the last one was used."""
        # Letters from 1 here, as memories are numbered.
        here, before, count = memory // 32, memory // 4 % 8, memory % 4
        returning, strange = self.soon[count]
        thumbs = self.thumbs(step)
        known = (here, before) if before else thumbs
        memories = [memory + (count < FULL)] + [32 * letter + 4 * here + 1 for letter in thumbs]
        return memories, [0] + [returning if letter in known else strange for letter in thumbs]

    def thumbs(self, step: Step) -> list[int]:
        """By finger: the letter, from 1, on which the thumb lies if that finger strikes this key of a run."""
        place = self.places[step.index]
        known = self.thumb_letters.get(place)
        if known is None:
            known = self.thumb_letters[place] = [thumb_letter(step, (finger,)) + 1 for finger in FINGERS]
        return known

    # Costs

    def habit_cost(self, index: int, shape: Shape) -> int:
        if not self.habits:
            return 0
        left = sum(
            self.habits.get((index, place), strike(code)) != strike(code)
            for place, code in enumerate(shape[: len(self.steps[index].struck)])
        )
        return left * round(self.w.learned * POINT)


def memory_number(memory: Memory) -> int:
    """0 for no memory: NONE counts as 0, letters from 1."""
    here, before, count = memory
    return 0 if here == NONE else 32 * (here + 1) + 4 * (before + 1) + count


def memory_of(number: int) -> Memory:
    """What `memory_number` numbers."""
    return (number // 32 - 1, number // 4 % 8 - 1, number % 4) if number else NO_MEMORY


def number(looks: Sequence[Hashable]) -> list[int]:
    """A number for each, the same for equal ones."""
    seen: dict[Hashable, int] = {}
    return [seen.setdefault(look, len(seen)) for look in looks]


def where_keys_lie(step: Step) -> Hashable:
    """The keys that are down at a step, wherever on the keyboard the octave may be."""
    base = step.sounding[0].key
    return (base % 12, len(step.struck), tuple([key.key - base for key in step.sounding]))


def settled(shape: Shape) -> Shape:
    """The fingers that are on the keys in the end: what went before a silent change no longer counts."""
    return tuple([code % 10 for code in shape])


def new_position(last: Step, step: Step, last_shape: Shape, shape: Shape) -> bool:
    """Whether the hand is set down anew within a line. The same for all hands."""
    if not (last.is_single and step.is_single):
        return True
    finger, other = hold(last_shape[0]), strike(shape[0])
    interval = step.struck[0].key - last.struck[0].key
    return interval != 0 and (finger == other or (interval > 0) != (other > finger) or abs(interval) > FAR)


def thumb_letter(step: Step, shape: Shape) -> int:
    """The letter on which the thumb lies in a position that has this finger on this key of a run. In a scale there is a
    finger for each degree; in the arpeggio of a triad third and fourth share one, and the fifth is an octave up."""
    finger, letter, degrees = strike(shape[0]), step.struck[0].letter % 7, step.degrees
    if letter not in degrees:
        return (letter - finger + 1) % 7
    below = OPEN_HAND[finger] if len(degrees) == 3 else finger - 1
    return degrees[(degrees.index(letter) - below) % len(degrees)]
