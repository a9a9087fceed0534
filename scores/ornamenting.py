"""How the ornaments of a passage are played: what changes it, as verbs. Each gives what stood there before, for
`restore`."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.core import signing
from django.db import transaction
from django.utils.translation import gettext_noop

from scores.inheriting import here
from scores.models import OrnamentChoice, Passage
from scores.music.ornaments.styles import Period, default_style
from scores.music.refusal import Refusal
from scores.ornament_places import ornaments_in

FIELDS = ("placement", "count", "start", "turn", "long", "remark")
BLANK: Mapping[str, Any] = {"placement": "", "count": None, "start": "", "turn": None, "long": None, "remark": ""}
SALT = "ornaments as they were"
KEPT_HOURS = 24  # how long an undo holds

NO_ORNAMENT = gettext_noop("No ornament stands at that note of this passage.")

Before = Sequence[tuple[str, Mapping[str, Any] | None]]


@transaction.atomic
def keep_ornament(*, passage: Passage, note: str, at: datetime, **chosen: Any) -> Before:
    """Says how one ornament is played: any of `FIELDS`; what is not named is blank. All blank takes away what was said.

    Raises `Refusal` where no ornament stands.
    """
    if note not in {place.note for place in ornaments_in(passage, ())}:
        raise Refusal(NO_ORNAMENT)
    before = state_of(passage, [note])
    write(passage, note, {**BLANK, **chosen}, at)
    return before


@transaction.atomic
def take_over_style(*, passage: Passage, period: Period, at: datetime) -> Before:
    """Fills in what a period mostly did, where the teacher has said nothing: a word that stands is left alone."""
    places = [place for place in ornaments_in(passage, here(passage).choices) if place.has_placement]
    before = state_of(passage, [place.note for place in places])
    for place in places:
        usual = default_style(period, place.kind).choice
        own = {name: getattr(place.choice, name) for name in FIELDS} if place.choice else dict(BLANK)
        wanted = dict(own)
        for name in ("placement", "start"):
            wanted[name] = own[name] or getattr(usual, name) or ""
        if wanted != own:
            write(passage, place.note, wanted, at)
    return before


def write(passage: Passage, note: str, wanted: Mapping[str, Any], at: datetime) -> None:
    """Writes what is wanted at one note; nothing wanted takes the row away."""
    if dict(wanted) == dict(BLANK):
        passage.ornament_choices.standing().filter(note=note).update(removed_at=at)
        return
    OrnamentChoice.objects.update_or_create(
        passage=passage, note=note, defaults={**wanted, "studio_id": passage.studio_id, "removed_at": None}
    )


def state_of(passage: Passage, notes: Iterable[str]) -> Before:
    """What stands at these notes: its fields, or None where nothing does."""
    rows = {choice.note: choice for choice in passage.ornament_choices.standing().filter(note__in=list(notes))}
    return [
        (note, {name: getattr(rows[note], name) for name in FIELDS} if note in rows else None)
        for note in dict.fromkeys(notes)
    ]


def token_of(passage: Passage, before: Before) -> str:
    """What stood there before, signed, for an undo in the address of a button."""
    return signing.dumps([passage.pk, list(before)], salt=SALT, compress=True)


@transaction.atomic
def restore(*, passage: Passage, token: str, at: datetime) -> None:
    """Brings back what stood there. Raises `signing.BadSignature` for a token that is not ours, not this passage's, or
    too old."""
    pk, before = signing.loads(token, salt=SALT, max_age=KEPT_HOURS * 3600)
    if pk != passage.pk:
        raise signing.BadSignature("of another passage")
    for note, fields in before:
        write(passage, note, BLANK if fields is None else fields, at)
