"""Notes of other places that stand on a passage, when its edition gets another file.

Such a note is not kept at the place where it stands: it stands there because the music returns. Where the new file lets
the music return no more, a misprint having been mended in one of the two places, it becomes a note of the place's own,
so that nothing falls away.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from scores.carrying import KINDS, Carried, Fields, PassageNote, Way, carried
from scores.inheriting import depart, gather_here, here
from scores.models import Edition, Fingering, Passage


@dataclass(frozen=True)
class Held:
    """A note as it stands at a place that is not its own, and what becomes of it there."""

    note: PassageNote
    becomes: Carried


def held_notes(edition: Edition, way: Way) -> list[Held]:
    """Every note that stands on a passage of the edition from elsewhere. The edition still has its old file."""
    return [Held(note, carried(note, way)) for passage in gathered(edition) for note in here(passage).inherited]


def gathered(edition: Edition) -> Sequence[Passage]:
    passages = list(Passage.objects.standing().filter(edition=edition))
    for passage in passages:
        passage.edition = edition
    gather_here(passages)
    return passages


def hold_on(edition: Edition, held: Iterable[Held]) -> list[dict[str, Any]]:
    """Writes down, as the place's own, what stands no more where it stood. The edition has its new file already. Gives
    what `let_go` needs."""
    there = {passage.pk: list(here(passage).every) for passage in gathered(edition)}
    made = []
    for one in held:
        note, fields = one.note, one.becomes.fields
        now = [row for row in there.get(note.passage_id, ()) if isinstance(row, type(note))]
        if not fields or fields.get("fingers") == {} or any(says(row, note, fields) for row in now):
            continue
        made.append(written(note, fields, now))
    return made


def says(row: PassageNote, note: PassageNote, fields: Fields) -> bool:
    """Whether a note says at the same place what the other said there."""
    if isinstance(row, Fingering):
        return row.side == note.side and fields["fingers"].items() <= row.fingers.items()
    return str(row) == str(note) and all(getattr(row, name) == value for name, value in fields.items())


def written(note: PassageNote, fields: Fields, now: Iterable[PassageNote]) -> dict[str, Any]:
    """The note as one of the place's own; what a student was given of it there, he is given of this one."""
    source = note.inherited.source
    stays = not isinstance(note, Fingering) and any(row.inherited and row.pk == note.pk for row in now)
    for name, value in fields.items():
        setattr(note, name, value)
    own = depart(note=note)
    if stays:  # It stands at another note of the passage still.
        own.instead_of = None
        own.save(update_fields=["instead_of"])
    give_instead(source, own, note.passage_id)
    return {"kind": note.inherited.kind, "row": own.pk, "source": source.pk, "said": said(own)}


def give_instead(one: PassageNote, other: PassageNote, passage: int) -> None:
    if isinstance(one, Fingering):
        one.offered.filter(assigned__passage=passage).update(fingering=other)


def said(row: PassageNote) -> dict[str, Any]:
    """What is written in a note, to see whether it was changed since."""
    left_aside = ("created_at", "changed_at", "former")
    return {
        field.attname: str(getattr(row, field.attname))
        for field in row._meta.concrete_fields
        if field.attname not in left_aside
    }


def let_go(made: Iterable[dict[str, Any]]) -> None:
    """Takes away what `hold_on` wrote, so that the notes of the other places stand there again; not what the teacher
    has changed since."""
    for one in made:
        rows = KINDS[one["kind"]].objects
        own, source = rows.filter(pk=one["row"]).first(), rows.filter(pk=one["source"]).first()
        if own is None or source is None or said(own) != one["said"]:
            continue
        give_instead(own, source, own.passage_id)
        if not (isinstance(own, Fingering) and own.offered.exists()):
            own.delete()
