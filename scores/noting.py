"""Passage notes: what changes them, as verbs.

Notes are taken away and brought back, never deleted: what a student was given still refers to them.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime
from fractions import Fraction
from itertools import zip_longest
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext_noop

from scores.models import Cue, Fingering, OrnamentChoice, Passage, RhythmDrill, Source
from scores.music.crossrhythm import Crossing, of_span
from scores.music.drill import OFFERED_TEMPOS, PLAIN_HANDS, Stage, figures_in, stages, to_data
from scores.music.notation import Moment, Side
from scores.music.refusal import Refusal
from scores.searching import words_changed
from scores.stretches import notes_in, place_of, stretch, stretch_of

Note = Fingering | OrnamentChoice | RhythmDrill | Cue

NO_STROKES = gettext_noop("That hand strikes nothing there.")
BOTH_HANDS = gettext_noop("Both hands must strike in a span before their rhythms can be laid side by side.")
NOT_HERE = gettext_noop("That note is not in this passage.")


class ChangedMeanwhile(Exception):
    """Someone, or another window, changed the row since it was shown. `current` is the row as it stands."""

    def __init__(self, current: Fingering) -> None:
        self.current = current
        super().__init__("changed meanwhile")


class DoesNotFit(Refusal):
    """A note cannot be copied to that passage; the sentence says where the passages part."""


# Fingerings


def write_fingering(
    *,
    passage: Passage,
    side: Side,
    first: str = "",
    last: str = "",
    fingers: Mapping[str, str] | None = None,
    remark: str = "",
    source: Source = Source.TEACHER,
) -> Fingering:
    """Writes a new line for a hand, the whole passage long or from the moment of `first` to that of `last`.

    Raises `Refusal` where that hand strikes nothing.
    """
    covered = stretch(passage, side, first, last)
    if not covered:
        raise Refusal(NO_STROKES)
    with transaction.atomic():
        words_changed(passage, remark)
        highest = passage.fingerings.aggregate(highest=Max("position"))["highest"]
        return Fingering.objects.create(
            studio_id=passage.studio_id,
            passage=passage,
            side=side,
            first_note=covered[0].notes[0].id,
            last_note=covered[-1].notes[0].id,
            fingers=within(covered, fingers or {}),
            remark=remark,
            source=source,
            position=0 if highest is None else highest + 1,
        )


def keep_fingers(
    *,
    fingering: Fingering,
    fingers: Mapping[str, str],
    first: str = "",
    last: str = "",
    remark: str | None = None,
    seen: str = "",
) -> Fingering:
    """Keeps the whole line as it now stands. A line of the program's that the teacher changes becomes the teacher's.

    `seen` is the `version` of the row that the writer looked at; raises `ChangedMeanwhile` when the row has moved on
    and reads differently by now. Raises `Refusal` for ends between which the hand strikes nothing.
    """
    with transaction.atomic():
        row = Fingering.objects.select_for_update().get(pk=fingering.pk)
        row.passage = fingering.passage
        covered = stretch(row.passage, row.side, first or row.first_note, last or row.last_note)
        if not covered:
            raise Refusal(NO_STROKES)
        wanted = within(covered, fingers)
        if seen and seen != version(row) and wanted != row.fingers:
            raise ChangedMeanwhile(row)
        if row.source == Source.PROGRAM and wanted != row.fingers:
            row.source = Source.TEACHER
        row.fingers = wanted
        row.first_note, row.last_note = covered[0].notes[0].id, covered[-1].notes[0].id
        words_changed(row.passage, *({row.remark, remark} if remark not in (None, row.remark) else ()))
        row.remark = row.remark if remark is None else remark
        row.save(update_fields=["fingers", "first_note", "last_note", "remark", "source", "changed_at"])
    return row


def version(fingering: Fingering) -> str:
    """Tells one state of a line from another."""
    return fingering.changed_at.isoformat()


def within(covered: Sequence[Moment], fingers: Mapping[str, str]) -> dict[str, str]:
    """The fingers of these moments' notes, in their order, the unmarked left out."""
    return {note.id: fingers[note.id] for moment in covered for note in moment.notes if fingers.get(note.id)}


def printed_fingers(passage: Passage, side: Side) -> dict[str, str]:
    """The fingers that stand in the edition itself, for the notes of one hand of the passage."""
    return {note.id: note.printed for moment in stretch(passage, side) for note in moment.notes if note.printed}


def copy_printed(*, passage: Passage, side: Side) -> Fingering:
    """Copies the edition's own fingers into a line of the teacher's. Raises `Refusal` where nothing is printed."""
    fingers = printed_fingers(passage, side)
    if not fingers:
        raise Refusal(gettext_noop("The edition prints no finger for that hand here."))
    return write_fingering(passage=passage, side=side, fingers=fingers)


def copy_fingering(*, fingering: Fingering, to: Passage) -> Fingering:
    """Copies a line to another passage, moment by moment. Raises `DoesNotFit` where the two part."""
    source, target = stretch(fingering.passage, fingering.side), stretch(to, fingering.side)
    mine = stretch_of(fingering)
    before = len(source) - len(source[source.index(mine[0]) :])
    theirs = target[before : before + len(mine)]
    check_same_shape(mine, theirs, to)
    fingers = {
        there.id: fingering.fingers[here.id]
        for moment, other in zip(mine, theirs, strict=True)
        for here, there in zip(moment.notes, other.notes, strict=True)
        if here.id in fingering.fingers
    }
    return write_fingering(
        passage=to,
        side=fingering.side,
        first=theirs[0].notes[0].id,
        last=theirs[-1].notes[0].id,
        fingers=fingers,
        remark=fingering.remark,
    )


def check_same_shape(mine: Sequence[Moment], theirs: Sequence[Moment], to: Passage) -> None:
    """Raises `DoesNotFit` unless the two stretches strike the same number of notes moment by moment."""
    score = to.edition.score
    for number, (moment, other) in enumerate(zip_longest(mine, theirs), start=1):
        if other is None:
            raise DoesNotFit(
                gettext_noop("That passage ends after %(there)d places; the line to be copied has %(here)d."),
                {"there": number - 1, "here": len(mine)},
            )
        place = place_of(score, other.notes[0])
        where: dict[str, str | int] = {"number": number, "measure": place.measure, "beat": place.beat}
        if len(moment.notes) != len(other.notes):
            raise DoesNotFit(
                gettext_noop(
                    "The line does not fit there. Its place %(number)d is measure %(measure)s, beat %(beat)s of that "
                    "passage; notes struck together: %(there)d there, %(here)d here."
                ),
                {**where, "there": len(other.notes), "here": len(moment.notes)},
            )
        if moment.is_grace != other.is_grace:
            raise DoesNotFit(
                gettext_noop(
                    "The line does not fit there. Its place %(number)d is measure %(measure)s, beat %(beat)s of that "
                    "passage: a grace in one of the two, none in the other."
                ),
                where,
            )


# Rhythm drills


def crossing_of(passage: Passage, start: Fraction, end: Fraction) -> Crossing:
    """How the hands fit from `start` to `end` (quarters). Raises `Refusal` when a hand strikes nothing there."""
    crossing = of_span(passage.edition.score.notes, start, end)
    if crossing is None:
        raise Refusal(BOTH_HANDS)
    return crossing


def proposed(passage: Passage, start: Fraction, end: Fraction, now: int, goal: int) -> tuple[Stage, ...]:
    """The stages for a span of a passage, `now` to `goal` in quarters a minute; none where the hands fit plainly.

    Raises `Refusal` where a hand strikes nothing or the tempo is none.
    """
    crossing = crossing_of(passage, start, end)
    measure = passage.edition.score.measures[crossing.measure]
    return stages(crossing, now, goal, figures_in(measure.nominal, crossing.length))


def plan_drill(
    *, passage: Passage, start: Fraction, end: Fraction, tempo_now: int, tempo_goal: int, remark: str = ""
) -> RhythmDrill:
    """Plans the practice of a span, in stages from one tempo to another (quarters a minute).

    Raises `Refusal` where the rhythms do not cross or the tempo is none.
    """
    plan = proposed(passage, start, end, tempo_now, tempo_goal)
    if not plan:
        raise Refusal(PLAIN_HANDS)
    return RhythmDrill.objects.create(
        studio_id=passage.studio_id,
        passage=passage,
        start=str(start),
        end=str(end),
        stages=to_data(plan),
        tempo_now=tempo_now,
        tempo_goal=tempo_goal,
        remark=remark,
    )


def keep_drill(*, drill: RhythmDrill, plan: Sequence[Stage], remark: str) -> RhythmDrill:
    """Keeps the plan as the teacher changed it, and what it replaces, so that the change can be undone."""
    return replace_plan(drill, to_data(plan), remark)


def propose_drill_again(*, drill: RhythmDrill) -> RhythmDrill:
    """Puts the proposed plan in place of the teacher's; the remark stays. Raises `Refusal` where the hands do not cross
    any more."""
    start, end = Fraction(drill.start), Fraction(drill.end)
    now, goal = tempos_of(drill)
    plan = proposed(drill.passage, start, end, now, goal)
    if not plan:
        raise Refusal(PLAIN_HANDS)
    return replace_plan(drill, to_data(plan), drill.remark)


def undo_drill(*, drill: RhythmDrill) -> RhythmDrill:
    """Brings back the plan and remark before the last change; once more, the change itself. Raises `Refusal` where
    nothing was changed yet."""
    if not drill.former:
        raise Refusal(gettext_noop("This plan has not been changed yet."))
    return replace_plan(drill, drill.former["stages"], drill.former["remark"])


def replace_plan(drill: RhythmDrill, plan: list[dict[str, Any]], remark: str) -> RhythmDrill:
    if (plan, remark) != (drill.stages, drill.remark):
        drill.former = {"stages": drill.stages, "remark": drill.remark}
        drill.stages, drill.remark = plan, remark
        drill.save(update_fields=["stages", "remark", "former"])
    return drill


def tempos_of(drill: RhythmDrill) -> tuple[int, int]:
    """From where to where the plan goes, in quarters a minute: as it was asked for, else by its ladder, else by what is
    offered for a new drill."""
    if drill.tempo_now and drill.tempo_goal:
        return drill.tempo_now, drill.tempo_goal
    marks = next((stage["marks"] for stage in drill.stages if stage.get("marks")), [])
    return (marks[0], marks[-1]) if marks else OFFERED_TEMPOS


def copy_drill(*, drill: RhythmDrill, to: Passage) -> RhythmDrill:
    """Copies a plan to the same distance from the start of another passage. Raises `DoesNotFit` where the hands'
    rhythm is another one there."""
    start, end = Fraction(drill.start), Fraction(drill.end)
    shift = starts_at(to) - starts_at(drill.passage)
    here = crossing_of(drill.passage, start, end)
    there = of_span(to.edition.score.notes, start + shift, end + shift)
    if there is None or there.grid != here.grid:
        raise DoesNotFit(gettext_noop("The hands' rhythm at that place of the other passage is another one."))
    words_changed(to, drill.remark)
    return RhythmDrill.objects.create(
        studio_id=to.studio_id,
        passage=to,
        start=str(start + shift),
        end=str(end + shift),
        stages=drill.stages,
        tempo_now=drill.tempo_now,
        tempo_goal=drill.tempo_goal,
        remark=drill.remark,
    )


def starts_at(passage: Passage) -> Fraction:
    """When the measure of the passage's first note starts, in quarters."""
    return passage.edition.score.measures[passage.first_measure].start


# Cues


def write_cue(*, passage: Passage, text: str, note: str = "", measure: int = 0, beat: str = "1") -> Cue:
    """Writes a cue at a note, or at a beat of a measure (its index in the score). Raises `Refusal` for a place outside
    the passage."""
    place = cue_place(passage, note, measure, beat)
    words_changed(passage, text)
    return Cue.objects.create(studio_id=passage.studio_id, passage=passage, text=text, **place)


def keep_cue(*, cue: Cue, text: str, note: str = "", measure: int = 0, beat: str = "1") -> Cue:
    for name, value in cue_place(cue.passage, note, measure, beat).items():
        setattr(cue, name, value)
    cue.text = text
    cue.save(update_fields=["text", "note", "measure", "beat"])
    words_changed(cue.passage, text)
    return cue


def cue_place(passage: Passage, note: str, measure: int, beat: str) -> dict[str, str | int]:
    """The fields of a cue that say where it stands. Raises `Refusal` for a place outside the passage."""
    score = passage.edition.score
    if note:
        found = next((one for one in notes_in(passage) if one.id == note), None)
        if found is None:
            raise Refusal(NOT_HERE)
        return {"note": note, "measure": found.measure, "beat": str(score.measure_of(found).beat_of(found.onset))}
    if not passage.first_measure <= measure <= passage.last_measure:
        raise Refusal(gettext_noop("That measure is not in this passage."))
    return {"note": "", "measure": measure, "beat": str(Fraction(beat))}


def copy_cue(*, cue: Cue, to: Passage) -> Cue:
    """Copies a cue to the same place of another passage: the moment of the same number if it is tied to a note, else
    the measure of the same number. Raises `DoesNotFit` where that passage is too short."""
    if not cue.note:
        measure = to.first_measure + cue.measure - cue.passage.first_measure
        if measure > to.last_measure:
            raise DoesNotFit(gettext_noop("That passage is shorter: it has no measure for this cue."))
        return write_cue(passage=to, text=cue.text, measure=measure, beat=cue.beat)
    side = cue.passage.edition.score.by_id[cue.note].side
    mine, theirs = stretch(cue.passage, side), stretch(to, side)
    number, place = next(
        ((number, moment.ids.index(cue.note)) for number, moment in enumerate(mine) if cue.note in moment.ids), (0, 0)
    )
    if number >= len(theirs):
        raise DoesNotFit(
            gettext_noop("That passage ends after %(there)d moments; the cue stands at moment %(here)d."),
            {"there": len(theirs), "here": number + 1},
        )
    notes = theirs[number].notes
    return write_cue(passage=to, text=cue.text, note=notes[min(place, len(notes) - 1)].id)


# All kinds


def remove_note(note: Note, *, at: datetime) -> None:
    note.removed_at = at
    note.save(update_fields=["removed_at"])
    words_changed(note.passage, getattr(note, "text", ""), note.remark)


def restore_note(note: Note) -> None:
    note.removed_at = None
    note.save(update_fields=["removed_at"])
    words_changed(note.passage, getattr(note, "text", ""), note.remark)
