"""What becomes of a passage and its notes in another reading of the same music: their places there, and what has none
any more. Changes nothing; `replacing` and `reattaching` do.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from scores import workshop
from scores.inheriting import KINDS, PassageNote
from scores.marking import beat_words
from scores.models import Cue, Fingering, OrnamentChoice, Passage, RhythmDrill
from scores.music.aligning import Strokes, aligned_measures, same_notes
from scores.music.crossrhythm import of_span
from scores.music.notation import Measure, Note, Score
from scores.music.refusal import Refusal
from scores.stretches import notes_in, place_of, stretch_of
from scores.wording import spoken

Fields = dict[str, Any]
AT_ONCE = 20_000  # notes of both scores that are set beside each other in this process
SECONDS, MEGABYTES = 60.0, 1024  # of longer ones
TOO_LONG = gettext_noop("Comparing these took too long and was stopped. Send the work one movement at a time.")


@dataclass(frozen=True)
class Left:
    """Something that has no place in the other reading. `kind` says what it was, `row` is the key of its row, `measure`
    and `beat` are where it stood, `what` is the note ("E flat 5") or "", `value` what was written."""

    kind: str
    row: int
    measure: str
    beat: str
    what: str
    value: str

    @property
    def words(self) -> str:
        """The sentence for the teacher."""
        where = _("Measure %(measure)s, beat %(beat)s:") % {"measure": self.measure, "beat": self.beat}
        return f"{where} {self.lost % {'what': self.what, 'value': self.value}}"

    @property
    def lost(self) -> str:
        return {
            "finger": _("%(what)s is not there; its finger %(value)s is left out."),
            "fingering": _("none of its notes is there; the line “%(value)s” is left out."),
            "ornament": _("%(what)s is not there; what was said of its ornament is left out."),
            "drill": _("the hands' rhythm is another one there; the drill is left out."),
            "cue": _("that measure is not there; the cue “%(value)s” is left out."),
            "cue note": _("the note of the cue “%(value)s” is not there; it stands at the measure."),
            "ends": _("the passage “%(value)s” began or ended on a note that is not there; it is shorter there."),
            "passage": _("none of the notes of the passage “%(value)s” is there; see where it stands then."),
        }[self.kind]


@dataclass(frozen=True)
class Way:
    """From one reading to another: `notes` maps ids, `measures` indexes, of what both have."""

    old: Score
    new: Score
    notes: dict[str, str]
    measures: dict[int, int]

    def measure(self, index: int) -> Measure | None:
        return self.new.measures[self.measures[index]] if index in self.measures else None

    def time(self, at: Fraction, *, is_end: bool = False) -> Fraction | None:
        """The same distance from the bar line of the same measure; an end belongs to the measure that it closes."""
        inside = [one for one in self.old.measures if one.start < at or (one.start == at and not is_end)]
        here = inside[-1] if inside else self.old.measures[0]
        there = self.measure(here.index)
        return None if there is None else there.start + at - here.start


def notes_shared(old: Score, new: Score) -> dict[str, str]:
    """`same_notes` of two scores; of long ones in a process of its own. Raises `Refusal` where that takes too long."""
    if len(old.notes) + len(new.notes) <= AT_ONCE:
        return same_notes(old, new)
    try:
        return workshop.run(same_notes, old, new, seconds=SECONDS, megabytes=MEGABYTES)
    except workshop.WorkshopFailed as failed:
        raise Refusal(TOO_LONG) from failed


def way_between(old: Score, new: Score, *, keeps_ids: bool = False) -> Way:
    """How the notes and measures of one score are found in another. With `keeps_ids` a note that both have goes by one
    id, which is the case for the files of one edition."""
    pairs = aligned_measures(Strokes(old), Strokes(new))
    measures = {mine: theirs for mine, theirs in pairs if mine is not None and theirs is not None}
    notes = {note: note for note in old.by_id if note in new.by_id} if keeps_ids else notes_shared(old, new)
    return Way(old, new, notes, measures)


@dataclass
class Carried:
    """What a row's fields become, None when it has no place there, and what is left behind."""

    fields: Fields | None
    left: list[Left] = field(default_factory=list)


def carried(row: Passage | PassageNote, way: Way) -> Carried:
    """What becomes of a passage or of a note on one. The row still stands in the old reading."""
    if isinstance(row, Passage):
        return carried_passage(row, way)
    if isinstance(row, Fingering):
        return carried_fingering(row, way)
    if isinstance(row, OrnamentChoice):
        return carried_ornament(row, way)
    return carried_drill(row, way) if isinstance(row, RhythmDrill) else carried_cue(row, way)


def carried_passage(passage: Passage, way: Way) -> Carried:
    inside = notes_in(passage)
    kept = [way.new.by_id[way.notes[note.id]] for note in inside if note.id in way.notes]
    if not kept:
        return Carried(None, [left("passage", passage, inside[:1], way, str(passage))])
    is_whole = {passage.first_note, passage.last_note} <= way.notes.keys()
    ends = [] if is_whole else [left("ends", passage, (), way, str(passage))]
    return Carried(passage_fields(way.new, kept[0], kept[-1]), ends)


def passage_fields(score: Score, first: Note, last: Note) -> Fields:
    opening, closing = score.measure_of(first), score.measure_of(last)
    return {
        "first_note": first.id,
        "last_note": last.id,
        "first_measure": opening.index,
        "last_measure": closing.index,
        "first_number": opening.number,
        "last_number": closing.number,
        "first_beat": beat_words(opening.beat_of(first.onset)),
        "last_beat": beat_words(closing.beat_of(last.onset)),
    }


def carried_fingering(row: Fingering, way: Way) -> Carried:
    if row.first_note not in way.old.by_id:
        return Carried({})  # It is left out before and keeps what it had.
    covered = [note for moment in stretch_of(row) for note in moment.notes]
    kept = [note for note in covered if note.id in way.notes]
    if not kept:
        return Carried(None, [left("fingering", row, covered[:1], way, str(row))])
    gone = [note for note in covered if note.id in row.fingers and note.id not in way.notes]
    fields = {
        "first_note": way.notes[kept[0].id],
        "last_note": way.notes[kept[-1].id],
        "fingers": {way.notes[note]: text for note, text in row.fingers.items() if note in way.notes},
    }
    return Carried(fields, [left("finger", row, (note,), way, row.fingers[note.id]) for note in gone])


def carried_ornament(row: OrnamentChoice, way: Way) -> Carried:
    if row.note not in way.old.by_id:
        return Carried({})
    if row.note in way.notes:
        return Carried({"note": way.notes[row.note]})
    return Carried(None, [left("ornament", row, note_of(way, row.note), way, str(row))])


def carried_drill(row: RhythmDrill, way: Way) -> Carried:
    ends = Fraction(row.start), Fraction(row.end)
    start, end = way.time(ends[0]), way.time(ends[1], is_end=True)
    if start is not None and end is not None and same_rhythm(way, ends, (start, end)):
        return Carried({"start": str(start), "end": str(end)})
    struck = tuple(note for note in way.old.notes if note.onset >= ends[0])[:1]
    return Carried(None, [left("drill", row, struck, way, "")])


def same_rhythm(way: Way, old: tuple[Fraction, Fraction], new: tuple[Fraction, Fraction]) -> bool:
    try:
        before, after = of_span(way.old.notes, *old), of_span(way.new.notes, *new)
    except Refusal:
        return False
    return before is not None and after is not None and before.grid == after.grid


def carried_cue(row: Cue, way: Way) -> Carried:
    if row.note in way.notes:
        there = way.new.by_id[way.notes[row.note]]
        beat = way.new.measure_of(there).beat_of(there.onset)
        return Carried({"note": there.id, "measure": there.measure, "beat": str(beat)})
    number = way.old.measures[row.measure].number
    place = Left("cue", row.pk, number, beat_words(Fraction(row.beat)), "", row.text)
    measure = way.measure(row.measure)
    if measure is None:
        return Carried(None, [place])
    fields = {"note": "", "measure": measure.index, "beat": row.beat}
    return Carried(fields, [Left("cue note", row.pk, number, place.beat, "", row.text)] if row.note else [])


def note_of(way: Way, note: str) -> tuple[Note, ...]:
    found = way.old.by_id.get(note)
    return (found,) if found else ()


def left(kind: str, row: Passage | PassageNote, notes: Sequence[Note], way: Way, value: str) -> Left:
    """What is left behind, said at the first of the notes it belonged to."""
    if not notes:
        number = row.first_number if isinstance(row, Passage) else row.passage.first_number
        return Left(kind, row.pk, number, "1", "", value)
    place = place_of(way.old, notes[0])
    return Left(kind, row.pk, place.measure, place.beat, spoken(notes[0]), value)


def notes_on(passage: Passage) -> Iterator[tuple[str, PassageNote]]:
    """Every note that was written on the passage itself and stands, with its kind."""
    for kind, model in KINDS.items():
        for row in model.objects.standing().filter(passage=passage):
            row.passage = passage
            yield kind, row


def to_data(lefts: Sequence[Left]) -> list[dict[str, Any]]:
    return [asdict(one) for one in lefts]


def from_data(data: Sequence[dict[str, Any]]) -> list[Left]:
    return [Left(**one) for one in data]
