"""A score as the survey walks it: whole ticks instead of fractions, and each hand's strokes in order."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import lcm

from scores.music.notation import SIDES, Hands, Note, Score, Side
from scores.music.survey.words import Finding, Kind, Options
from scores.music.tempo import FASTEST, SLOWEST

ORDINARY_TEMPO = 80  # quarters a minute, where neither the caller nor the file names one; as for ornaments


@dataclass(slots=True)
class Stroke:
    """What one hand strikes at once, graces left out. `at` and `ends` (when each key is let go as written, ties joined)
    in ticks; `notes` from low to high."""

    at: int
    notes: list[Note]
    keys: list[int]
    ends: list[int]

    @property
    def low(self) -> int:
        return self.keys[0]

    @property
    def high(self) -> int:
        return self.keys[-1]

    @property
    def is_rolled(self) -> bool:
        return any(sign.kind == "arpeggiate" for note in self.notes for sign in note.ornaments)


class Timeline:
    """One pass over the notes. `ticks` to a quarter, so that every onset and length is a whole number."""

    def __init__(self, score: Score, options: Options) -> None:
        self.score = score
        self.options = options
        self.ticks = lcm(*{time.denominator for note in score.notes for time in (note.onset, note.length)})
        self.strokes: dict[Side, list[Stroke]] = {side: [] for side in SIDES}
        self.graces: list[Note] = []
        self._known: dict[Fraction, int] = {}
        self._read(score.notes)
        self._marks = sorted((mark.onset, mark.quarters) for mark in score.tempos)
        self._mark_onsets = [onset for onset, _ in self._marks]
        self.at: dict[Side, list[int]] = {side: [stroke.at for stroke in self.strokes[side]] for side in SIDES}
        self.gaps: dict[Side, list[float]] = {side: self._gaps(self.at[side]) for side in SIDES}

    def _read(self, notes: Iterable[Note]) -> None:
        open_ties: dict[tuple[Side, int, str], tuple[Stroke, int]] = {}
        for note in notes:
            if note.grace is not None:
                self.graces.append(note)
                continue
            at, end, key = self.tick(note.onset), self.tick(note.onset) + self.tick(note.length), note.pitch.midi
            lane = (note.side, key, note.voice)
            if note.tie_stop:
                started = open_ties.pop(lane, None)
                if started is not None:
                    stroke, place = started
                    stroke.ends[place] = max(stroke.ends[place], end)
                    if note.tie_start:
                        open_ties[lane] = started
                continue
            line = self.strokes[note.side]
            if not line or line[-1].at != at:
                line.append(Stroke(at, [], [], []))
            stroke = line[-1]
            if note.tie_start:
                open_ties[lane] = (stroke, len(stroke.notes))
            stroke.notes.append(note)
            stroke.keys.append(key)
            stroke.ends.append(end)

    def tick(self, time: Fraction) -> int:
        found = self._known.get(time)
        if found is None:
            found = self._known[time] = time.numerator * (self.ticks // time.denominator)
        return found

    def tempo_at(self, onset: Fraction) -> Fraction:
        """Quarters a minute: as asked for, else as marked, within what a metronome has."""
        if self.options.tempo is not None:
            return Fraction(self.options.tempo)
        if not self._marks:
            return Fraction(ORDINARY_TEMPO)
        place = max(0, bisect_right(self._mark_onsets, onset) - 1)
        return min(max(self._marks[place][1], Fraction(SLOWEST)), Fraction(FASTEST))

    def _gaps(self, at: Sequence[int]) -> list[float]:
        """Seconds from each stroke to the next, at the tempo that holds there."""
        seconds = [60 / float(self.tempo_at(onset)) / self.ticks for onset, _ in self._marks]
        if not seconds or self.options.tempo is not None:
            seconds = [60 / float(self.tempo_at(Fraction(0))) / self.ticks]
            turns: list[int] = []
        else:
            turns = [-int(-onset * self.ticks // 1) for onset in self._mark_onsets[1:]]
        gaps, place = [], 0
        for here, after in pairwise(at):
            while place < len(turns) and turns[place] <= here:
                place += 1
            gaps.append((after - here) * seconds[place])
        return gaps

    def seconds(self, side: Side, place: int) -> float:
        """From a stroke of the hand to its next one."""
        return self.gaps[side][place]

    def notes_from(self, onset: Fraction, measure: int) -> list[Note]:
        """The notes of a measure that stand at a moment, or at the next moment that has any."""
        notes = self.score.notes
        place = bisect_left(notes, onset, key=lambda note: note.onset)
        found: list[Note] = []
        while place < len(notes) and (not found or notes[place].onset == found[0].onset):
            if notes[place].measure > measure:
                break
            if notes[place].measure == measure:
                found.append(notes[place])
            place += 1
        return found

    def finding(
        self,
        kind: Kind,
        notes: Sequence[Note],
        hand: Hands,
        message: str,
        params: Mapping[str, str | int] | None = None,
        *,
        detail: str = "",
        last: Note | None = None,
        anchor: Note | None = None,
    ) -> Finding:
        """A finding at the first of the notes (or at `anchor`), up to the last of them (or to `last`)."""
        first, end = anchor or notes[0], last or notes[-1]
        measure, closing = self.score.measures[first.measure], self.score.measures[max(first.measure, end.measure)]
        return Finding(
            kind=kind,
            measure=measure.index,
            number=measure.number,
            beat=measure.beat_of(first.onset),
            onset=first.onset,
            hand=hand,
            notes=tuple(dict.fromkeys(note.id for note in notes)),
            message=message,
            params=params or {},
            detail=detail,
            last_measure=closing.index,
            last_number=closing.number,
            anchor=first.id if first is not notes[0] else "",
        )


def runs(flags: Iterable[object], least: int = 1) -> list[tuple[int, int]]:
    """Ranges (first, after the last) of equal values that are true, at least `least` long."""
    found: list[tuple[int, int]] = []
    start, before, place = 0, None, -1
    for place, flag in enumerate(flags):
        if flag != before:
            if before and place - start >= least:
                found.append((start, place))
            start, before = place, flag
    if before and place + 1 - start >= least:
        found.append((start, place + 1))
    return found
