"""The ornaments of an assigned passage as one student plays them: decided, or left open to her in both placements."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from lessons.models import AssignedPassage, PlacementChoice
from lessons.models.assignments import ChosenBy
from scores.engraving import Ossia
from scores.inheriting import here
from scores.models import OrnamentChoice
from scores.music.notation import Placement
from scores.music.ornaments import Choice, Performance
from scores.ornament_places import (
    Both,
    OrnamentPlace,
    both_placements,
    choices_in,
    own_ornaments,
    place_in,
)
from scores.ossias import ossias_of, strip_words


@dataclass(frozen=True)
class GivenOrnament:
    """An ornament of which something is said for this student. `placement` is None while it is left open, `is_hers`
    whether she may choose. `written` says for each way what is played: ("before", "C5 32nd, B♭4 dotted 16th")."""

    place: OrnamentPlace
    placement: Placement | None
    is_hers: bool
    written: tuple[tuple[Placement, str], ...] = ()


@dataclass(frozen=True)
class GivenOrnaments:
    """Those of one passage in score order; `ossias` are the lines to be engraved."""

    ornaments: tuple[GivenOrnament, ...] = ()
    ossias: tuple[Ossia, ...] = ()
    choices: dict[str, Choice] = field(default_factory=dict)


def student_choices(assigned: AssignedPassage) -> dict[str, Choice]:
    """The teacher's choices with the placements of this student; one that is left open has none. Reads
    `placements`: prefetch them."""
    choices = choices_in(here(assigned.passage).choices)
    for row in assigned.placements.all():
        choices[row.note] = replace(choices.get(row.note, Choice()), placement=row.placement or None)
    return choices


def given_ornaments(assigned: AssignedPassage, *, choosing: bool = False) -> GivenOrnaments:
    """What is said of the passage's ornaments, written out for the tempo to reach (else the edition's own).

    `choosing`: for the page on which the student chooses. What is hers to choose stands there in both ways, the one she
    chose marked; elsewhere it stands alone.
    """
    passage = assigned.passage
    rows = {row.note: row for row in assigned.placements.all()}
    standing = {row.note: row for row in here(passage).choices}
    if not rows and not standing:
        return GivenOrnaments()
    choices = student_choices(assigned)
    tempo = assigned.tempo_goal or assigned.tempo_now
    both = both_placements(passage, choices, open_only=True, tempo=tempo)
    ways = both_placements(passage, choices, tempo=tempo)
    found = [
        given(place, rows.get(place.note), choices, both)
        for one in own_ornaments(passage, both["on"])
        if (place := place_in(passage, one, standing)).note in rows or tells_how(place.choice)
    ]
    open_here = [one for one in found if one.is_hers] if choosing else [one for one in found if not one.placement]
    decided = {one.place.note: one.placement for one in found if one not in open_here}
    ossias = (
        *ossias_of(passage, both, decided, ways=ways),
        *ossias_of(
            passage,
            ways if choosing else both,
            dict.fromkeys([one.place.note for one in open_here]),
            {one.place.note: one.placement for one in open_here if one.placement},
            ways=ways,
        ),
    )
    return GivenOrnaments(tuple(in_words(found, ossias)), ossias, choices)


def tells_how(row: OrnamentChoice | None) -> bool:
    """The teacher said how the ornament is played, not only where it falls."""
    return row is not None and (row.count, row.start, row.turn, row.long) != (None, "", None, None)


def given(place: OrnamentPlace, row: PlacementChoice | None, choices: dict[str, Choice], both: Both) -> GivenOrnament:
    """The ornament with its placement: as chosen, else as the edition says; open where a row leaves it so."""
    chosen = choices.get(place.note, Choice()).placement
    is_open = row is not None and not chosen and place.has_placement
    placement = None if is_open else chosen or fallen(both["on"], place)
    is_hers = row is not None and row.chosen_by != ChosenBy.TEACHER and place.has_placement
    return GivenOrnament(place, placement, is_hers)


def fallen(performance: Performance, place: OrnamentPlace) -> Placement:
    return performance.by_key[place.note].placement


def in_words(found: list[GivenOrnament], ossias: tuple[Ossia, ...]) -> Iterator[GivenOrnament]:
    """The ornaments with what their ossias say."""
    for one in found:
        own = [ossia for ossia in ossias if one.place.note in ossia.strip.ornaments]
        written = {ossia.placement: strip_words(ossia.strip) for ossia in own}
        yield replace(one, written=tuple(written.items()))
