"""Two editions of a piece measure by measure, and two measures moment by moment, even where they are numbered, barred
off or filled otherwise."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterator, Sequence
from fractions import Fraction

from scores.music.notation import SIDES, Measure, Moment, Note, Score, Side, moments

# What it costs to set two moments beside each other; a moment that stands alone costs `ALONE`.
ALONE = 4
OTHER_PITCHES = 4
SOME_OTHER_PITCHES = 2
OTHER_PLACE = 1
GRACE_OR_NOT = 2

# Of measures: two that share nothing cost 1, one that stands alone `LEFT_OUT`; so a measure that was written anew is
# set beside the one it replaces, and a measure that was put in stands alone.
LEFT_OUT = 0.55
BAND = 24  # measures to either side of the straight way between two anchors that are looked at

Pair = tuple[int | None, int | None]
Stroke = tuple[Side, Fraction, int]
Placed = tuple[Moment, Fraction]
Aligned = list[tuple[Placed | None, Placed | None]]


def place_in(measure: Measure, onset: Fraction) -> Fraction:
    """Quarters from the bar line; in a pick-up as if the measure were whole, so that an edition which writes its rests
    out has the same places."""
    missing = measure.nominal - measure.length if measure.is_pickup else Fraction(0)
    return onset - measure.start + missing


class Strokes:
    """What is struck in each measure of a score."""

    def __init__(self, score: Score) -> None:
        self.score = score
        self._notes: dict[tuple[int, Side], list[Note]] = defaultdict(list)
        self.inside: list[Counter[Stroke]] = [Counter() for _ in score.measures]
        for note in score.notes:
            self._notes[(note.measure, note.side)].append(note)
            if note.is_attack and not note.is_grace:
                place = place_in(score.measures[note.measure], note.onset)
                self.inside[note.measure][(note.side, place, note.pitch.midi)] += 1

    def moments(self, measure: Measure, side: Side) -> list[Placed]:
        """The moments of one hand in a measure with their places."""
        struck = moments(self._notes.get((measure.index, side), ()))
        return [(moment, place_in(measure, moment.onset)) for moment in struck]

    def held_over(self, index: int) -> Iterator[tuple[Fraction, Note]]:
        """The notes of a measure that are not struck, since they are tied in, with their places."""
        for side in SIDES:
            for note in self._notes.get((index, side), ()):
                if not note.is_attack:
                    yield place_in(self.score.measures[index], note.onset), note

    def prints(self) -> list[Hashable]:
        """Something equal for each two measures that strike the same."""
        return [frozenset(strokes.items()) for strokes in self.inside]


# Measures


def aligned_measures(first: Strokes, second: Strokes) -> list[Pair]:
    """The measures of two editions in pairs of indexes, in order, None where an edition lacks the measure.

    Measures that strike the same, and do so once only, hold the two editions together; what lies between is set side by
    side at least cost. Near-linear where the editions are alike.
    """
    ours, theirs = first.prints(), second.prints()
    unlike = _unlikeness(first, second, ours, theirs)
    return list(_between(unlike, ours, theirs, (0, len(ours)), (0, len(theirs))))


Span = tuple[int, int]
Unlike = Callable[[int, int], float]


def _between(unlike: Unlike, ours: list[Hashable], theirs: list[Hashable], here: Span, there: Span) -> Iterator[Pair]:
    """The pairs of a stretch of each edition."""
    (low, high), (start, stop) = here, there
    while low < high and start < stop and ours[low] == theirs[start]:
        yield low, start
        low, start = low + 1, start + 1
    alike = 0
    while low < high - alike and start < stop - alike and ours[high - alike - 1] == theirs[stop - alike - 1]:
        alike += 1
    high, stop = high - alike, stop - alike
    anchors = _anchors(ours, theirs, (low, high), (start, stop))
    if anchors:
        for one, other in [*anchors, (high, stop)]:
            yield from _between(unlike, ours, theirs, (low, one), (start, other))
            if one < high:
                yield one, other
            low, start = one + 1, other + 1
    else:
        yield from _cheapest(unlike, (low, high), (start, stop))
    yield from ((high + step, stop + step) for step in range(alike))


def _anchors(ours: list[Hashable], theirs: list[Hashable], here: Span, there: Span) -> list[tuple[int, int]]:
    """The longest row of pairs, in order in both, of measures that stand once in either stretch."""
    counts, others = Counter(ours[slice(*here)]), Counter(theirs[slice(*there)])
    places = {theirs[place]: place for place in range(*there)}
    pairs = [(place, places[ours[place]]) for place in range(*here) if counts[ours[place]] == others[ours[place]] == 1]
    return _rising(pairs)


def _rising(pairs: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """The longest part of the pairs whose second numbers rise, by patience sorting."""
    tails: list[int] = []
    last: list[int] = []
    before: list[int | None] = []
    for number, (_, other) in enumerate(pairs):
        pile = bisect_left(tails, other)
        before.append(last[pile - 1] if pile else None)
        tails[pile : pile + 1], last[pile : pile + 1] = [other], [number]
    found = []
    at = last[-1] if last else None
    while at is not None:
        found.append(pairs[at])
        at = before[at]
    return found[::-1]


def _cheapest(unlike: Unlike, here: Span, there: Span) -> Iterator[Pair]:
    """The stretch side by side at least cost, within a band around the straight way."""
    (low, high), (start, stop) = here, there
    rows, columns = high - low, stop - start
    reach = BAND + abs(rows - columns)
    costs: list[dict[int, tuple[float, int]]] = []  # column -> (cost, step taken: 0 pair, 1 ours alone, 2 theirs alone)
    for row in range(rows + 1):
        middle = row * columns // rows if rows else 0
        line: dict[int, tuple[float, int]] = {}
        above = costs[-1] if costs else {}
        for column in range(max(0, middle - reach), min(columns, middle + reach) + 1):
            ways = [(0.0, 0)] if not row and not column else []
            if column - 1 in above:
                ways.append((above[column - 1][0] + unlike(low + row - 1, start + column - 1), 0))
            if column in above:
                ways.append((above[column][0] + LEFT_OUT, 1))
            if column - 1 in line:
                ways.append((line[column - 1][0] + LEFT_OUT, 2))
            if ways:
                line[column] = min(ways)
        costs.append(line)
    yield from _walked(costs, low, start, rows, columns)


def _walked(costs: list[dict[int, tuple[float, int]]], low: int, start: int, rows: int, columns: int) -> Iterator[Pair]:
    """The way back through the table, told forwards."""
    found: list[Pair] = []
    row, column = rows, columns
    while row or column:
        step = costs[row][column][1]
        row, column = row - (step != 2), column - (step != 1)
        found.append((low + row if step != 2 else None, start + column if step != 1 else None))
    yield from reversed(found)


def _unlikeness(first: Strokes, second: Strokes, ours: list[Hashable], theirs: list[Hashable]) -> Unlike:
    """`_unlike` by indexes, reckoned once for measures that strike the same, however often they return."""
    numbers: dict[Hashable, int] = {}
    mine = [numbers.setdefault(one, len(numbers)) for one in ours]
    others = [numbers.setdefault(one, len(numbers)) for one in theirs]
    known: dict[tuple[int, int], float] = {}

    def unlike(one: int, other: int) -> float:
        pair = (mine[one], others[other])
        if pair not in known:
            known[pair] = 0.0 if pair[0] == pair[1] else _unlike(first.inside[one], second.inside[other])
        return known[pair]

    return unlike


def _unlike(ours: Counter[Stroke], theirs: Counter[Stroke]) -> float:
    """0 for measures that strike the same, 1 for two that share nothing; the place counts half."""
    total = ours.total() + theirs.total()
    if not total:
        return 0.0
    exact = (ours & theirs).total()
    keys = (_keys_of(ours) & _keys_of(theirs)).total()
    return 1 - (exact + keys) / total


def _keys_of(strokes: Counter[Stroke]) -> Counter[int]:
    keys: Counter[int] = Counter()
    for (_, _, key), count in strokes.items():
        keys[key] += count
    return keys


# Moments


def aligned_moments(first: Sequence[Placed], second: Sequence[Placed]) -> Aligned:
    """The cheapest way to set two rows of moments side by side, gaps allowed. Of several equally cheap ways it is the
    same one whichever edition comes first."""
    if _written(second) < _written(first):
        return [(mine, theirs) for theirs, mine in _cheapest_moments(second, first)]
    return _cheapest_moments(first, second)


def _written(row: Sequence[Placed]) -> list[tuple[Fraction, bool, list[int]]]:
    """A row of moments as something that can be put in order."""
    return [(place, moment.is_grace, sorted(_keys((moment, place)))) for moment, place in row]


def _cheapest_moments(first: Sequence[Placed], second: Sequence[Placed]) -> Aligned:
    keys, others = [_keys(one) for one in first], [_keys(one) for one in second]
    costs = [
        [_cost(one, other, mine, theirs) for other, theirs in zip(second, others, strict=True)]
        for one, mine in zip(first, keys, strict=True)
    ]
    if len(first) == len(second) and not any(costs[place][place] for place in range(len(first))):
        return list(zip(first, second, strict=True))
    rows, columns = len(first) + 1, len(second) + 1
    best = [[0] * columns for _ in range(rows)]
    for row in range(rows):
        for column in range(columns):
            ways = []
            if row:
                ways.append(best[row - 1][column] + ALONE)
            if column:
                ways.append(best[row][column - 1] + ALONE)
            if row and column:
                ways.append(best[row - 1][column - 1] + costs[row - 1][column - 1])
            best[row][column] = min(ways, default=0)
    pairs: Aligned = []
    row, column = rows - 1, columns - 1
    while row or column:
        if row and column and best[row][column] == best[row - 1][column - 1] + costs[row - 1][column - 1]:
            row, column = row - 1, column - 1
            pairs.append((first[row], second[column]))
        elif row and best[row][column] == best[row - 1][column] + ALONE:
            row -= 1
            pairs.append((first[row], None))
        else:
            column -= 1
            pairs.append((None, second[column]))
    return pairs[::-1]


def _keys(placed: Placed) -> frozenset[int]:
    return frozenset(note.pitch.midi for note in placed[0].notes)


def _cost(one: Placed, other: Placed, keys: frozenset[int], others: frozenset[int]) -> int:
    """How unlike two moments are."""
    cost = 0
    if keys != others:
        cost += SOME_OTHER_PITCHES if keys & others else OTHER_PITCHES
    if one[0].is_grace != other[0].is_grace:
        cost += GRACE_OR_NOT
    if one[1] != other[1]:
        # Other notes at another place have nothing to do with each other.
        cost += OTHER_PLACE if keys & others else 2 * ALONE
    return cost


def same_keys(left: Sequence[Note], right: Sequence[Note]) -> tuple[list[tuple[Note, Note]], list[Note], list[Note]]:
    """Notes on the same keys in pairs, and what each side has for itself. Where two voices meet on one key, a voice is
    paired with itself first."""
    same: list[tuple[Note, Note]] = []
    mine, theirs = list(left), list(right)
    for alike in (_same_voice, _same_key):
        for note in tuple(mine):
            partner = next((other for other in theirs if alike(note, other)), None)
            if partner:
                same.append((note, partner))
                mine.remove(note)
                theirs.remove(partner)
    return sorted(same, key=lambda pair: left.index(pair[0])), mine, theirs


def _same_key(one: Note, other: Note) -> bool:
    return one.pitch.midi == other.pitch.midi


def _same_voice(one: Note, other: Note) -> bool:
    return _same_key(one, other) and (one.voice, one.length) == (other.voice, other.length)


def same_notes(first: Score, second: Score) -> dict[str, str]:
    """The notes of `first` that `second` has too: id -> id. The same note is one on the same key, in the moment that
    stands beside its own; it may be longer or shorter there, or a little earlier or later."""
    one, two = Strokes(first), Strokes(second)
    found: dict[str, str] = {}
    for mine, theirs in aligned_measures(one, two):
        if mine is None or theirs is None:
            continue
        for side in SIDES:
            here = one.moments(first.measures[mine], side)
            for left, right in aligned_moments(here, two.moments(second.measures[theirs], side)):
                if left and right and left[0].is_grace == right[0].is_grace:
                    found.update((a.id, b.id) for a, b in same_keys(left[0].notes, right[0].notes)[0])
        held = {(place, note.pitch.midi): note.id for place, note in two.held_over(theirs)}
        for place, note in one.held_over(mine):
            if (place, note.pitch.midi) in held:
                found[note.id] = held[(place, note.pitch.midi)]
    return found
