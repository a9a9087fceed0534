"""Two editions' readings of the same measures side by side, with what differs marked. Data only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal

from scores.music.notation import SIDES, Measure, Moment, Note, Score, Side, held_until, moments
from scores.music.refusal import Refusal

Kind = Literal["measure", "metre", "key", "note", "pitch", "spelling", "rhythm", "ornament", "fingering", "hand"]

# What it costs to set two moments beside each other; a moment that stands alone costs `ALONE`.
ALONE = 4
OTHER_PITCHES = 4
SOME_OTHER_PITCHES = 2
OTHER_PLACE = 1
GRACE_OR_NOT = 2


class NoReadings(Refusal):
    """The measures asked for are not there."""


@dataclass(frozen=True, slots=True)
class Difference:
    """What differs at one place. `measure` is the printed number, `at` quarters from the bar line, `first` and
    `second` what each edition has in letters ("" for nothing), the id lists the notes concerned.

    Kinds: "measure" one edition lacks the measure; "metre" and "key"; "note" one has notes the other lacks; "pitch";
    "spelling" the same key spelled otherwise; "rhythm" another place or length; "ornament" a sign or grace;
    "fingering"; "hand" the same note in the other hand.
    """

    kind: Kind
    measure: str
    at: Fraction
    side: Side | None
    first: str
    second: str
    first_ids: tuple[str, ...] = ()
    second_ids: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MeasurePair:
    """One measure in both editions: indexes into their measures, None where an edition lacks it."""

    number: str
    first: int | None
    second: int | None
    differences: tuple[Difference, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """The measures in order. `alike`: nothing differs."""

    pairs: tuple[MeasurePair, ...]

    @property
    def differences(self) -> tuple[Difference, ...]:
        return tuple(one for pair in self.pairs for one in pair.differences)

    @property
    def alike(self) -> bool:
        return not self.differences

    def marks(self) -> tuple[dict[str, tuple[Kind, ...]], dict[str, tuple[Kind, ...]]]:
        """For each edition: note id -> the kinds of difference there."""
        first: dict[str, list[Kind]] = defaultdict(list)
        second: dict[str, list[Kind]] = defaultdict(list)
        for one in self.differences:
            for marked, ids in ((first, one.first_ids), (second, one.second_ids)):
                for name in ids:
                    if one.kind not in marked[name]:
                        marked[name].append(one.kind)
        return ({name: tuple(kinds) for name, kinds in first.items()}, {k: tuple(v) for k, v in second.items()})


def compare(
    first: Score, second: Score, start: int = 0, stop: int | None = None, *, second_start: int | None = None
) -> Comparison:
    """Compares the measures `start` to `stop` (indexes in `first`, both included; None: to the end) with the same
    measures of `second`: those with the same printed numbers, or, with `second_start`, those from that index on.

    Raises `NoReadings` when `first` lacks the measures or `second` has none of them.
    """
    last = len(first.measures) - 1 if stop is None else stop
    if not 0 <= start <= last < len(first.measures):
        raise NoReadings(
            "The first edition has measures 1 to %(count)d in order; %(start)d to %(stop)d are not all there.",
            {"count": len(first.measures), "start": start + 1, "stop": last + 1},
        )
    pairs = _paired(first, second, start, last, second_start)
    if all(other is None for _, other in pairs):
        raise NoReadings("The second edition has none of these measures.")
    one, two = _Reading(first), _Reading(second)
    return Comparison(tuple(_compare_measure(one, two, measure, other) for measure, other in pairs))


def _paired(
    first: Score, second: Score, start: int, last: int, second_start: int | None
) -> list[tuple[Measure, Measure | None]]:
    by_number: dict[str, Measure] = {}
    for measure in second.measures:
        by_number.setdefault(measure.number, measure)
    pairs = []
    for measure in first.measures[start : last + 1]:
        if second_start is None:
            pairs.append((measure, by_number.get(measure.number)))
        else:
            place = second_start + measure.index - start
            pairs.append((measure, second.measures[place] if 0 <= place < len(second.measures) else None))
    return pairs


class _Reading:
    """An edition's struck moments by measure and hand."""

    def __init__(self, score: Score) -> None:
        self.score = score
        self.held = held_until(score.notes)
        self._notes: dict[tuple[int, Side], list[Note]] = defaultdict(list)
        for note in score.notes:
            self._notes[(note.measure, note.side)].append(note)

    def moments(self, measure: Measure, side: Side) -> tuple[Moment, ...]:
        return moments(self._notes.get((measure.index, side), ()))

    def length(self, note: Note) -> Fraction:
        return self.held.get(note.id, note.end) - note.onset


def _place(measure: Measure, onset: Fraction) -> Fraction:
    """Quarters from the bar line; in a pick-up as if the measure were whole."""
    missing = measure.nominal - measure.length if measure.is_pickup else Fraction(0)
    return onset - measure.start + missing


def _compare_measure(one: _Reading, two: _Reading, first: Measure, second: Measure | None) -> MeasurePair:
    if second is None:
        missing = Difference("measure", first.number, Fraction(0), None, first.number, "")
        return MeasurePair(first.number, first.index, None, (missing,))
    found = list(_signatures(first, second))
    for side in SIDES:
        aligned = _aligned(
            [(moment, _place(first, moment.onset)) for moment in one.moments(first, side)],
            [(moment, _place(second, moment.onset)) for moment in two.moments(second, side)],
        )
        for left, right in aligned:
            found += _compare_moments(one, two, first.number, side, left, right)
    return MeasurePair(first.number, first.index, second.index, _hands_changed(found))


def _signatures(first: Measure, second: Measure) -> Iterable[Difference]:
    zero = Fraction(0)
    if (first.beats, first.beat_type) != (second.beats, second.beat_type):
        metres = (f"{first.beats}/{first.beat_type}", f"{second.beats}/{second.beat_type}")
        yield Difference("metre", first.number, zero, None, *metres)
    if first.fifths != second.fifths:
        yield Difference("key", first.number, zero, None, str(first.fifths), str(second.fifths))


Placed = tuple[Moment, Fraction]
Aligned = list[tuple[Placed | None, Placed | None]]


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


def _aligned(first: Sequence[Placed], second: Sequence[Placed]) -> Aligned:
    """The cheapest way to set two rows of moments side by side, gaps allowed."""
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


def _compare_moments(
    one: _Reading, two: _Reading, number: str, side: Side, left: Placed | None, right: Placed | None
) -> list[Difference]:
    if left is None or right is None:
        placed = left or right
        assert placed is not None
        notes, at = placed[0].notes, placed[1]
        kind: Kind = "ornament" if placed[0].is_grace else "note"
        if left:
            return [Difference(kind, number, at, side, _pitches(notes), "", _ids(notes), ())]
        return [Difference(kind, number, at, side, "", _pitches(notes), (), _ids(notes))]
    found: list[Difference] = []

    def differ(kind: Kind, first: str, second: str, first_notes: Sequence[Note], second_notes: Sequence[Note]) -> None:
        found.append(Difference(kind, number, left[1], side, first, second, _ids(first_notes), _ids(second_notes)))

    same, only_left, only_right = _matched(left[0].notes, right[0].notes)
    if only_left or only_right:
        differ("pitch", _pitches(only_left), _pitches(only_right), only_left, only_right)
    for mine, theirs in same:
        if mine.pitch != theirs.pitch:
            differ("spelling", _name(mine), _name(theirs), [mine], [theirs])
    if left[0].is_grace != right[0].is_grace:
        differ("ornament", _grace_word(left[0]), _grace_word(right[0]), left[0].notes, right[0].notes)
    else:
        _rhythms(one, two, left, right, same, differ)
    for mine, theirs in same:
        if _signs(mine) != _signs(theirs):
            differ("ornament", ", ".join(_signs(mine)), ", ".join(_signs(theirs)), [mine], [theirs])
        if mine.printed != theirs.printed:
            differ("fingering", mine.printed, theirs.printed, [mine], [theirs])
    return found


def _rhythms(
    one: _Reading, two: _Reading, left: Placed, right: Placed, same: list[tuple[Note, Note]], differ: Any
) -> None:
    mine, theirs = [pair[0] for pair in same], [pair[1] for pair in same]
    if left[1] != right[1]:
        differ("rhythm", f"@{left[1]}", f"@{right[1]}", mine or left[0].notes, theirs or right[0].notes)
        return
    for note, other in same:
        if one.length(note) != two.length(other):
            differ("rhythm", str(one.length(note)), str(two.length(other)), [note], [other])


def _matched(left: Sequence[Note], right: Sequence[Note]) -> tuple[list[tuple[Note, Note]], list[Note], list[Note]]:
    """Notes on the same keys in pairs, and what each has for itself."""
    others: dict[int, list[Note]] = defaultdict(list)
    for note in right:
        others[note.pitch.midi].append(note)
    same, alone = [], []
    for note in left:
        if others[note.pitch.midi]:
            same.append((note, others[note.pitch.midi].pop(0)))
        else:
            alone.append(note)
    return same, alone, [note for rest in others.values() for note in rest]


def _hands_changed(found: list[Difference]) -> tuple[Difference, ...]:
    """A note that one edition gives to the right hand and the other, at the same moment, to the left."""
    kept: list[Difference] = []
    waiting = [one for one in found if one.kind == "note"]
    for one in found:
        if one.kind != "note":
            kept.append(one)
            continue
        if one not in waiting:
            continue
        words = one.first or one.second
        partner = next(
            (
                other
                for other in waiting
                if other.side != one.side
                and other.at == one.at
                and (other.first or other.second) == words
                and bool(other.first) != bool(one.first)
            ),
            None,
        )
        waiting.remove(one)
        if partner is None:
            kept.append(one)
            continue
        waiting.remove(partner)
        mine, theirs = (one, partner) if one.first else (partner, one)
        kept.append(
            Difference(
                "hand",
                one.measure,
                one.at,
                mine.side,
                str(mine.side),
                str(theirs.side),
                mine.first_ids,
                theirs.second_ids,
            )
        )
    return tuple(sorted(kept, key=lambda one: (one.at, one.side or "")))


def _signs(note: Note) -> tuple[str, ...]:
    grace = ("slash",) if note.grace and note.grace.slash else ()
    return (*sorted(ornament.kind for ornament in note.ornaments), *grace)


def _grace_word(moment: Moment) -> str:
    return "grace" if moment.is_grace else "note"


def _name(note: Note) -> str:
    return f"{note.pitch.name}{note.pitch.octave}"


def _pitches(notes: Iterable[Note]) -> str:
    return " ".join(_name(note) for note in sorted(notes, key=lambda note: note.pitch.midi))


def _ids(notes: Iterable[Note]) -> tuple[str, ...]:
    return tuple(note.id for note in notes)


def to_data(comparison: Comparison) -> list[dict[str, Any]]:
    """The measures as JSON-able data; places are fractions of a quarter as text."""
    return [
        {
            "number": pair.number,
            "first": pair.first,
            "second": pair.second,
            "differences": [
                {
                    "kind": one.kind,
                    "at": str(one.at),
                    "hand": one.side,
                    "first": one.first,
                    "second": one.second,
                    "first_notes": list(one.first_ids),
                    "second_notes": list(one.second_ids),
                }
                for one in pair.differences
            ],
        }
        for pair in comparison.pairs
    ]
