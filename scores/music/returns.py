"""Where the very notes of a stretch come again: note for note, as they were or transposed.

Unlike the ranges of `recurrences`, a stretch may begin and end inside a measure. It returns where the same keys, or all
the same number of semitones away, are struck by the same hands at the same places of as many measures, written or
played one after the other, and nothing else by these hands between its first and its last moment.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from scores.music.notation import Hands, Note, Score, moment_key
from scores.music.order import play_order
from scores.music.recurrences import STROKES, STROKES_TRANSPOSED, Runs, runs_of
from scores.music.texture import Spot, Texture, spot_of, steps_between, textures_of


@dataclass(frozen=True, slots=True)
class Return:
    """A place where a stretch comes again, `semitones` and letter `steps` higher: in `measures` (indexes, as played),
    each note of the stretch there in `notes`, id to id, in the order of the music."""

    measures: tuple[int, ...]
    semitones: int
    steps: int
    notes: dict[str, str]

    @property
    def first(self) -> int:
        return min(self.measures)

    @property
    def last(self) -> int:
        return max(self.measures)

    @property
    def runs(self) -> Runs:
        return runs_of(sorted(set(self.measures)))


@dataclass(frozen=True, slots=True)
class Bar:
    """What a stretch has of one measure: of the first from `low` on, of the last up to `high`, of others all."""

    measure: int
    notes: tuple[Note, ...]
    low: Spot | None = None
    high: Spot | None = None

    @property
    def is_whole(self) -> bool:
        return self.low is None and self.high is None


class Weave:
    """A score made ready to be asked where stretches come again; what was asked is remembered."""

    def __init__(self, score: Score) -> None:
        self.score = score
        self.known: dict[tuple[str, str, Hands], tuple[Return, ...]] = {}

    @cached_property
    def order(self) -> tuple[int, ...]:
        return play_order(self.score.measures)

    @cached_property
    def textures(self) -> dict[Hands, Texture]:
        return textures_of(self.score)

    def returns(self, first: str, last: str, hands: Hands) -> tuple[Return, ...]:
        """Every place, in score order, where the notes from the moment of `first` to that of `last` come again; one of
        those that share notes: an exact one, else the earliest. None for a stretch of less than `STROKES` moments, none
        transposed for one of less than `STROKES_TRANSPOSED`. Raises `KeyError` for a note that is not there."""
        key = (first, last, hands)
        if key not in self.known:
            self.known[key] = self.found(*self.in_order(first, last), hands)
        return self.known[key]

    def in_order(self, first: str, last: str) -> tuple[Note, Note]:
        start, end = self.score.by_id[first], self.score.by_id[last]
        return (start, end) if moment_key(start) <= moment_key(end) else (end, start)

    def found(self, start: Note, end: Note, hands: Hands) -> tuple[Return, ...]:
        bars = self.bars(start, end, hands)
        struck = {moment_key(note) for bar in bars for note in bar.notes if note.is_attack}
        if len(struck) < STROKES:
            return ()
        used = {note.id for bar in bars for note in bar.notes}
        chosen: list[Return] = []
        every = [one for measures in self.candidates(bars) for one in self.compared(bars, measures, hands)]
        for one in sorted(every, key=lambda one: (bool(one.semitones), one.measures)):
            if used.isdisjoint(one.notes.values()) and (not one.semitones or len(struck) >= STROKES_TRANSPOSED):
                used.update(one.notes.values())
                chosen.append(one)
        return tuple(sorted(chosen, key=lambda one: one.measures))

    def bars(self, start: Note, end: Note, hands: Hands) -> list[Bar]:
        """The stretch, measure by measure."""
        low = moment_key(start) if start.is_grace else (start.onset, -1)
        high = moment_key(end)
        found = []
        for index in range(start.measure, end.measure + 1):
            notes = self.textures[hands].notes[index]
            inside = tuple(note for note in notes if low <= moment_key(note) <= high)
            spot = spot_of(self.score.measures[start.measure], start)
            found.append(
                Bar(
                    index,
                    inside,
                    (spot if start.is_grace else (spot[0], -1)) if index == start.measure else None,
                    spot_of(self.score.measures[end.measure], end) if index == end.measure else None,
                )
            )
        return found

    def candidates(self, bars: Sequence[Bar]) -> Iterator[tuple[int, ...]]:
        """As many measures in a row, written or played, as the stretch has."""
        count = len(bars)
        for start in range(len(self.score.measures) - count + 1):
            yield tuple(range(start, start + count))
        for place in range(len(self.order) - count + 1):
            measures = self.order[place : place + count]
            if measures[-1] - measures[0] != count - 1:
                yield measures

    def compared(self, bars: Sequence[Bar], measures: Sequence[int], hands: Hands) -> Iterator[Return]:
        """The return at these measures, if there is one."""
        texture = self.textures[hands]
        notes: list[tuple[Note, Note]] = []
        if len(set(measures)) < len(measures):
            return
        for bar, index in zip(bars, measures, strict=True):
            there = texture.notes[index]
            if bar.is_whole:
                if texture.shape[bar.measure] != texture.shape[index]:
                    return
            else:
                there = self.between(there, bar)
                if not self.alike(bar, there):
                    return
            notes += zip(bar.notes, there, strict=True)
        semitones = {two.pitch.midi - one.pitch.midi for one, two in notes}
        if len(semitones) == 1:
            one, two = notes[0]
            yield Return(
                tuple(measures), semitones.pop(), steps_between(one, two), {one.id: two.id for one, two in notes}
            )

    @cached_property
    def spots(self) -> dict[str, Spot]:
        """Where each note stands in its measure."""
        return {note.id: spot_of(self.score.measures[note.measure], note) for note in self.score.notes}

    def between(self, notes: Sequence[Note], bar: Bar) -> tuple[Note, ...]:
        """Those of a measure's notes that stand where the bar's may."""
        low, high, spots = bar.low, bar.high, self.spots
        return tuple(
            note
            for note in notes
            if (low is None or low <= spots[note.id]) and (high is None or spots[note.id] <= high)
        )

    def alike(self, bar: Bar, there: Sequence[Note]) -> bool:
        """Whether the notes stand at the same places, in the same hands, and are held as long."""
        return len(bar.notes) == len(there) and all(
            (one.side, one.tie_stop, self.spots[one.id], one.length)
            == (two.side, two.tie_stop, self.spots[two.id], two.length)
            for one, two in zip(bar.notes, there, strict=True)
        )
