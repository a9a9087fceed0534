"""What is played of a passage, as data: every key that is struck with its exact place and length, the beats under it,
and where a repetition begins again. Repeats of the score are not unfolded; a passage is played as it stands.

Times are exact quarters from the start of the piece, tempo is quarters a minute.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from math import ceil
from typing import Any

from scores.music.notation import Measure, Note, Placement, Score, Side, Tempo, moment_key
from scores.music.ornaments import Choice, Realised, Sounding, realise
from scores.music.refusal import Refusal
from scores.music.tempo import FASTEST, SLOWEST, Number

ORDINARY = Fraction(90)  # Quarters a minute where neither the edition nor anyone else says; set by hand.
ZERO = Fraction(0)
MOST_BEATS = 100_000
Inside = Callable[[Note], bool]


class NothingSounds(Refusal):
    """There is nothing to play here; the sentence says why."""


@dataclass(frozen=True, slots=True)
class Struck:
    """A key that is struck. `note` is the id of the written note it comes from, `ornament` the key of the ornament it
    belongs to, or "", and `order` its place among that ornament's notes. `shared`: another note strikes this key at
    this very moment."""

    onset: Fraction
    length: Fraction
    key: int
    side: Side
    note: str
    ornament: str = ""
    shared: bool = False
    order: int = 0

    @property
    def end(self) -> Fraction:
        return self.onset + self.length


@dataclass(frozen=True, slots=True)
class Beat:
    """A beat of the metre. `weight` is 2 for the first of a measure, 1 for a beat as it is felt, 0 for the eighths
    inside a felt beat of three (6/8 has two beats; common practice)."""

    onset: Fraction
    weight: int


@dataclass(frozen=True)
class Heard:
    """What sounds from `start` to `end`. A repetition begins again at `turn`: the first place at or after the end that
    stands in its measure where the start stands in its own, so that the beat goes on.

    `notes` in order of onset; an ornament before the first beat lies before `start`. `tempo` is the edition's own mark
    at the start, None without one; `tempos` are its later marks. `ornaments` are those of the passage.
    """

    start: Fraction
    end: Fraction
    turn: Fraction
    opening: Measure
    closing: Measure
    measures: tuple[Measure, ...]
    notes: tuple[Struck, ...]
    ornaments: tuple[Realised, ...] = ()
    tempo: Fraction | None = None
    tempos: tuple[Tempo, ...] = ()

    @cached_property
    def beats(self) -> tuple[Beat, ...]:
        """The beats from `start` to `turn`; after the last measure its metre goes on."""
        found: list[Beat] = []
        for measure in self.measures:
            until = max(self.turn, measure.end) if measure is self.measures[-1] else measure.end
            found.extend(beat for beat in beats_of(measure, until) if self.start <= beat.onset < self.turn)
        return tuple(found)

    def count_in(self, measures: int) -> tuple[Beat, ...]:
        """The beats of so many whole measures before the one that the passage begins in, and those up to its first
        note: a passage that begins on the fourth beat is counted 1 2 3 4 1 2 3."""
        first = bar_of(self.opening) - measures * self.opening.nominal
        if measures < 1:
            return ()
        before = replace(self.opening, index=-1, start=first, length=self.opening.nominal)
        return tuple(beat for beat in beats_of(before, self.start) if beat.onset < self.start)


def between(
    score: Score,
    first: str,
    last: str,
    choices: Mapping[str, Choice | Placement] | None = None,
    *,
    placement: Placement = "on",
    tempo: Number | None = None,
) -> Heard:
    """What sounds from the moment of note `first` to that of note `last`, both hands, ornaments as chosen.

    `tempo` is that for which ornaments are written out (see `ornaments.realise`); played slower, the same notes are
    slower. Raises `KeyError` for an unknown id, `NothingSounds` and `BadTempo`.
    """
    start, stop = sorted((score.by_id[first], score.by_id[last]), key=moment_key)
    low = moment_key(start) if start.is_grace else (start.onset, -1)
    high = moment_key(stop)
    return _heard(
        score,
        (start.measure, stop.measure),
        lambda note: low <= moment_key(note) <= high,
        choices,
        placement,
        tempo,
    )


def in_span(
    score: Score,
    start: Fraction,
    end: Fraction,
    choices: Mapping[str, Choice | Placement] | None = None,
    *,
    placement: Placement = "on",
    tempo: Number | None = None,
) -> Heard:
    """What is struck from `start` up to `end` quarters, as for a cycle of a drill: it is repeated at its very end.

    Raises `NothingSounds` and `BadTempo`.
    """
    touched = [measure.index for measure in score.measures if measure.start < end and measure.end > start]
    if not touched:
        raise NothingSounds("Nothing is struck there.")
    heard = _heard(
        score,
        (touched[0], touched[-1]),
        lambda note: start <= note.onset < end,
        choices,
        placement,
        tempo,
        ends=(start, end),
    )
    return replace(heard, turn=end)


def whole(
    score: Score,
    choices: Mapping[str, Choice | Placement] | None = None,
    *,
    placement: Placement = "on",
    tempo: Number | None = None,
) -> Heard:
    """The whole piece, once through, from the first measure's start. Raises `NothingSounds` and `BadTempo`."""
    if not score.measures:
        raise NothingSounds("Nothing is struck there.")
    ends = (score.measures[0].start, max(score.measures[-1].end, *(note.end for note in score.notes), ZERO))
    return _heard(score, (0, len(score.measures) - 1), lambda note: True, choices, placement, tempo, ends=ends)


def _heard(
    score: Score,
    span: tuple[int, int],
    inside: Inside,
    choices: Mapping[str, Choice | Placement] | None,
    placement: Placement,
    tempo: Number | None,
    ends: tuple[Fraction, Fraction] | None = None,
) -> Heard:
    # An ornament before the beat takes from the measure before; nothing further away changes what is heard.
    near = replace(score, notes=score.in_measures(span[0] - 1, span[1] + 1), rests=())
    notes = [note for note in near.notes if inside(note)]
    if not notes:
        raise NothingSounds("Nothing is struck there.")
    start, end = ends or (min(note.onset for note in notes), max(note.end for note in notes))
    performance = realise(near, choices, placement=placement, tempo=tempo)
    measures = score.measures[span[0] : span[1] + 1]
    opening = next((one for one in reversed(measures) if one.start <= start), measures[0])
    return Heard(
        start=start,
        end=end,
        turn=turn_after(start, end, opening, measures[-1]),
        opening=opening,
        closing=measures[-1],
        measures=measures,
        notes=_struck(performance.notes, near.notes, notes, start, end),
        ornaments=tuple(one for one in performance.ornaments if inside(near.by_id[one.note])),
        tempo=_tempo_at(score, start),
        tempos=tuple(mark for mark in score.tempos if start < mark.onset < end),
    )


def _struck(
    sounding: Iterable[Sounding], near: Iterable[Note], inside: Iterable[Note], start: Fraction, end: Fraction
) -> tuple[Struck, ...]:
    """The strokes of the notes inside. A key tied over from before the start is struck with it, since it is written
    there; nothing is held beyond the end."""
    own = {note.id for note in inside}
    attacks = attacks_of(near)
    over = {attacks[note.id]: note for note in inside if attacks.get(note.id, note.id) not in own}
    found = []
    met: Counter[str] = Counter()
    for one in sounding:
        order = met[one.ornament]
        met[one.ornament] += 1
        onset, tied = one.onset, over.get(one.source)
        if tied is not None and one.end > tied.onset:
            onset = max(onset, tied.onset)
        elif one.source not in own:
            continue
        length = min(one.end, end) - onset
        if length > 0:
            struck = Struck(onset, length, one.pitch.midi, one.side, one.source, one.ornament, one.shared)
            found.append(replace(struck, order=order) if one.ornament else struck)
    return tuple(sorted(found, key=lambda one: (one.onset, one.key, one.side)))


def attacks_of(notes: Iterable[Note]) -> dict[str, str]:
    """For every note that is tied to one before it the id of the note that was struck."""
    open_ties: dict[tuple[Side, str, int], str] = {}
    found: dict[str, str] = {}
    for note in notes:
        lane = (note.side, note.voice, note.pitch.midi)
        attack = open_ties.pop(lane, None) if note.tie_stop else None
        if attack is not None:
            found[note.id] = attack
        if note.tie_start:
            open_ties[lane] = attack or note.id
    return found


def _tempo_at(score: Score, onset: Fraction) -> Fraction | None:
    """The edition's mark in force, within what anyone plays at."""
    marks = [mark.quarters for mark in score.tempos if mark.onset <= onset]
    return min(max(marks[-1], Fraction(SLOWEST)), Fraction(FASTEST)) if marks else None


def bar_of(measure: Measure) -> Fraction:
    """Where the measure would begin if it were whole: a pick-up stands at the end of one."""
    return measure.end - measure.nominal if measure.is_pickup else measure.start


def turn_after(start: Fraction, end: Fraction, opening: Measure, closing: Measure) -> Fraction:
    """The first place at or after `end` that stands in the closing measure's metre where `start` stands in its own."""
    place = bar_of(closing) + (start - bar_of(opening)) % closing.nominal
    return place + max(0, ceil((end - place) / closing.nominal)) * closing.nominal


def felt(measure: Measure) -> int:
    """How many units of the time signature make one beat as it is felt: three in 6/8, 9/8, 12/8 and their like
    (common practice), else one."""
    return 3 if measure.beat_type >= 8 and measure.beats > 3 and measure.beats % 3 == 0 else 1


def beats_of(measure: Measure, until: Fraction) -> tuple[Beat, ...]:
    """The beats from the measure's start up to `until`, its metre going on beyond its end. At most `MOST_BEATS`."""
    unit, group = Fraction(4, measure.beat_type), felt(measure)
    bar = bar_of(measure)
    count = min(ceil((until - bar) / unit), MOST_BEATS)
    skipped = ceil((measure.start - bar) / unit)
    return tuple(
        Beat(bar + place * unit, 2 if place % measure.beats == 0 else 1 if place % measure.beats % group == 0 else 0)
        for place in range(skipped, count)
    )


def to_data(heard: Heard) -> dict[str, Any]:
    """`heard` as JSON-able data; times are fractions of a quarter as text ("7/3").

    `notes`: [onset, length, key, hand ("r", "l"), note id, ornament or "", 1 where shared, order in the ornament];
    `beats`: [onset, weight]; `count`: the beats of two measures of count-in, `bar` and `nominal` where the first
    measure begins and how long it is; `tempo` quarters a minute or null; `tempos`: [onset, factor of the first].
    """
    first = heard.tempo or (heard.tempos[0].quarters if heard.tempos else ORDINARY)
    tempos = [[str(mark.onset), float(mark.quarters / first)] for mark in heard.tempos]
    return {
        "start": str(heard.start),
        "end": str(heard.end),
        "turn": str(heard.turn),
        "bar": str(bar_of(heard.opening)),
        "nominal": str(heard.opening.nominal),
        "tempo": round(float(heard.tempo), 2) if heard.tempo else None,
        "tempos": [[str(heard.start), 1.0], *tempos] if tempos else [],
        "notes": [
            [str(one.onset), str(one.length), one.key, one.side[0], one.note, one.ornament, int(one.shared), one.order]
            for one in heard.notes
        ],
        "beats": [[str(beat.onset), beat.weight] for beat in heard.beats],
        "count": [[str(beat.onset), beat.weight] for beat in heard.count_in(2)],
        "keys": sorted({one.key for one in heard.notes}),
    }
