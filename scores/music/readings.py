"""Two editions' readings of the same measures side by side, with what differs marked. Data only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal

from scores.music.aligning import Pair, Placed, Strokes, aligned_measures, aligned_moments, same_keys
from scores.music.notation import SIDES, Measure, Moment, Note, Score, Side, held_until
from scores.music.refusal import Refusal

Kind = Literal["measure", "metre", "key", "note", "pitch", "spelling", "rhythm", "ornament", "fingering", "hand"]


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


def compare(first: Score, second: Score, start: int = 0, stop: int | None = None) -> Comparison:
    """Compares the measures `start` to `stop` (indexes in `first`, both included; None: to the end) with those of
    `second` that stand for them, however they are numbered there.

    Raises `NoReadings` when `first` lacks the measures or `second` has none of them.
    """
    last = len(first.measures) - 1 if stop is None else stop
    if not 0 <= start <= last < len(first.measures):
        raise NoReadings(
            "The first edition has measures 1 to %(count)d in order; %(start)d to %(stop)d are not all there.",
            {"count": len(first.measures), "start": start + 1, "stop": last + 1},
        )
    one, two = _Reading(first), _Reading(second)
    pairs = _within(aligned_measures(one, two), start, last, len(first.measures))
    if all(other is None for _, other in pairs):
        raise NoReadings("The second edition has none of these measures.")
    return Comparison(tuple(_compare_measure(one, two, mine, theirs) for mine, theirs in pairs))


def _within(pairs: list[Pair], start: int, last: int, count: int) -> list[Pair]:
    """The pairs of these measures, with what the second edition puts in between them, and before the first or after the
    last where these are the ends of the piece."""
    places = [place for place, (mine, _) in enumerate(pairs) if mine is not None and start <= mine <= last]
    low = 0 if start == 0 else places[0]
    high = len(pairs) if last == count - 1 else places[-1] + 1
    return pairs[low:high]


class _Reading(Strokes):
    """An edition's struck moments by measure and hand, and how long each note sounds."""

    def __init__(self, score: Score) -> None:
        super().__init__(score)
        self.held = held_until(score.notes)

    def length(self, note: Note) -> Fraction:
        return self.held.get(note.id, note.end) - note.onset


def _compare_measure(one: _Reading, two: _Reading, mine: int | None, theirs: int | None) -> MeasurePair:
    first = one.score.measures[mine] if mine is not None else None
    second = two.score.measures[theirs] if theirs is not None else None
    if first is None or second is None:
        numbers = (first.number if first else "", second.number if second else "")
        lacking = Difference("measure", "".join(numbers), Fraction(0), None, *numbers)
        return MeasurePair(lacking.measure, mine, theirs, (lacking,))
    found = list(_signatures(first, second))
    for side in SIDES:
        for left, right in aligned_moments(one.moments(first, side), two.moments(second, side)):
            found += _compare_moments(one, two, first.number, side, left, right)
    return MeasurePair(first.number, first.index, second.index, _hands_changed(found))


def _signatures(first: Measure, second: Measure) -> Iterable[Difference]:
    zero = Fraction(0)
    if (first.beats, first.beat_type) != (second.beats, second.beat_type):
        metres = (f"{first.beats}/{first.beat_type}", f"{second.beats}/{second.beat_type}")
        yield Difference("metre", first.number, zero, None, *metres)
    if first.fifths != second.fifths:
        yield Difference("key", first.number, zero, None, str(first.fifths), str(second.fifths))


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

    same, only_left, only_right = same_keys(left[0].notes, right[0].notes)
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
