"""What returns: ranges of measures that come again as they were, transposed, or in one hand only.

The measures are looked at in the order in which they are played, so that a range may run across a repeat sign. What
makes two measures the same is said in `texture`.

A range of n played measures, from `p` on, *returns* at `q` if measure `p + i` holds the same as measure `q + i` for
every i below n; *transposed*, if every one has the same shape and all lie the same number of semitones apart. Such a
pair is maximal if it cannot be made longer by the measure before or the measure after. A group is what some maximal
pair plays, with all its places: one of each set of places that overlap in the written measures, the earliest played
first. Where one of them plays a written measure twice, as a theme with a repeat does that comes again with it, the
parts between the player's ways back are ranges too. Silent measures at the ends of a range are not counted. A group is
named if its range has at least `STROKES` struck moments (`STROKES_TRANSPOSED`, if it is transposed), and those of one
hand if some of its places are not the same in both.

The maximal pairs are the branching nodes of a suffix tree (Gusfield, Algorithms on Strings, Trees and Sequences,
1997, section 7.12: from memory), here read off a suffix array. It is sorted in n log² n for n played measures; the
places of a group are counted once each.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Literal

from scores.music.fingering.problems import gettext_noop
from scores.music.notation import Hands, Score
from scores.music.order import play_order
from scores.music.suffixes import Repeat, Suffixes
from scores.music.texture import Texture, steps_between, textures_of

Kind = Literal["exact", "transposed", "one hand"]
Report = Callable[[str, int], None]
Runs = tuple[tuple[int, int], ...]

# Struck moments that a range must have to be worth naming: set by hand. Four are a figure; a shape alone, at another
# height, is soon met by chance.
STROKES, STROKES_TRANSPOSED = 4, 6
LEAST_OF_ONE_HAND = 2  # measures, for `again` to speak of one hand alone: set by hand
LENSES: tuple[Hands, ...] = ("both", "right", "left")
LOOKING = gettext_noop("Looking for what returns")


@dataclass(frozen=True, slots=True)
class Place:
    """Written measures (indexes) in the order played. `semitones` and letter `steps` from the group's first place up to
    this one; both 0 where it is the same."""

    measures: tuple[int, ...]
    semitones: int = 0
    steps: int = 0

    @property
    def first(self) -> int:
        return min(self.measures)

    @property
    def last(self) -> int:
        return max(self.measures)

    @property
    def runs(self) -> Runs:
        """The written ranges, in score order: more than one where a repeat is run across, as with two endings."""
        return runs_of(sorted(set(self.measures)))


@dataclass(frozen=True, slots=True)
class Group:
    """One range with all its places, at least two, the earliest played first; no two share a written measure."""

    hands: Hands
    places: tuple[Place, ...]

    @property
    def kind(self) -> Kind:
        return kind_of(self.hands, any(place.semitones for place in self.places))

    @property
    def measures(self) -> int:
        return len(self.places[0].measures)


@dataclass(frozen=True, slots=True)
class Again:
    """Measures `first` to `last` (indexes) are those of `source` again, which stand earlier, `semitones` and `steps`
    higher; of one hand, if `hands` names one."""

    first: int
    last: int
    source: tuple[int, ...]
    hands: Hands
    semitones: int = 0
    steps: int = 0

    @property
    def kind(self) -> Kind:
        return kind_of(self.hands, bool(self.semitones))

    @property
    def runs(self) -> Runs:
        """The written ranges of the source."""
        return runs_of(sorted(set(self.source)))

    def at(self, measure: int) -> int:
        """The measure that a measure of this range repeats. Raises `IndexError` for one outside."""
        return self.source[measure - self.first]


def kind_of(hands: Hands, is_transposed: bool) -> Kind:
    if hands != "both":
        return "one hand"
    return "transposed" if is_transposed else "exact"


def runs_of(measures: Sequence[int]) -> Runs:
    """Sorted indexes as ranges."""
    runs: list[list[int]] = []
    for measure in measures:
        if runs and measure == runs[-1][1] + 1:
            runs[-1][1] = measure
        else:
            runs.append([measure, measure])
    return tuple((first, last) for first, last in runs)


def recurrences(score: Score, report: Report | None = None) -> tuple[Group, ...]:
    """Every group of the score, those of both hands first, long ones before short ones. `report` is told how far it is
    (the words are English)."""
    order = play_order(score.measures)
    textures = textures_of(score)
    found: list[Group] = []
    for number, hands in enumerate(LENSES):
        if report:
            report(LOOKING, 100 * number // len(LENSES))
        found += Lens(textures[hands], order, textures["both"]).groups()
    if report:
        report(LOOKING, 100)
    return tuple(found)


@dataclass(frozen=True)
class Lens:
    """One hand's measures, or both hands', in the order played."""

    texture: Texture
    order: tuple[int, ...]
    whole: Texture

    @cached_property
    def struck_before(self) -> list[int]:
        """How many moments are struck before each played measure."""
        sums = [0]
        for measure in self.order:
            sums.append(sums[-1] + self.texture.strokes[measure])
        return sums

    def groups(self) -> list[Group]:
        exact = [self.texture.exact[measure] for measure in self.order]
        found = list(self.named(Suffixes(exact), STROKES))
        shapes = Suffixes([self.texture.shape[measure] for measure in self.order], climbs(self.texture, self.order))
        found += (group for group in self.named(shapes, STROKES_TRANSPOSED) if is_moved(group))
        return sorted(found, key=lambda group: (-group.measures, group.places[0].measures))

    def named(self, suffixes: Suffixes, strokes: int) -> Iterator[Group]:
        """The groups of a sequence that are worth naming."""
        done: set[tuple[int, int]] = set()
        for repeat in self.parted(suffixes):
            start = repeat.starts[0]
            if (repeat.length, start) in done:
                continue
            done.add((repeat.length, start))
            if self.struck_before[start + repeat.length] - self.struck_before[start] < strokes:
                continue
            starts = list(self.chosen(repeat))
            if len(starts) > 1:
                group = Group(self.texture.hands, tuple(self.place(one, repeat) for one in starts))
                if group.hands == "both" or not self.is_said_of_both(group, starts):
                    yield group

    def parted(self, suffixes: Suffixes) -> Iterator[Repeat]:
        """What comes again, without silence at its ends, and the parts of what plays a written measure twice."""
        known: set[tuple[int, int]] = set()
        for repeat in suffixes.repeats():
            repeat = self.trimmed(repeat, suffixes)
            if not repeat.length:
                continue
            yield repeat
            for start, length in self.parts(repeat):
                if (start, length) not in known:
                    known.add((start, length))
                    part = self.trimmed(suffixes.repeat_of(start, length), suffixes)
                    if part.length:
                        yield part

    def parts(self, repeat: Repeat) -> Iterator[tuple[int, int]]:
        """Start and length of each part, at the first place that plays a written measure twice; none if none does."""
        if self.is_straight:
            return
        for start in repeat.starts:
            end = start + repeat.length
            if self.single_until[start] < end:
                back = (one for one in range(start + 1, end) if self.order[one] <= self.order[one - 1])
                yield from ((one, other - one) for one, other in pairwise([start, *back, end]))
                return

    def trimmed(self, repeat: Repeat, suffixes: Suffixes) -> Repeat:
        """Without the silent measures at its ends, and then with every place of what is left."""
        start, end = repeat.starts[0], repeat.starts[0] + repeat.length
        while start < end and not self.texture.notes[self.order[start]]:
            start += 1
        while start < end and not self.texture.notes[self.order[end - 1]]:
            end -= 1
        if end - start == repeat.length:
            return repeat
        return suffixes.repeat_of(start, end - start) if start < end else Repeat(0, [])

    def chosen(self, repeat: Repeat) -> Iterator[int]:
        """One place of those that share written measures: the earliest."""
        used: set[int] = set()
        index = 0
        while index < len(repeat.starts):
            start = repeat.starts[index]
            end = start + repeat.length
            if self.is_straight or (end <= self.single_until[start] and self.is_free(start, end, used)):
                used.update(() if self.is_straight else self.order[start:end])
                yield start
                index = bisect_left(repeat.starts, end, index)
            else:
                index += 1

    def is_free(self, start: int, end: int, used: set[int]) -> bool:
        """Looks at the ends first: what overlaps mostly does so there, and long ranges are asked often."""
        if self.order[end - 1] in used:
            return False
        return all(self.order[one] not in used for one in range(start, end))

    @cached_property
    def single_until(self) -> list[int]:
        """For each played measure up to where one can play on without a written measure played twice."""
        found, end = [], 0
        inside: set[int] = set()
        for measure in self.order:
            while end < len(self.order) and self.order[end] not in inside:
                inside.add(self.order[end])
                end += 1
            found.append(end)
            inside.discard(measure)
        return found

    def place(self, start: int, repeat: Repeat) -> Place:
        measures = self.order[start : start + repeat.length]
        here, there = (self.texture.first[self.order[one]] for one in (repeat.starts[0], start))
        if here is None or there is None:
            return Place(measures)
        return Place(measures, there.pitch.midi - here.pitch.midi, steps_between(here, there))

    @cached_property
    def is_straight(self) -> bool:
        """No measure is played twice: places that do not overlap as played do not as written."""
        return len(set(self.order)) == len(self.order)

    @cached_property
    def of_both(self) -> tuple[list[int], list[int]]:
        """The shapes of what both hands play, in the order played, and the intervals between them."""
        return [self.whole.shape[measure] for measure in self.order], climbs(self.whole, self.order)

    def is_said_of_both(self, group: Group, starts: Sequence[int]) -> bool:
        """Whether a group of one hand, whose places start at these played measures, is the same in both hands at all of
        them."""
        shapes, links = self.of_both
        first, length = starts[0], group.measures
        height = self.whole.heights[self.order[first]] or 0
        return all(
            shapes[first : first + length] == shapes[start : start + length]
            and links[first : first + length - 1] == links[start : start + length - 1]
            and (self.whole.heights[self.order[start]] or 0) - height == place.semitones
            for start, place in zip(starts[1:], group.places[1:], strict=True)
        )


def climbs(texture: Texture, order: Sequence[int]) -> list[int]:
    """The semitones from each played measure's height to the next one's; across silence to what sounds after it."""
    found, height = [], 0
    for measure in order:
        now = texture.heights[measure]
        found.append(0 if now is None else now - height)
        height = height if now is None else now
    return found[1:]


def is_moved(group: Group) -> bool:
    return any(place.semitones for place in group.places)


def pairs(texture: Texture, place: Place, other: Place) -> dict[str, str]:
    """The ids of the notes of one place of a group, each with that of the same note at another place."""
    return {
        one.id: two.id
        for measure, there in zip(place.measures, other.measures, strict=True)
        for one, two in zip(texture.notes[measure], texture.notes[there], strict=True)
    }


# For each measure, at most one saying


def again(groups: Iterable[Group], measures: int) -> tuple[Again, ...]:
    """What each of `measures` written measures is best said to be again: first what both hands repeat, then what they
    play transposed, then one hand alone; the longest range first. Sayings do not overlap and stand in score order."""
    free = Free(measures)
    found: list[Again] = []
    for group, place in sorted(sayings(groups), key=preference):
        target, source = place.measures, group.places[0]
        if target != tuple(range(target[0], target[-1] + 1)) or source.last >= target[0]:
            continue
        for first, last in free.take(target[0], target[-1]):
            said = source.measures[first - target[0] : last + 1 - target[0]]
            if group.hands == "both" or len(said) >= LEAST_OF_ONE_HAND:
                found.append(Again(first, last, said, group.hands, place.semitones, place.steps))
    return tuple(sorted(found, key=lambda one: one.first))


def sayings(groups: Iterable[Group]) -> Iterator[tuple[Group, Place]]:
    for group in groups:
        for place in group.places[1:]:
            yield group, place


def preference(saying: tuple[Group, Place]) -> tuple[bool, bool, int, int]:
    group, place = saying
    return (group.hands != "both", bool(place.semitones), -len(place.measures), place.first)


class Free:
    """Which measures nothing has been said of; each is taken once, and finding the next free one costs next to
    nothing."""

    def __init__(self, measures: int) -> None:
        self.next = list(range(measures + 1))

    def find(self, measure: int) -> int:
        """The first free measure from this one on."""
        root = measure
        while self.next[root] != root:
            root = self.next[root]
        while self.next[measure] != root:
            self.next[measure], measure = root, self.next[measure]
        return root

    def take(self, first: int, last: int) -> Runs:
        """The free measures of a range, as ranges; they are free no more."""
        taken = []
        measure = self.find(first)
        while measure <= last:
            taken.append(measure)
            self.next[measure] = measure + 1
            measure = self.find(measure)
        return runs_of(taken)
