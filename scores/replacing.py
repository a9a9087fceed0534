"""Another file for an edition: looked at before, exchanged with all that hangs on the edition, and taken back.

A note that both files have keeps its id, so what refers to it, passages, notes, assignments, ticks, needs no change.
What refers to a note that is not in the new file is left out where it stood, and listed in the `Replacement` until the
teacher has looked at it. What stood at a place because its music returned there stays, see `holding_on`.
"""

from __future__ import annotations

import uuid
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext_noop
from lxml import etree

from scores.carrying import (
    KINDS,
    Carried,
    Fields,
    Left,
    PassageNote,
    Way,
    carried,
    notes_shared,
    passage_fields,
    to_data,
    way_between,
)
from scores.engraving import cutting
from scores.holding_on import Held, held_notes, hold_on, let_go
from scores.models import Edition, Passage, Recurrences, Replacement
from scores.models.repertoire import unpacked
from scores.music.notation import Score, reading_order
from scores.music.refusal import Refusal
from scores.reading_files import ReadEdition
from scores.reading_files.stored import to_json
from scores.searching import piece_changed
from scores.surveying import survey_new
from studio.models import Studio

FILE = ("file_name", "format", "typed", "original", "packed_music", "packed_score", "measures", "notes", "notices")
NOT_NOW = gettext_noop(
    "This file was exchanged already, or another one after it. Open the edition to see what stands there."
)
HELD = "held"  # in `Replacement.before`: what `holding_on` wrote
Row = Passage | PassageNote


# A file comes


def propose(*, edition: Edition, read: ReadEdition, name: str, original: bytes) -> Replacement:
    """Keeps a file that was sent for an edition, its notes under the ids that the edition knows them by. Nothing of the
    edition changes yet; a file that was sent before and not taken is forgotten."""
    music, score = under_known_ids(read, edition.score)
    edition.replacements.filter(state=Replacement.State.SENT).delete()
    return Replacement.objects.create(
        studio_id=edition.studio_id,
        edition=edition,
        file_name=name[:255],
        format=read.format,
        original=original,
        packed_music=zlib.compress(music),
        packed_score=zlib.compress(to_json(score).encode()),
        measures=len(score.measures),
        notes=len(score.notes),
        notices=[[message, params] for message, params in read.notices],
    )


def under_known_ids(read: ReadEdition, known: Score) -> tuple[bytes, Score]:
    """The music and the score of a file with the ids of `known` on the notes that both have, and ids that nothing ever
    had on the others."""
    mine = uuid.uuid4().hex[:8]
    known_by = {theirs: ours for ours, theirs in notes_shared(known, read.score).items()}
    names = {note.id: known_by.get(note.id, f"{note.id[:60]}-{mine}") for note in read.score.notes}
    root = cutting.read(read.music)
    for element in root.iter("note"):
        name = element.get("id")
        if name is not None:
            element.set("id", names.get(name, f"{name[:60]}-{mine}"))
    notes = sorted((replace(note, id=names[note.id]) for note in read.score.notes), key=reading_order)
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8"), replace(read.score, notes=tuple(notes))


def score_in(replacement: Replacement) -> Score:
    return unpacked(bytes(replacement.packed_score))


# What it would do


def rows_of(edition: Edition) -> Iterator[tuple[str, Row]]:
    """Every passage of the edition and every note on one, those taken away too: they can be brought back."""
    passages = list(Passage.objects.filter(edition=edition))
    written: dict[int, list[tuple[str, Row]]] = {passage.pk: [] for passage in passages}
    for kind, model in KINDS.items():
        for row in model.objects.filter(passage__edition=edition):
            written[row.passage_id].append((kind, row))
    for passage in passages:
        passage.edition = edition
        yield "passage", passage
        for kind, row in written[passage.pk]:
            row.passage = passage
            yield kind, row


def becoming(edition: Edition, way: Way) -> list[tuple[str, Row, Carried]]:
    """What becomes of each of them. A passage always has a place, since students may have it."""
    return [
        (kind, row, somewhere(row, carried(row, way), way) if isinstance(row, Passage) else carried(row, way))
        for kind, row in rows_of(edition)
    ]


def somewhere(passage: Passage, becomes: Carried, way: Way) -> Carried:
    """A passage of which no note is there stands at the measure that takes its measure's place, or the last before."""
    if becomes.fields is not None:
        return becomes
    before = [theirs for mine, theirs in way.measures.items() if mine <= passage.first_measure]
    notes = [note for note in way.new.notes if note.measure >= (before[-1] if before else 0)] or way.new.notes
    own = [note for note in notes if passage.hands in ("both", note.side)] or notes
    last = [note for note in own if note.measure == own[0].measure][-1]
    return Carried(passage_fields(way.new, own[0], last), becomes.left)


def would_leave(replacement: Replacement) -> list[Left]:
    """What would have no place any more, of what stands now."""
    edition = replacement.edition
    way = way_between(edition.score, score_in(replacement), keeps_ids=True)
    return list(lefts(becoming(edition, way), held_notes(edition, way)))


def lefts(changes: Iterable[tuple[str, Row, Carried]], held: Iterable[Held]) -> Iterator[Left]:
    """Of what stands: what is left out, where it was written and where it stands from elsewhere."""
    for _, row, becomes in changes:
        yield from becomes.left if row.removed_at is None else ()
    # Two passages at one place say the same of a note that stands on both.
    yield from dict.fromkeys(left for one in held for left in one.becomes.left)


def agreement(replacement: Replacement) -> float:
    """The share of the edition's notes that the other file has too, 0 to 1."""
    mine = replacement.edition.score.by_id.keys()
    return len(mine & score_in(replacement).by_id.keys()) / max(1, len(mine))


# Doing it


@transaction.atomic
def exchange(*, studio: Studio, replacement: int, at: datetime) -> Replacement:
    """Puts the file in the edition's place and keeps the one that stood there. Raises `Refusal` if that was done
    already."""
    row = locked(studio, replacement, Replacement.State.SENT)
    edition = row.edition
    way = way_between(edition.score, score_in(row), keeps_ids=True)
    changes, held = becoming(edition, way), held_notes(edition, way)
    row.left = to_data(list(lefts(changes, held)))
    row.before = remembered(changes)
    for _, note, becomes in changes:
        settle(note, becomes, at)
    swap(edition, row)
    row.before[HELD] = hold_on(edition, held)
    row.state, row.done_at = Replacement.State.DONE, at
    row.save()
    return row


@transaction.atomic
def take_back(*, studio: Studio, replacement: int, at: datetime) -> Replacement:
    """Puts the file that stood there before in its place again, and with it what was left out. What was written since
    stays, where its notes are there. Raises `Refusal` unless it is the newest exchange of its edition."""
    row = locked(studio, replacement, Replacement.State.DONE)
    edition = row.edition
    newest = edition.replacements.filter(state=Replacement.State.DONE).order_by("-done_at", "-pk").first()
    if newest != row:
        raise Refusal(NOT_NOW)
    way = way_between(edition.score, score_in(row), keeps_ids=True)
    let_go(row.before.get(HELD, ()))
    changes, held = becoming(edition, way), held_notes(edition, way)
    row.left = to_data(list(lefts(changes, held)))
    for kind, note, becomes in changes:
        known = row.before.get(kind, {}).get(str(note.pk))
        settle(note, restored(note, becomes, known) if known else becomes, at)
    swap(edition, row)
    hold_on(edition, held)
    row.state = Replacement.State.BACK
    row.save()
    return row


def locked(studio: Studio, pk: int, state: str) -> Replacement:
    row = Replacement.objects.select_for_update().filter(studio=studio, pk=pk).first()
    if row is None or row.state != state:
        raise Refusal(NOT_NOW)
    row.edition = Edition.objects.select_for_update().get(pk=row.edition_id)
    return row


def swap(edition: Edition, row: Replacement) -> None:
    """Exchanges the files of the two, and forgets what was found in the one that goes."""
    for name in FILE:
        mine, theirs = getattr(edition, name), getattr(row, name)
        setattr(edition, name, theirs)
        setattr(row, name, mine)
    edition.save(update_fields=FILE)
    for name in ("music", "score"):
        edition.__dict__.pop(name, None)  # What was unpacked from the file that is gone.
    Recurrences.objects.filter(edition=edition).delete()
    survey_new(edition=edition, score=edition.score)
    piece_changed(edition.piece)


def settle(row: Row, becomes: Carried, at: datetime) -> None:
    """Gives a row its fields; one that has no place any more is taken away."""
    if becomes.fields is None:
        if row.removed_at is None:
            row.removed_at = at
            row.save(update_fields=["removed_at"])
        return
    changed = {name: value for name, value in becomes.fields.items() if getattr(row, name) != value}
    for name, value in changed.items():
        setattr(row, name, value)
    if changed:
        stamp = ["changed_at"] if hasattr(row, "changed_at") else []
        row.save(update_fields=[*changed, *stamp])


def remembered(changes: list[tuple[str, Row, Carried]]) -> dict[str, dict[str, Any]]:
    """For the way back: of every row that changes, its fields as they were, and whether it stood."""
    found: dict[str, dict[str, Any]] = {}
    for kind, row, becomes in changes:
        was = {name: getattr(row, name) for name in becomes.fields or ()}
        if becomes.fields is None or was != becomes.fields:
            kept = {"was": was, "became": becomes.fields, "stood": row.removed_at is None}
            found.setdefault(kind, {})[str(row.pk)] = kept
    return found


def restored(row: Row, becomes: Carried, known: dict[str, Any]) -> Carried:
    """A row as it was before the exchange, with what was changed since: places that are still those of the exchange go
    back to the old ones, fingers that were left out come back where none stands now."""
    was, became = known["was"], known["became"]
    if became is None:
        if known["stood"]:
            row.removed_at = None
            row.save(update_fields=["removed_at"])
        return Carried(was)
    fields: Fields = dict(becomes.fields or {})
    for name, value in was.items():
        if name == "fingers":
            lost = {note: text for note, text in value.items() if note not in became[name]}
            fields[name] = {**lost, **fields.get(name, {})}
        elif getattr(row, name) == became[name]:
            fields[name] = value
    return Carried(fields, becomes.left)


def looked_at(replacement: Replacement) -> None:
    """What was left out has been dealt with: the list goes."""
    replacement.left = []
    replacement.save(update_fields=["left"])
