"""Taking a passage from one edition of a piece to another, its notes with it where the notes are the same: those that
were written on it, and those that stand on it because its music returns."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.forms import model_to_dict
from django.utils.translation import gettext_noop

from scores.carrying import Carried, Left, PassageNote, Way, carried, notes_on, way_between
from scores.inheriting import here, here_now, said_already
from scores.marking import remove_passage, restore_passage
from scores.models import Edition, Passage
from scores.music.refusal import Refusal

NOTHING_THERE = gettext_noop(
    "No note of this passage is found in “%(edition)s”. Is it another piece, or another part of it?"
)
OWN = ("id", "passage", "removed_at", "instead_of")  # what a carried note has for itself


@dataclass(frozen=True)
class Plan:
    """What a passage and its notes become in another edition. `kept` of `all` its notes of music are there."""

    passage: Passage
    to: Edition
    place: Carried
    notes: list[tuple[PassageNote, Carried]]
    kept: int
    all: int

    @property
    def left(self) -> list[Left]:
        return [*self.place.left, *(one for _, becomes in self.notes for one in becomes.left)]

    @property
    def carried_notes(self) -> list[PassageNote]:
        return [row for row, becomes in self.notes if becomes.fields is not None]

    @property
    def where(self) -> Passage:
        """The passage as it would stand there, for its words."""
        return Passage(**(self.place.fields or {}))


def plan(passage: Passage, to: Edition, way: Way | None = None) -> Plan:
    """Looks what becomes of the passage; changes nothing. Raises `Refusal` when none of its notes is there."""
    found = way or way_between(passage.edition.score, to.score)
    place = carried(passage, found)
    if place.fields is None:
        raise Refusal(NOTHING_THERE, {"edition": to.label})
    inside = passage.edition.score.between(passage.first_note, passage.last_note, passage.hands)
    standing = [*(row for _, row in notes_on(passage)), *here(passage).inherited]
    notes = [(row, carried(row, found)) for row in standing]
    return Plan(passage, to, place, notes, sum(note.id in found.notes for note in inside), len(inside))


@transaction.atomic
def reattach(planned: Plan, *, at: datetime, keep: bool) -> Passage:
    """Makes the passage in the other edition, with all that has a place there. The old one stays as well with `keep`;
    else it is taken away, though what students were given of it remains theirs."""
    passage = planned.passage
    made = Passage.objects.create(
        studio_id=passage.studio_id,
        edition=planned.to,
        hands=passage.hands,
        name=passage.name,
        **planned.place.fields,
    )
    there = [(row, becomes.fields) for row, becomes in planned.notes if becomes.fields is not None]
    for row, fields in there:
        if not row.inherited:
            copy(row, made, fields)
    for row, fields in there:
        if row.inherited and not is_there(row, made, fields):
            copy(row, made, fields)
    if not keep:
        remove_passage(passage, at=at)
    return made


def is_there(row: PassageNote, passage: Passage, fields: dict[str, object]) -> bool:
    """Whether a note of another place stands at the passage already, for its own passage has been taken over too."""
    as_there = type(row)(**{**plain(row), **fields})
    return said_already(as_there, (one for one in here_now(passage).every if isinstance(one, type(row))))


def plain(row: PassageNote) -> dict[str, object]:
    """What is written in a note, without what it has for itself."""
    kept = {name: value for name, value in model_to_dict(row).items() if name not in OWN}
    kept.pop("studio", None)
    return kept


def copy(row: PassageNote, passage: Passage, fields: dict[str, object]) -> PassageNote:
    """The note on another passage, with these fields of its own."""
    return type(row).objects.create(studio_id=row.studio_id, passage=passage, **{**plain(row), **fields})


@transaction.atomic
def take_back(*, old: Passage, new: Passage, at: datetime) -> None:
    """Undoes a re-attachment: the new passage goes, the old one stands."""
    remove_passage(new, at=at)
    restore_passage(old)
