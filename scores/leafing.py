"""Leafing through an edition: its music in leaves of some systems each, with what stands in the margin beside them.

A leaf ends where a line of music is full, so that the next one goes on as if the whole had been engraved at once.
"""

import logging
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.http import HttpRequest
from django.utils.functional import cached_property
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from scores.desk import DEFAULT_WIDTH, spoken, system_words, tidy_width
from scores.elsewhere import Margin, Saying, StandsHere, gather_margin
from scores.engraving import System, engrave_cached
from scores.models import Edition, Passage
from scores.music.notation import Note, Score
from scores.stretches import place_of

logger = logging.getLogger(__name__)

LEAF = 24  # measures engraved at a time
STAFF, STAFF_ON_PHONES, PHONE = 38, 32, 600  # heights of a staff, and the width of a column up to which it is a phone's


@dataclass(frozen=True)
class Notice:
    """What the reading remarked: `measure` is the index of the measure, None where it speaks of the whole."""

    text: str
    measure: int | None
    number: str = ""


@dataclass(frozen=True)
class LeafSystem:
    svg: SafeString
    first: int
    last: int
    passages: tuple[Passage, ...]
    notices: tuple[Notice, ...]
    sayings: tuple[Saying, ...] = ()
    standing: tuple[StandsHere, ...] = ()
    jumps: tuple[int, ...] = ()

    @property
    def jumps_text(self) -> str:
        """For the script: for each of the system's measures the next with the same music, -1 where there is none."""
        return ",".join(map(str, self.jumps))


@dataclass(frozen=True)
class Leaf:
    """`before` and `next` are the indexes where the leaves next to it end and begin: None at the ends of the score, and
    where the leaf before is on the page already (`follows`)."""

    edition: Edition
    systems: tuple[LeafSystem, ...]
    width: int
    first: int
    next: int | None
    trouble: str = ""
    follows: bool = False

    @property
    def before(self) -> int | None:
        return None if self.follows else self.first or None

    @cached_property
    def before_number(self) -> str:
        return self.edition.score.measures[self.first - 1].number if self.first else ""

    @cached_property
    def next_number(self) -> str:
        return self.edition.score.measures[self.next].number if self.next is not None else ""

    @cached_property
    def notes(self) -> list[list[object]]:
        """For the script that walks from note to note: id, note in words, measure, beat, hand, and what sorts the
        moments: onset in quarters, place among the graces; key, index of the measure."""
        if not self.systems:
            return []
        score = self.edition.score
        return [note_entry(score, note) for note in score.in_measures(self.systems[0].first, self.systems[-1].last)]


def note_entry(score: Score, note: Note) -> list[object]:
    place = place_of(score, note)
    grace = note.grace.order if note.grace else 10_000
    words = _("grace note %(note)s") % {"note": spoken(note)} if note.is_grace else spoken(note)
    return [
        note.id,
        words,
        place.measure,
        place.beat,
        note.side,
        round(float(note.onset), 6),
        grace,
        note.pitch.midi,
        note.measure,
    ]


def width_of(request: HttpRequest) -> int:
    """The width of the music's column: as asked for, or as this browser had it last time."""
    return tidy_width(request.GET.get("width") or request.COOKIES.get("column") or DEFAULT_WIDTH)


def asked_place(score: Score, number: str, index: str) -> int | None:
    """The index of the measure that was asked for, by its printed number or by index; None for a number that is not
    there, 0 if nothing was asked for."""
    if number:
        return next((measure.index for measure in score.measures if measure.number == number), None)
    return min(int(index), len(score.measures) - 1) if index.isdecimal() and len(index) < 9 else 0


def leaf_from(edition: Edition, first: int, width: int, *, follows: bool = False) -> Leaf:
    """The leaf that begins with a measure."""
    count = len(edition.score.measures)
    last = min(first + LEAF, count) - 1
    systems = engraved(edition, first, last, width)
    trouble = "" if systems else no_picture(edition, first, last)
    if last + 1 < count and len(systems) > 1:
        systems = systems[:-1]
    end = systems[-1].last_measure + 1 if systems else last + 1
    return Leaf(
        edition, with_margin(edition, systems), width, first, end if end < count else None, trouble, follows=follows
    )


def leaf_before(edition: Edition, before: int, width: int) -> Leaf:
    """The leaf that ends just before a measure."""
    first, last = max(0, before - LEAF), before - 1
    systems = engraved(edition, first, last, width)
    trouble = "" if systems else no_picture(edition, first, last)
    return Leaf(edition, with_margin(edition, systems), width, first, None, trouble)


def engraved(edition: Edition, first: int, last: int, width: int) -> tuple[System, ...]:
    """The systems; none where the engraver failed, whatever it failed at: the page stands without a picture."""
    staff = STAFF if width > PHONE else STAFF_ON_PHONES
    try:
        systems = engrave_cached(
            edition.music, first=first, last=last, width=width, staff=staff, continues=first > 0
        ).systems
    except Exception:
        logger.exception("Measures %s to %s of edition %s could not be engraved.", first, last, edition.pk)
        return ()
    return tuple(system for system in systems if system.last_measure >= system.first_measure)


def no_picture(edition: Edition, first: int, last: int) -> str:
    measures = edition.score.measures
    return _("Measures %(first)s to %(last)s could not be engraved.") % {
        "first": measures[first].number,
        "last": measures[last].number,
    }


def with_margin(edition: Edition, systems: Sequence[System]) -> tuple[LeafSystem, ...]:
    """The systems, each with the passages that begin in it, the notices on its measures, and what they are again."""
    if not systems:
        return ()
    margin, notices = gather_margin(edition), notices_of(edition)
    return tuple(leaf_system(edition.score, system, margin, notices) for system in systems)


def leaf_system(score: Score, system: System, margin: Margin, notices: Iterable[Notice]) -> LeafSystem:
    first, last = system.first_measure, system.last_measure
    return LeafSystem(
        mark_safe(system.labelled(system_words(score, first, last, ()))),
        first,
        last,
        tuple(passage for passage in margin.passages if first <= passage.first_measure <= last),
        tuple(notice for notice in notices if notice.measure is not None and first <= notice.measure <= last),
        tuple(one for one in margin.sayings if first <= one.first <= last),
        tuple(one for one in margin.standing if first <= one.first <= last),
        margin.jumps[first : last + 1],
    )


def notices_of(edition: Edition) -> list[Notice]:
    """What the reading remarked on this edition, in the reader's language; once for each measure that it speaks of."""
    places = {measure.number: measure.index for measure in reversed(edition.score.measures)}
    found = []
    for message, params in edition.notices:
        named = str(params.get("measure") or params.get("measures") or "").removesuffix(" …").split(", ")
        numbers = [number for number in named if number in places]
        found += [Notice(_(message) % params, places[number], number) for number in numbers]
        if not numbers:
            found.append(Notice(_(message) % params, None))
    return found
