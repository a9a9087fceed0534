"""What one student plays of a passage: the choices made, on the notes and beside them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from lessons.choosing import same_part
from lessons.models import AssignedPassage
from scores.engraving import FingerLine
from scores.inheriting import here
from scores.lines import ShownLine, roman, shown_line
from scores.models import Passage
from scores.music.notation import Placement
from scores.stretches import stretch


@dataclass(frozen=True)
class Choices:
    """`chosen` are the lines that are played, `beside` those shown above the music: what is left open, and the other
    options where the teacher wants them seen. `placements` are those decided: note id -> before or on the beat."""

    chosen: tuple[ShownLine, ...]
    beside: tuple[ShownLine, ...]
    placements: dict[str, Placement]
    printed: dict[str, str]

    @property
    def fingers(self) -> dict[str, str]:
        """The chosen fingers: note id -> text."""
        return {note: text for line in self.chosen for note, text in line.fingers.items()}

    @property
    def on_notes(self) -> dict[str, str]:
        """What stands on the notes: the chosen fingers, and the printed ones where nothing is chosen."""
        covered = {note for line in self.chosen for note in line.note_ids}
        return {note: text for note, text in self.printed.items() if note not in covered} | self.fingers

    @property
    def finger_lines(self) -> tuple[FingerLine, ...]:
        """The lines beside the music: small where chosen fingers stand on the notes themselves."""
        sides = {line.side for line in self.chosen}
        return tuple(
            FingerLine(line.numeral, line.fingers, line.side, "teacher", key=line.key, small=line.side in sides)
            for line in self.beside
        )


def choices_of(assigned: AssignedPassage) -> Choices:
    """The choices as they stand. Reads `offered` and `placements`, which are best prefetched, and the notes that stand
    at the passage."""
    passage = assigned.passage
    numerals = {line.fingering.pk: line for line in numbered(passage, assigned) if line.fingering}
    rows = [row for row in assigned.offered.all() if row.fingering_id in numerals]
    # A line that was changed into something impossible is not put before a student.
    rows = [row for row in rows if not numerals[row.fingering_id].cannot]
    chosen = [row for row in rows if row.chosen_by]
    parts = [line.fingering for row in chosen if (line := numerals[row.fingering_id]).fingering]
    beside = [
        row
        for row in rows
        if not row.chosen_by
        and (assigned.show_others or not any(same_part(one, numerals[row.fingering_id].fingering) for one in parts))
    ]
    score = passage.edition.score
    engraved = score.in_measures(passage.first_measure, passage.last_measure)
    return Choices(
        chosen=tuple(numerals[row.fingering_id] for row in chosen),
        beside=tuple(numerals[row.fingering_id] for row in beside),
        placements={row.note: row.placement for row in assigned.placements.all() if row.placement},
        printed={note.id: note.printed for note in engraved if note.printed},
    )


def numbered(passage: Passage, assigned: AssignedPassage | None = None) -> Iterator[ShownLine]:
    """The fingerings that stand at the passage, with the numerals of its desk; those that stand there no more stay if
    they were offered."""
    offered = {row.fingering_id for row in assigned.offered.all()} if assigned else set()
    for side in ("right", "left"):
        whole = stretch(passage, side)
        standing = [one for one in here(passage).fingerings if one.side == side]
        gone = [one for one in here(passage).gone if one.side == side and one.pk in offered]
        for number, fingering in enumerate([*standing, *gone], start=1):
            yield shown_line(fingering, roman(number), whole)
