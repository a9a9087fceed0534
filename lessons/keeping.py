"""Keeping what is typed: words that two windows may change at once, so that neither writes over the other.

Each text comes with the one it began from. What only one side changed is kept; what both changed is a clash, and then
nothing is written: whoever comes later sees both texts and says which stands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db import transaction

from lessons.models import AssignedPassage, Assignment, Lesson

Row = Lesson | Assignment | AssignedPassage


@dataclass(frozen=True)
class Typed:
    """A text as it now stands in a window, and as it stood there when the window last agreed with the studio."""

    before: str
    now: str


@dataclass(frozen=True)
class Kept:
    """What stands in the studio after the attempt. `clashes` names the texts that both sides changed (then nothing was
    written), `news` those that came from another window and were left as they are there."""

    texts: Mapping[str, str]
    revision: int
    clashes: Sequence[str] = ()
    news: Sequence[str] = ()


def plain(text: str) -> str:
    """With the line ends of the studio: a browser sends its own."""
    return text.replace("\r\n", "\n").replace("\r", "\n")


def both(kept: str, typed: str) -> str:
    """Two texts in one: the kept one first, and neither twice."""
    if typed in kept:
        return kept
    return typed if kept in typed else f"{kept}\n\n{typed}"


@transaction.atomic
def keep_notes(*, lesson: Lesson, typed: Mapping[str, Typed], revision: int | None = None) -> Kept:
    """Keeps the notes of a lesson. `revision` is that of the lesson when the window last agreed with it: while it is
    still the same, what was typed stands."""
    return keep(lesson, typed, lesson, revision)


@transaction.atomic
def keep_remark(*, row: Assignment | AssignedPassage, typed: Typed) -> Kept:
    """Keeps what is to be done with a piece, or with one of its passages."""
    lesson = row.lesson if isinstance(row, Assignment) else row.assignment.lesson
    return keep(row, {"remark": typed}, lesson, None)


def keep(row: Row, typed: Mapping[str, Typed], lesson: Lesson, revision: int | None) -> Kept:
    held = Lesson.objects.select_for_update().get(pk=lesson.pk)
    kept = held if isinstance(row, Lesson) else type(row).objects.get(pk=row.pk)
    here = {name: plain(getattr(kept, name)) for name in typed}
    is_alone = revision is not None and revision == held.revision
    clashes = [] if is_alone else [name for name, text in typed.items() if is_clash(here[name], text)]
    if clashes:
        return Kept(here, held.revision, clashes=clashes)
    merged = {name: text.now if is_alone else merge(here[name], text) for name, text in typed.items()}
    changed = [name for name in typed if merged[name] != here[name]]
    for name in changed:
        setattr(kept, name, merged[name])
    if changed:
        held.revision += 1
        held.save(update_fields=["revision", *(changed if kept is held else ())])
        if kept is not held:
            kept.save(update_fields=changed)
    lesson.revision = held.revision
    for name in typed:
        setattr(row, name, merged[name])
    return Kept(merged, held.revision, news=[name for name, text in typed.items() if merged[name] != text.now])


def is_clash(kept: str, typed: Typed) -> bool:
    """Whether both sides changed a text, and not to the same."""
    return typed.now != typed.before and kept not in (typed.before, typed.now)


def merge(kept: str, typed: Typed) -> str:
    """The text that only one side changed, as that side has it."""
    return kept if typed.now == typed.before else typed.now


@transaction.atomic
def say_to_all(*, lesson: Lesson, others: Sequence[Lesson]) -> int:
    """Puts a lesson's notes into those of the others who come with this student, after what is written there already.
    Says how many it changed."""
    changed = 0
    for other in Lesson.objects.select_for_update().filter(pk__in=[one.pk for one in others]):
        notes = both(other.notes, lesson.notes) if other.notes else lesson.notes
        if notes != other.notes:
            other.notes, other.revision = notes, other.revision + 1
            other.save(update_fields=["notes", "revision"])
            changed += 1
    return changed
