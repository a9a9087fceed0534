"""What fingers on keys cost by themselves and from one moment to the next, by the house rules.

Distances are measured on the keyboard; reach is asked of the hand in semitones. All weights are points.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from scores.music.fingering.cost import CANNOT, POINT, Shape, Term, Terms, hold, strike
from scores.music.fingering.hand import Hand
from scores.music.fingering.passage import SEMITONES_A_WIDTH, Key, Step, thumb_covers
from scores.music.fingering.weights import Weights

BETWEEN_BLACKS = frozenset({2, 7, 9})  # D, G, A
ABOVE_THE_THUMB = 2.0  # semitones
MIDDLE = 3  # the finger in the middle of the hand
# (at least so many milliseconds to the next note, factor): common practice, the steps are this project's own.
SPEEDS = ((1000, 0.6), (500, 0.8), (250, 1.0), (140, 1.35), (0, 1.8))
GAPS = (1.0, 0.5, 0.15)
# Where the middle finger would lie, in semitones on the keyboard from the lowest key struck; the fingers, and the same
# on their keys, as bits of a number; the outermost finger.
Lie = tuple[float, int, int, int]
FINGERS_AT_ONCE = 6  # the thumb may lie on two keys
LOWEST, A_FINGER = -8, 160  # no key lies lower, even mirrored; bits for the keys of a finger
MOVES = ("leap", "exchange", "hop", "crossing")


class Touch:
    """The costs of one passage for one hand."""

    def __init__(self, steps: Sequence[Step], hand: Hand, weights: Weights, tempo: float | None) -> None:
        self.steps = steps
        self.hand = hand
        self.w = weights
        self.thumb = 1.5 if "slow thumb" in hand.traits else 1.0
        self.fourth = 2.0 if "slow fourth finger" in hand.traits else 1.0
        self.broad = "broad fingers" in hand.traits
        self.speeds = [speed_of(step, tempo) for step in steps]
        self.stays = [struck_again(steps[i - 1], step) if i else [] for i, step in enumerate(steps)]
        self.known_prices: dict[tuple[float, float], tuple[list[int], list[int]]] = {}
        self.known_lies: dict[tuple[int, tuple[Shape, ...]], list[Lie]] = {}

    # One moment

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

    # From one moment to the next

    def motion(self, index: int, last_shape: Shape, shape: Shape) -> Terms:
        """What it costs to come to a step from the one before it."""
        last, step = self.steps[index - 1], self.steps[index]
        if last.is_single and step.is_single:
            found = self.in_a_line(last, step, hold(last_shape[0]), strike(shape[0]), self.speeds[index])
            gap = GAPS[step.gap]
            return tuple([(rule, cost) for rule, amount in found if (cost := round(amount * gap * POINT))])
        [costs] = self.moved(index, last_shape, (tuple([strike(code) for code in shape]),))
        return tuple((rule, cost) for rule, cost in zip(MOVES, costs, strict=True) if cost)

    def motion_costs(self, index: int, last_shape: Shape, shapes: tuple[Shape, ...]) -> list[int]:
        """The sum of `motion` for each of several shapes without silent changes."""
        last, step = self.steps[index - 1], self.steps[index]
        if last.is_single and step.is_single:
            speed, gap = self.speeds[index], GAPS[step.gap]
            lines = [self.in_a_line(last, step, last_shape[0] % 10, shape[0], speed) for shape in shapes]
            return [sum([round(amount * gap * POINT) for _, amount in line]) for line in lines]
        return [
            far + exchange + hop + crossing for far, exchange, hop, crossing in self.moved(index, last_shape, shapes)
        ]

    def in_a_line(self, last: Step, step: Step, finger: int, other: int, speed: float) -> list[tuple[str, float]]:
        """From one note to the next."""
        w, key, other_key = self.w, last.struck[0], step.struck[0]
        found = self.colours(finger, key, other, other_key)
        if key.key == other_key.key:
            return [*found, ("repeated note", self.repeated(finger, other, speed))]
        wide = abs(other_key.x - key.x)
        if finger == other:
            down = key.black and not other_key.black and wide <= 2
            return [*found, ("hop", (w.slide if down else w.hop + w.hop_size * wide) * speed)]
        low, high = (finger, other) if finger < other else (other, finger)
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
        if key.black == other_key.black and not self.broad:
            return []
        for short, short_key, beside in ((finger, key, other_key), (other, other_key, key)):
            if short_key.black and not beside.black:
                cost += w.thumb_black_white if short == 1 else w.fifth_black_white if short == 5 else 0.0
        if (finger, other) in ((3, 4), (4, 3)):
            third, fourth = (key, other_key) if finger == 3 else (other_key, key)
            cost += w.fourth_white_third_black if third.black and not fourth.black else 0.0
        if self.broad and other in (2, 3, 4) and key.black and other_key.key % 12 in BETWEEN_BLACKS:
            cost += 0.5
        return [("black key", cost)] if cost else []

    def lies(self, step: Step, shapes: tuple[Shape, ...]) -> list[Lie]:
        """How the hand lies on the keys that it strikes with these fingers."""
        known = self.known_lies.get((step.index, shapes))
        if known is None:
            known = self.known_lies[step.index, shapes] = [lie(step.struck, shape) for shape in shapes]
        return known

    def prices(self, speed: float, gap: float) -> tuple[list[int], list[int]]:
        """What hops and exchanges cost, by how many there are."""
        known = self.known_prices.get((speed, gap))
        if known is None:
            w, counts = self.w, range(FINGERS_AT_ONCE + 1)
            known = self.known_prices[speed, gap] = (
                [round(w.chord_hop * hops * speed * gap * POINT) for hops in counts],
                [round(w.exchange * changed * gap * POINT) for changed in counts],
            )
        return known

    def moved(self, index: int, last_shape: Shape, shapes: tuple[Shape, ...]) -> list[tuple[int, int, int, int]]:
        """From chord to chord, or between chord and note, the costs of `MOVES` for each shape: how far the hand moves,
        which fingers go from one key to another, and what the outer line does."""
        w, last, step = self.w, self.steps[index - 1], self.steps[index]
        speed, gap = self.speeds[index], GAPS[step.gap]
        [(middle, fingers, on, finger)] = self.lies(
            last, (tuple([hold(code) for code in last_shape[: len(last.struck)]]),)
        )
        low, last_low = step.struck[0].x, last.struck[0].x
        stays = [(hold(last_shape[at]), place) for at, place in self.stays[index] if hold(last_shape[at])]
        way = step.struck[-1].key - last.struck[-1].key
        crossing = round(w.outer_crossing * speed * gap * POINT) if way else 0
        found = []
        hop_costs, exchange_costs = self.prices(speed, gap)
        for shape, (next_middle, next_fingers, next_on, next_finger) in zip(
            shapes, self.lies(step, shapes), strict=True
        ):
            far = abs(next_middle - middle + low - last_low) - w.move_free
            # Fingers that play both times, but not the same key.
            hops = (fingers & next_fingers).bit_count() - (on & next_on).bit_count()
            changed = sum([held != shape[place] for held, place in stays]) if stays else 0
            crossed = finger != next_finger and (way > 0) != (next_finger > finger)
            found.append(
                (
                    round(far * w.move * speed * gap * POINT) if far > 0 else 0,
                    exchange_costs[changed],
                    hop_costs[hops],
                    crossing if crossed else 0,
                )
            )
        return found


def lie(keys: Sequence[Key], fingers: Shape) -> Lie:
    """How the hand lies with these fingers on these keys."""
    low, played = keys[0].x, list(zip(fingers, keys, strict=False))
    middle = sum([key.x - low - (finger - MIDDLE) * SEMITONES_A_WIDTH for finger, key in played]) / len(keys)
    on = {finger: key.key for finger, key in played}
    which = sum([1 << finger for finger in on])
    pairs = sum([1 << (A_FINGER * finger + key - LOWEST) for finger, key in on.items()])
    return (middle, which, pairs, played[-1][0])


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
