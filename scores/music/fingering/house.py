"""The house rules: what a fingering costs a hand at the keyboard, for teaching.

Where the published rules count semitones between neighbours, these measure on the keyboard and think in whole hand
positions: passing the thumb, leaping and hopping end one position and begin the next, and in a scale or an arpeggio the
positions are to return each octave. All weights are points; how they were found is in `tests/bench/calibrate.py`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from scores.music.fingering.cost import (
    CANNOT,
    POINT,
    Model,
    Shape,
    State,
    Term,
    Terms,
    fixed_codes,
    hold,
    strike,
    total,
)
from scores.music.fingering.hand import Hand
from scores.music.fingering.passage import SEMITONES_A_WIDTH, Key, Passage, Step, thumb_covers

# Letters (0 to 6) of the thumb in this position and the one before, NONE if there is none; and the notes that this
# position has played, counted up to FULL.
Memory = tuple[int, int, int]
Way = tuple[Shape, int, bool]  # shape, cost, whether a new position begins

NONE = -1
FULL = 3
NO_MEMORY: Memory = (NONE, NONE, FULL)
FAR = 12  # semitones: a wider step within a line begins a new position for any hand
BETWEEN_BLACKS = frozenset({2, 7, 9})  # D, G, A
OPEN_HAND = (0, 0, 1, 2, 2, 3)  # by finger: how many notes of a triad's arpeggio lie between it and the thumb
ABOVE_THE_THUMB = 2.0  # semitones
MIDDLE = 3  # the finger in the middle of the hand
# (at least so many milliseconds to the next note, factor): common practice, the steps are this project's own.
SPEEDS = ((1000, 0.6), (500, 0.8), (250, 1.0), (140, 1.35), (0, 1.8))
GAPS = (1.0, 0.5, 0.15)


@dataclass(frozen=True, slots=True)
class Weights:
    """Points. Spans are per semitone."""

    stretch: float = 0.77
    large: float = 0.5
    large_fingers: float = 0.38
    small: float = 0.3
    small_fingers: float = 0.6
    settled: float = 0.08
    leap: float = 5.0
    leap_size: float = 0.3
    hop: float = 4.5
    hop_size: float = 0.25
    slide: float = 2.0
    pass_two: float = 3.2
    pass_three: float = 1.95
    pass_four: float = 3.6
    pass_five: float = 6.0
    pass_wide: float = 0.29
    pass_stretch: float = 0.5
    pass_far: float = 2.2
    pass_from_black: float = -0.75
    pass_to_black: float = 2.5
    over: float = 7.0
    late: float = 1.0
    early: float = 0.32
    fourth: float = 0.22
    fifth: float = 0.19
    three_four: float = 0.25
    four_five: float = 0.35
    thumb_black: float = 1.2
    thumb_black_white: float = 0.8
    fifth_black: float = 0.5
    fifth_black_white: float = 0.4
    fourth_white_third_black: float = 0.5
    returns: float = 3.12
    start: float = 0.6
    short: float = 1.88
    same_again: float = 1.1
    change: float = 1.2
    change_away: float = 0.5
    chord_stretch: float = 3.0
    chord_crossed: float = 4.0
    two_keys: float = 3.0
    move: float = 0.35
    move_free: float = 1.0
    chord_hop: float = 0.25
    outer_crossing: float = 0.5
    exchange: float = 0.8
    substitution: float = 2.5
    learned: float = 1.5
    let_go: float = 20.0


WEIGHTS = Weights()


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
        self.thumb = 1.5 if "slow thumb" in hand.traits else 1.0
        self.fourth = 2.0 if "slow fourth finger" in hand.traits else 1.0
        self.broad = "broad fingers" in hand.traits
        self.speeds = [speed_of(step, tempo) for step in self.steps]
        self.marks = self.mark_steps()
        self.stays = [struck_again(self.steps[i - 1], step) if i else [] for i, step in enumerate(self.steps)]
        self.known: dict[tuple[int, Shape], tuple[list[Way], list[tuple[State, int]]]] = {}
        self.news: dict[tuple[int, tuple[int, ...], Memory], dict[int, tuple[Memory, int]]] = {}
        self.alones: dict[tuple[int, Shape], int] = {}
        self.centres: dict[tuple[int, Shape], float] = {}
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
                total(self.alone(step, way)) + self.start_cost(step, way) + self.habit_cost(0, way),
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
        last_shape = settled(last_shape)
        known = self.known.get((self.marks[index], last_shape))
        if known is None:
            step, ways = self.steps[index], list[Way]()
            for way in self.ways(step):
                shape = self.carried(step, last_shape, way)
                cost = self.alone_cost(index, shape) + total(self.motion(index, last_shape, shape))
                ways.append((shape, cost, new_position(self.steps[index - 1], step, last_shape, shape)))
            known = (ways, [((shape, NO_MEMORY), cost) for shape, cost, _ in ways])
            self.known[self.marks[index], last_shape] = known
        return known

    def turn(self, index: int) -> object | None:
        if self.habits:
            return None
        step = self.steps[index]
        if not step.in_run:
            return self.marks[index]
        coming = self.steps[index + 1].struck[0].key > step.struck[0].key if index + 1 < len(self.steps) else None
        return (self.marks[index], step.struck[0].letter % 7, step.degrees, coming)

    def shape_of(self, state: State) -> Shape:
        shape: Shape = state[0]
        return shape

    def account(self, shapes: Sequence[Shape]) -> list[Terms]:
        found: list[Terms] = []
        memory = NO_MEMORY
        for index, shape in enumerate(shapes):
            step = self.steps[index]
            terms = self.alone(step, shape)
            if index:
                before = settled(shapes[index - 1])
                terms += self.motion(index, before, shape)
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
                self.speeds[index],
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

    def alone(self, step: Step, shape: Shape) -> Terms:
        """What the step costs by itself: its fingers, and how the sounding keys lie under the hand."""
        w, found = self.w, []
        for code, key in zip(shape[: len(step.struck)], step.struck, strict=True):
            finger = strike(code)
            if finger == 4:
                found.append(("weak finger", w.fourth * self.fourth))
            elif finger == 5 and step.is_single:
                found.append(("weak finger", w.fifth))
            if key.black and finger in (1, 5):
                found.append(("black key", w.thumb_black if finger == 1 else w.fifth_black))
            if code > 5:
                found.append(("substitution", w.substitution))
        terms = [(rule, round(amount * POINT)) for rule, amount in found]
        if len(shape) > 1:
            terms += self.together(step, shape)
        return tuple(terms)

    def together(self, step: Step, shape: Shape) -> list[Term]:
        """How fingers that are down at once lie: neighbours, and the outermost two."""
        terms = [("cannot", CANNOT), ("let go", round(self.w.let_go * POINT))] * shape.count(0)
        down = [
            (strike(code), key, place < len(step.struck))
            for place, (code, key) in enumerate(zip(shape, step.sounding, strict=True))
            if code
        ]
        down.sort(key=lambda one: one[1].key)
        for low, high in combinations(range(len(down)), 2):
            (finger, key, struck), (other, other_key, other_struck) = down[low], down[high]
            if not struck and not other_struck:
                continue
            share = 1.0 if struck and other_struck else 0.5
            beside = high == low + 1 or (low == 0 and high == len(down) - 1)
            terms += self.grip(finger, key, other, other_key, share if beside else 0)
        holds = [hold(code) for code in shape if code]
        if any(code > 5 for code in shape) and len(set(holds)) < len(holds):
            terms.append(("cannot", 2 * CANNOT))
        return terms

    def grip(self, finger: int, key: Key, other: int, other_key: Key, share: float) -> list[Term]:
        """Two fingers down at once, `key` below `other_key`. Reach is in semitones; comfort is measured on the keys."""
        w = self.w
        if finger == other:
            spread = finger == 1 and thumb_covers(key, other_key)
            return [("chord", round(w.two_keys * POINT))] if spread else [("cannot", CANNOT)]
        low, high = min(finger, other), max(finger, other)
        spans = self.hand.by_pair[(low, high)]
        interval = other_key.key - key.key
        if finger > other:
            possible = -interval >= spans.min_practical
            return [("chord", round(w.chord_crossed * POINT))] if possible else too_far(interval + spans.min_practical)
        if interval > spans.max_practical:
            return too_far(interval - spans.max_practical)
        wide = other_key.x - key.x
        cost = w.chord_stretch * max(0.0, wide - spans.max_comfortable)
        cost += self.unrelaxed(low, high, key, other_key)
        return [("chord", round(cost * share * POINT))] if cost and share else []

    def alone_cost(self, index: int, shape: Shape) -> int:
        """The sum of `alone`, remembered, for every shape comes after many others."""
        key = (self.marks[index], shape)
        cost = self.alones.get(key)
        if cost is None:
            cost = self.alones[key] = total(self.alone(self.steps[index], shape))
        return cost

    def motion(self, index: int, last_shape: Shape, shape: Shape) -> Terms:
        """What it costs to come to a step from the one before it."""
        last, step = self.steps[index - 1], self.steps[index]
        speed, gap = self.speeds[index], GAPS[step.gap]
        if last.is_single and step.is_single:
            found = self.melodic(last, step, hold(last_shape[0]), strike(shape[0]), speed)
        else:
            found = self.moved(last, step, last_shape, shape, speed)
        terms = [(rule, round(amount * gap * POINT)) for rule, amount in found]
        return tuple(term for term in terms if term[1])

    def melodic(self, last: Step, step: Step, finger: int, other: int, speed: float) -> list[tuple[str, float]]:
        """From one note to the next."""
        w, key, other_key = self.w, last.struck[0], step.struck[0]
        found = self.colours(finger, key, other, other_key)
        if key.key == other_key.key:
            return [*found, ("repeated note", self.repeated(finger, other, speed))]
        wide = abs(other_key.x - key.x)
        if finger == other:
            down = key.black and not other_key.black and wide <= 2
            return [*found, ("hop", (w.slide if down else w.hop + w.hop_size * wide) * speed)]
        low, high = min(finger, other), max(finger, other)
        spans = self.hand.by_pair[(low, high)]
        upward = (other_key.key > key.key) == (other > finger)
        if upward:
            cost = w.stretch * max(0.0, wide - spans.max_comfortable)
            low_key, high_key = (key, other_key) if finger < other else (other_key, key)
            cost += self.unrelaxed(low, high, low_key, high_key)
            # Open fingers cover a part of the way.
            leap = (w.leap + w.leap_size * max(0.0, wide - spans.max_relaxed)) * speed
            if abs(other_key.key - key.key) > spans.max_practical or leap < cost:
                found.append(("leap", leap))
            elif cost:
                found.append(("span", cost))
            if low >= 3 and high == low + 1:
                found.append(("neighbours", self.beside(low) * speed))
            return found
        if low > 1:
            return [*found, ("crossing", (w.over + w.leap_size * wide) * speed)]
        cost = self.passing(high, *((key, other_key) if other == 1 else (other_key, key)), wide, spans.min_comfortable)
        far = self.pivot(high) + w.pass_far + w.leap_size * wide
        cost = far if -abs(other_key.key - key.key) < spans.min_practical else min(cost, far)
        cost += w.late if step.turn or step.index == len(self.steps) - 1 else 0
        cost += w.early if last.turn or last.index == 0 else 0
        return [*found, ("passing", cost * speed * self.thumb)]

    def unrelaxed(self, low: int, high: int, low_key: Key, high_key: Key) -> float:
        """Spans wider or closer than fingers like to lie, both by the interval and as measured on the keys; and a
        little for every semitone off the five-finger position. `low` and `high` are the fingers, each with its key."""
        w, thumb, spans = self.w, low == 1, self.hand.by_pair[(low, high)]
        interval, wide = abs(high_key.key - low_key.key), abs(high_key.x - low_key.x)
        large = max(0.0, min(wide, interval) - spans.max_relaxed)
        small = max(0.0, spans.min_relaxed - max(wide, interval))
        off = abs(wide - (high - low) * SEMITONES_A_WIDTH)
        if thumb and high_key.black and not low_key.black:
            # A long finger on a black key lies easily close above a thumb on a white one.
            small, off = max(0.0, small - ABOVE_THE_THUMB), max(0.0, off - ABOVE_THE_THUMB)
        cost = large * (w.large if thumb else w.large_fingers) + small * (w.small if thumb else w.small_fingers)
        return cost + off * w.settled

    def beside(self, low: int) -> float:
        """Third and fourth, fourth and fifth in turn: the fingers that move least by themselves."""
        return (self.w.three_four if low == 3 else self.w.four_five) * self.fourth

    def pivot(self, finger: int) -> float:
        """What it costs to pass the thumb under this finger, or this finger over the thumb."""
        return (self.w.pass_two, self.w.pass_three, self.w.pass_four, self.w.pass_five)[finger - 2]

    def passing(self, finger: int, under: Key, thumb: Key, wide: float, least: float) -> float:
        """The thumb on `thumb` and `finger` on `under` change places, thumb under or finger over."""
        w = self.w
        cost = self.pivot(finger)
        cost += w.pass_wide * max(0.0, wide - SEMITONES_A_WIDTH) + w.pass_stretch * max(0.0, wide + least)
        if under.black and not thumb.black:
            cost += w.pass_from_black
        if thumb.black and not under.black:
            cost += w.pass_to_black
        return max(cost, 0.2)

    def repeated(self, finger: int, other: int, speed: float) -> float:
        """The same key again: a change of finger is safer, and towards the thumb it comes by itself."""
        w = self.w
        if finger == other:
            return w.same_again * speed * speed
        away = w.change_away if other > finger else 0.0
        return w.change + away + w.change_away * (abs(finger - other) - 1)

    def colours(self, finger: int, key: Key, other: int, other_key: Key) -> list[tuple[str, float]]:
        """Short fingers on black beside white, and long ones that cross the other way."""
        w = self.w
        cost = 0.0
        for short, short_key, beside in ((finger, key, other_key), (other, other_key, key)):
            if short_key.black and not beside.black:
                cost += w.thumb_black_white if short == 1 else w.fifth_black_white if short == 5 else 0.0
        if (finger, other) in ((3, 4), (4, 3)):
            third, fourth = (key, other_key) if finger == 3 else (other_key, key)
            cost += w.fourth_white_third_black if third.black and not fourth.black else 0.0
        if self.broad and other in (2, 3, 4) and key.black and other_key.key % 12 in BETWEEN_BLACKS:
            cost += 0.5
        return [("black key", cost)] if cost else []

    def centre(self, step: Step, shape: Shape) -> float:
        """Where the middle finger would lie, in semitones on the keyboard from the lowest key struck."""
        known = self.centres.get((step.index, shape))
        if known is None:
            low = step.struck[0].x
            places = [
                key.x - low - (strike(code) - MIDDLE) * SEMITONES_A_WIDTH
                for code, key in zip(shape, step.struck, strict=False)
            ]
            known = self.centres[step.index, shape] = sum(places) / len(places)
        return known

    def moved(self, last: Step, step: Step, last_shape: Shape, shape: Shape, speed: float) -> list[tuple[str, float]]:
        """From chord to chord, or between chord and note: how far the hand moves, and what the outer line does."""
        w, found = self.w, []
        far = abs(self.centre(step, shape) - self.centre(last, last_shape) + step.struck[0].x - last.struck[0].x)
        if far > w.move_free:
            found.append(("leap", (far - w.move_free) * w.move * speed))
        changed = 0
        for at, place in self.stays[step.index]:
            finger = hold(last_shape[at])
            changed += finger > 0 and finger != strike(shape[place])
        if changed:
            found.append(("exchange", w.exchange * changed))
        hops = self.hops(last, step, last_shape, shape)
        if hops:
            found.append(("hop", w.chord_hop * hops * speed))
        outer, other = last.struck[-1].key, step.struck[-1].key
        finger, next_finger = hold(last_shape[len(last.struck) - 1]), strike(shape[len(step.struck) - 1])
        if finger != next_finger and outer != other and (other > outer) != (next_finger > finger):
            found.append(("crossing", w.outer_crossing * speed))
        return found

    def hops(self, last: Step, step: Step, last_shape: Shape, shape: Shape) -> int:
        """How many fingers go from one key to another."""
        at = {hold(code): key.key for code, key in zip(last_shape, last.struck, strict=False)}
        return sum(at.get(strike(code), key.key) != key.key for code, key in zip(shape, step.struck, strict=False))


def settled(shape: Shape) -> Shape:
    """The fingers that are on the keys in the end: what went before a silent change no longer counts."""
    return tuple([code % 10 for code in shape])


def struck_again(last: Step, step: Step) -> list[tuple[int, int]]:
    """Keys that were down and are struck again: their places among those of the two steps."""
    return [
        (at, place)
        for at, before in enumerate(last.sounding)
        for place, key in enumerate(step.struck)
        if before.key == key.key
    ]


def too_far(beyond: float) -> list[Term]:
    """What cannot be gripped, the less the better."""
    return [("cannot", CANNOT), ("too far", round(beyond * POINT))]


def speed_of(step: Step, tempo: float | None) -> float:
    """The factor on what takes time, from the quarters a minute; 1 where no tempo is known."""
    if not tempo or tempo <= 0:
        return 1.0
    milliseconds = float(step.wait) * 60_000 / tempo
    return next(factor for least, factor in SPEEDS if milliseconds >= least)


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
