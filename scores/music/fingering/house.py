"""The house rules: what a fingering costs a hand at the keyboard, for teaching.

Where the published rules count semitones between neighbours, these measure on the keyboard and think in whole hand
positions: passing the thumb, leaping and hopping end one position and begin the next, and in a scale or an arpeggio the
positions are to return each octave. `touch` says what fingers on keys cost; here is what needs memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from scores.music.fingering.cost import POINT, Model, Shape, State, Terms, fixed_codes, hold, strike, total
from scores.music.fingering.hand import Hand
from scores.music.fingering.passage import Passage, Step
from scores.music.fingering.touch import Touch
from scores.music.fingering.weights import WEIGHTS, Weights

# Letters (0 to 6) of the thumb in this position and the one before, NONE if there is none; and the notes that this
# position has played, counted up to FULL.
Memory = tuple[int, int, int]
Way = tuple[Shape, int, bool]  # shape, cost, whether a new position begins

NONE = -1
FULL = 3
NO_MEMORY: Memory = (NONE, NONE, FULL)
FAR = 12  # semitones: a wider step within a line begins a new position for any hand
OPEN_HAND = (0, 0, 1, 2, 2, 3)  # by finger: how many notes of a triad's arpeggio lie between it and the thumb


class House(Model):
    """States are (shape, memory of positions)."""

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
        self.known: dict[tuple[int, Shape], tuple[list[Way], list[tuple[State, int]]]] = {}
        self.news: dict[tuple[int, tuple[int, ...], Memory], dict[int, tuple[Memory, int]]] = {}
        self.motions: dict[tuple[int, Shape, Shape], tuple[int, bool]] = {}
        self.alones: dict[tuple[int, Shape], int] = {}
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
                (way, self.begin(step, way)),
                total(self.touch.alone(step, way)) + self.start_cost(step, way) + self.habit_cost(0, way),
            )
            for way in self.ways(step)
        ]

    def following(self, index: int, state: State) -> list[tuple[State, int]]:
        last_shape, memory = state
        step = self.steps[index]
        ways, plain = self.ways_after(index, last_shape)
        if not step.in_run and not self.habits:
            return plain
        found: list[tuple[State, int]] = []
        # Most ways stay in the position: they share one memory, and that of the others differs by the finger alone.
        begun = memory[0] != NONE
        stays = self.remember(step, memory, last_shape, False) if begun else None
        news = self.news.setdefault((step.struck[0].letter % 7, step.degrees, memory), {}) if begun else {}
        for shape, cost, fresh in ways:
            if stays and not fresh:
                after, penalty = stays
            else:
                finger = strike(shape[0])
                if finger not in news:
                    news[finger] = self.remember(step, memory, shape, fresh)
                after, penalty = news[finger]
            found.append(((shape, after), cost + penalty))
        if self.habits:
            return [(after, cost + self.habit_cost(index, after[0])) for after, cost in found]
        return found

    def ways_after(self, index: int, last_shape: Shape) -> tuple[list[Way], list[tuple[State, int]]]:
        """The ways on from a shape with what they cost in themselves, and the same as states outside a run."""
        last_shape, mark = settled(last_shape), self.marks[index]
        known = self.known.get((mark, last_shape))
        if known is None:
            step, ways = self.steps[index], list[Way]()
            before = last_shape[: self.counts[index]]
            for way in self.ways(step):
                shape = self.carried(step, last_shape, way) if step.held else way
                struck = way if max(way) <= 5 else tuple([strike(code) for code in way])
                coming = self.motions.get((mark, before, struck)) or self.coming(index, last_shape, before, struck)
                alone = self.alones.get((mark, shape))
                if alone is None:
                    alone = self.alones[mark, shape] = total(self.touch.alone(step, shape))
                ways.append((shape, coming[0] + alone, coming[1]))
            known = (ways, [((shape, NO_MEMORY), cost) for shape, cost, _ in ways])
            self.known[mark, last_shape] = known
        return known

    def coming(self, index: int, last_shape: Shape, before: Shape, struck: Shape) -> tuple[int, bool]:
        """What the motion into a step costs, and whether it begins a new position. Remembered by what it depends on:
        `before`, the fingers that count of the last step, and those that strike now."""
        cost = total(self.touch.motion(index, last_shape, struck))
        found = (cost, new_position(self.steps[index - 1], self.steps[index], last_shape, struck))
        self.motions[self.marks[index], before, struck] = found
        return found

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
        shape: Shape = state[0]
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
        seen: dict[object, int] = {}
        marks = []
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
            marks.append(seen.setdefault(look, len(seen)))
        return marks

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
        """The memory after a step, and what a new position costs: one that is neither of the last two an octave on, or
        that comes before the last one was used."""
        if not step.in_run:
            return NO_MEMORY, 0
        here, before, count = memory
        if here == NONE:
            return self.begin(step, shape), self.start_cost(step, shape)
        if not fresh:
            return (here, before, min(count + 1, FULL)), 0
        letter = thumb_letter(step, shape)
        penalty = 0.0 if before == NONE or letter in (here, before) else self.w.returns
        penalty += self.w.short * (FULL - count)
        return (letter, here, 1), round(penalty * POINT)

    # Costs

    def habit_cost(self, index: int, shape: Shape) -> int:
        if not self.habits:
            return 0
        left = sum(
            self.habits.get((index, place), strike(code)) != strike(code)
            for place, code in enumerate(shape[: len(self.steps[index].struck)])
        )
        return left * round(self.w.learned * POINT)


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
