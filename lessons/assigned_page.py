"""What the page of one assigned passage shows, gathered into one dataclass."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.forms import BoundField
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from lessons.forms import AssignedForm, answer_name, placement_name
from lessons.handouts.choices import choices_of
from lessons.handouts.gathering import ladder_of, words_of
from lessons.models import AssignedPassage
from lessons.ornaments import given_ornaments
from lessons.reach import EASY, Fit, fits
from scores.engraving import FingerLine, engrave_cached
from scores.lines import ShownLine
from scores.workshop import WorkshopFailed
from studio.reach import both_hands_in_words

WIDTH = 900  # CSS pixels of the music's column on a wide screen


@dataclass(frozen=True)
class Answer:
    """One fingering with its answer. `field` is None for one that cannot be played: it is not offered."""

    line: ShownLine
    field: BoundField | None
    fit: Fit | None


@dataclass(frozen=True)
class Part:
    """The fingerings of one hand over the same notes."""

    hand: str
    where: str
    answers: Sequence[Answer]


@dataclass(frozen=True)
class AssignedPage:
    assigned: AssignedPassage
    systems: Sequence[SafeString]
    trouble: str
    parts: Sequence[Part]
    ornaments: Sequence[BoundField]
    ladder: Sequence[int]
    reach: Sequence[str]
    needs_caution: bool


def gather_assigned(assigned: AssignedPassage, form: AssignedForm) -> AssignedPage:
    measured = list(assigned.assignment.lesson.student.hands.all())
    lying = fits(form.lines, measured, assigned.passage)
    systems, trouble = engraved(assigned, form.lines)
    return AssignedPage(
        assigned=assigned,
        systems=systems,
        trouble=trouble,
        parts=parts_of(form, lying),
        ornaments=[form[placement_name(one)] for one in form.ornaments],
        ladder=ladder_of(assigned),
        reach=both_hands_in_words(measured),
        needs_caution=any(one.kind != EASY for one in lying.values()),
    )


def parts_of(form: AssignedForm, lying: dict[str, Fit]) -> list[Part]:
    parts: dict[tuple[str, str, str], list[ShownLine]] = {}
    for line in form.lines:
        if line.fingering:
            parts.setdefault((line.side, line.fingering.first_note, line.fingering.last_note), []).append(line)
    return [
        Part(
            hand=str(lines[0].fingering.get_side_display()) if lines[0].fingering else "",
            where=lines[0].where,
            answers=[answer(form, line, lying.get(line.key)) for line in lines],
        )
        for lines in parts.values()
    ]


def answer(form: AssignedForm, line: ShownLine, fit: Fit | None) -> Answer:
    name = answer_name(line)
    return Answer(line, form[name] if name in form.fields else None, fit)


def engraved(assigned: AssignedPassage, lines: Iterable[ShownLine]) -> tuple[Sequence[SafeString], str]:
    """The passage with every line above it, the chosen ones marked; or what to say when it could not be engraved."""
    passage = assigned.passage
    chosen = {line.key for line in choices_of(assigned).chosen}
    shown = [line for line in lines if line.fingers]
    ornaments = given_ornaments(assigned)
    try:
        engraving = engrave_cached(
            passage.edition.music,
            first=passage.first_measure,
            last=passage.last_measure,
            width=WIDTH,
            lines=[
                FingerLine(line.numeral, line.fingers, line.side, line.mark, chosen=line.key in chosen, key=line.key)
                for line in shown
            ],
            ossias=ornaments.ossias,
        )
    except WorkshopFailed:
        return (), _("The passage could not be engraved just now. Everything else works; try again in a moment.")
    return tuple(
        mark_safe(system.labelled(words))
        for system in engraving.systems
        for words in [words_of(passage, system.first_measure, system.last_measure, shown, ornaments)]
    ), ""
