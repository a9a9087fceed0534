"""A `notation.Score` as text and back, exactly: what is kept beside an edition.

One JSON object: "v", the version; the lists of measures, notes, rests and tempos as rows without names; and tables of
what repeats (fractions, pitches, ornaments), to which the rows point by number. So a page of notes stays small and
loads fast.
"""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

from scores.music.notation import Change, Grace, Measure, Note, Ornament, Pitch, Rest, Score, Side, Tempo, Tuplet, Words

VERSION = 1
PLAIN: tuple[Any, str, int, int] = (0, "", -1, -1)  # no tuplet, no fingering, no grace, no ornaments
SIDES: tuple[Side, Side] = ("right", "left")


class Table:
    """Values that repeat, each once: `at` gives the place of a value."""

    def __init__(self) -> None:
        self.places: dict[Any, int] = {}

    def at(self, value: Any) -> int:
        return self.places.setdefault(value, len(self.places))


def to_json(score: Score) -> str:
    """The score as compact text."""
    times, pitches, signs, graces = Table(), Table(), Table(), Table()
    notes = [note_row(note, times, pitches, signs, graces) for note in score.notes]
    rests = [
        [times.at(rest.onset), times.at(rest.length), rest.measure, SIDES.index(rest.side), rest.voice]
        for rest in score.rests
    ]
    measures = [measure_row(measure, times) for measure in score.measures]
    tempos = [[times.at(tempo.onset), times.at(tempo.quarters)] for tempo in score.tempos]
    words = [[times.at(one.onset), one.text] for one in score.words]
    changes = [[times.at(one.onset), one.kind, one.before, one.after] for one in score.changes]
    grace_rows = [
        [grace.order, int(grace.slash)]
        + [
            None if value is None else times.at(value)
            for value in (grace.steal_previous, grace.steal_following, grace.make_time)
        ]
        for grace in graces.places
    ]
    whole = {
        "v": VERSION,
        "title": score.title,
        "composer": score.composer,
        "times": [as_text(time) for time in times.places],
        "pitches": [[pitch.step, pitch.alter, pitch.octave] for pitch in pitches.places],
        "signs": [[[sign.kind, sign.options] for sign in row] for row in signs.places],
        "graces": grace_rows,
        "measures": measures,
        "notes": notes,
        "rests": rests,
        "tempos": tempos,
        "words": words,
        "changes": changes,
    }
    return json.dumps(whole, ensure_ascii=False, separators=(",", ":"))


def note_row(note: Note, times: Table, pitches: Table, signs: Table, graces: Table) -> list[Any]:
    row = [
        note.id,
        pitches.at(note.pitch),
        times.at(note.onset),
        times.at(note.length),
        note.measure,
        # Yes and no in one number: the left hand, a tie that starts, a tie that ends.
        SIDES.index(note.side) | note.tie_start << 1 | note.tie_stop << 2,
        note.staff,
        note.voice,
        note.type,
        note.dots,
    ]
    rest = [
        [note.tuplet.actual, note.tuplet.normal] if note.tuplet else 0,
        note.printed,
        graces.at(note.grace) if note.grace else -1,
        signs.at(note.ornaments) if note.ornaments else -1,
    ]
    return row if tuple(rest) == PLAIN else row + rest


def measure_row(measure: Measure, times: Table) -> list[Any]:
    row = [
        measure.index,
        measure.number,
        times.at(measure.start),
        times.at(measure.length),
        measure.beats,
        measure.beat_type,
        measure.fifths,
        int(measure.repeat_start) | int(measure.repeat_end) << 1,
        measure.ending,
    ]
    # What few measures have stands behind the row, so that what was stored before there was such a thing still reads.
    return row if (measure.times, measure.marks) == (2, ()) else [*row, measure.times, measure.marks]


def from_json(text: str) -> Score:
    """The score again. Raises `ValueError` for another version or text that `to_json` did not write."""
    try:
        whole = json.loads(text)
        version = whole["v"]
        if version != VERSION:
            raise ValueError(f"a stored score of version {version}, not {VERSION}")
        return built(whole)
    except (KeyError, IndexError, TypeError, AttributeError) as error:
        raise ValueError("no stored score") from error


def built(whole: dict[str, Any]) -> Score:
    times = [as_fraction(time) for time in whole["times"]]
    pitches = [Pitch(*row) for row in whole["pitches"]]
    signs: list[tuple[Ornament, ...]] = [
        tuple(Ornament(kind, tuple((name, value) for name, value in options)) for kind, options in row)
        for row in whole["signs"]
    ]
    graces: list[Grace | None] = [
        Grace(order, bool(slash), *(None if place is None else times[place] for place in places))
        for order, slash, *places in whole["graces"]
    ]
    signs.append(())  # what -1 points to: none
    graces.append(None)
    tuplets: dict[tuple[int, int], Tuplet] = {}
    notes = []
    for id_, pitch, onset, length, measure, flags, staff, voice, type_, dots, *rest in whole["notes"]:
        modification, printed, grace, ornaments = rest or PLAIN
        tuplet = None
        if modification:
            key = (modification[0], modification[1])
            tuplet = tuplets.get(key) or tuplets.setdefault(key, Tuplet(*key))
        notes.append(
            Note(
                id_,
                pitches[pitch],
                times[onset],
                times[length],
                measure,
                SIDES[flags & 1],
                staff,
                voice,
                type_,
                dots,
                tuplet,
                bool(flags & 2),
                bool(flags & 4),
                graces[grace],
                printed,
                signs[ornaments],
            )
        )
    return Score(
        measures=tuple(
            Measure(
                index,
                number,
                times[start],
                times[length],
                beats,
                unit,
                fifths,
                bool(marks & 1),
                bool(marks & 2),
                ending,
                *((more[0], tuple(more[1])) if more else ()),
            )
            for index, number, start, length, beats, unit, fifths, marks, ending, *more in whole["measures"]
        ),
        notes=tuple(notes),
        rests=tuple(
            Rest(times[onset], times[length], measure, SIDES[side], voice)
            for onset, length, measure, side, voice in whole["rests"]
        ),
        tempos=tuple(Tempo(times[onset], times[quarters]) for onset, quarters in whole["tempos"]),
        title=whole["title"],
        composer=whole["composer"],
        # Not yet known when the first scores were stored.
        words=tuple(Words(times[onset], text) for onset, text in whole.get("words", ())),
        changes=tuple(Change(times[onset], *rest) for onset, *rest in whole.get("changes", ())),
    )


def as_text(time: Fraction) -> int | str:
    """Whole numbers as they are, others as "numerator/denominator"."""
    return time.numerator if time.denominator == 1 else f"{time.numerator}/{time.denominator}"


def as_fraction(stored: int | str) -> Fraction:
    if isinstance(stored, int):
        return Fraction(stored)
    numerator, denominator = stored.split("/")
    return Fraction(int(numerator), int(denominator))
