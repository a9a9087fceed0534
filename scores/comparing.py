"""Two editions' readings side by side: the differences in words, and both engraved with the differing notes marked."""

from __future__ import annotations

import hashlib
import logging
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from html import escape

from django.core.cache import cache
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from scores import workshop
from scores.comparing_apart import compare_packed
from scores.desk import system_words
from scores.engraving import System, engrave_spans_cached
from scores.leafing import LEAF, PHONE, STAFF, STAFF_ON_PHONES
from scores.marking import beat_words
from scores.models import Edition, Passage, Replacement
from scores.music.readings import Comparison, Difference, MeasurePair, NoReadings
from scores.workshop import WorkshopFailed

log = logging.getLogger(__name__)

AT_ONCE = 20_000  # notes of both editions that are compared in this process
SECONDS, MEGABYTES = 60.0, 1024  # of longer works, in a process of their own
EDITION = 1  # of the comparison: raise it when the same editions are to be compared anew
KIND_NAMES = {
    "measure": gettext_noop("measures"),
    "note": gettext_noop("notes"),
    "pitch": gettext_noop("pitches"),
    "spelling": gettext_noop("spelling"),
    "rhythm": gettext_noop("rhythm"),
    "ornament": gettext_noop("ornaments"),
    "fingering": gettext_noop("fingering"),
    "hand": gettext_noop("hands"),
    "metre": gettext_noop("metre"),
    "key": gettext_noop("key"),
}
# The mark of each kind on a note head: shapes about the origin, in the units of the engraving.
SHAPES = {
    "note": '<circle r="230"/>',
    "pitch": '<path d="M0-260L260 0L0 260L-260 0Z"/>',
    "spelling": '<path d="M0-260L260 0L0 260L-260 0Z" stroke-dasharray="60 40"/>',
    "rhythm": '<path d="M0-280L260 200H-260Z"/>',
    "ornament": '<rect x="-230" y="-230" width="460" height="460" rx="120"/>',
    "fingering": '<rect x="-220" y="-220" width="440" height="440"/>',
    "hand": '<path d="M-260-200H260L0 280Z"/>',
}


@dataclass(frozen=True)
class ShownDifference:
    """One difference. `number` counts from 1 in the whole comparison; `kind` is in the reader's words."""

    difference: Difference
    number: int
    place: str
    kind: str
    words: str


@dataclass(frozen=True)
class Row:
    """One system of the first edition, and what the second has in its measures. `second_words` stand in place of
    engraved music where it has nothing there, or the engraver failed."""

    first: SafeString
    second: tuple[SafeString, ...]
    first_words: str
    second_words: str
    differences: tuple[ShownDifference, ...]


@dataclass(frozen=True)
class Step:
    """Where a listed difference stands: a measure (index) of the first edition, and the difference's number."""

    measure: int
    number: int


@dataclass(frozen=True)
class SideBySide:
    """A stretch of the comparison. `counts` are of the whole: kind, its name, how many, whether it is shown. `earlier`
    and `further` are the nearest listed differences outside the stretch."""

    first: Edition
    second: Edition
    rows: tuple[Row, ...]
    counts: tuple[tuple[str, str, int, bool], ...]
    total: int
    before: int | None
    next: int | None
    earlier: Step | None
    further: Step | None
    width: int


def compared(first: Edition, second: Edition | Replacement) -> Comparison:
    """The comparison of two editions, or of one and a file sent for it, whole; kept in the cache. Raises `NoReadings`,
    and `WorkshopFailed` for long works that take too long."""
    mine, theirs = bytes(first.packed_score), bytes(second.packed_score)
    digest = hashlib.sha256(mine)
    digest.update(b"|" + theirs)
    key = f"compared-{EDITION}-{digest.hexdigest()}"
    found = cache.get(key)
    if found is None:
        if first.notes + second.notes <= AT_ONCE:
            found = compare_packed(mine, theirs)
        else:
            found = workshop.run(compare_packed, mine, theirs, seconds=SECONDS, megabytes=MEGABYTES)
        cache.set(key, found)
    return found


def side_by_side(
    first: Edition, second: Edition, *, start: int = 0, width: int, off: frozenset[str] = frozenset()
) -> SideBySide:
    """The comparison from measure `start` (index in the first edition) on, about `LEAF` measures of it, engraved for a
    column `width` CSS pixels wide. Kinds in `off` are not listed and not marked. Raises `NoReadings`."""
    whole = compared(first, second)
    listed = shown_differences(whole.pairs, off)
    start = max(0, min(start, len(first.score.measures) - 1))
    last = min(start + LEAF, len(first.score.measures)) - 1
    systems = engraved(first, [(start, last)], width, marks_of(listed, 0))[0]
    spans = [(system.first_measure, system.last_measure) for system in systems] or [(start, last)]
    pairs = [within(whole.pairs, *span, len(first.score.measures)) for span in spans]
    there = engraved(second, [span_of(one) for one in pairs], width, marks_of(listed, 1))
    rows = tuple(
        row(first, second, system, facing, one, listed)
        for system, facing, one in zip(systems or (None,), there, pairs, strict=True)
    )
    end = spans[-1][1]
    counts = Counter(one.kind for one in whole.differences)
    steps = list(steps_through(whole.pairs, listed))
    return SideBySide(
        first=first,
        second=second,
        rows=rows,
        counts=tuple(
            (kind, _(name), counts[kind], kind not in off) for kind, name in KIND_NAMES.items() if counts[kind]
        ),
        total=sum(counts.values()),
        before=max(0, start - LEAF) if start else None,
        next=end + 1 if end + 1 < len(first.score.measures) else None,
        earlier=next((step for step in reversed(steps) if step.measure < start), None),
        further=next((step for step in steps if step.measure > end), None),
        width=width,
    )


def steps_through(pairs: Iterable[MeasurePair], listed: Iterable[ShownDifference]) -> Iterator[Step]:
    """The listed differences in order; what only the second edition has stands at the measure before it."""
    numbers = {id(one.difference): one.number for one in listed}
    measure = 0
    for pair in pairs:
        measure = measure if pair.first is None else pair.first
        yield from (Step(measure, numbers[id(one)]) for one in pair.differences if id(one) in numbers)


def row(
    first: Edition,
    second: Edition,
    system: System | None,
    systems: Sequence[System],
    pairs: Sequence[MeasurePair],
    listed: Sequence[ShownDifference],
) -> Row:
    """A system of the first edition, `systems` of the second that face it, and what differs in these pairs."""
    own = {id(difference) for pair in pairs for difference in pair.differences}
    failed = _("These measures could not be engraved.")
    lacking = _("These measures are not there.")
    return Row(
        mark_safe(labelled(first, system)) if system else mark_safe(""),
        tuple(mark_safe(labelled(second, one)) for one in systems),
        "" if system else failed,
        "" if systems else failed if span_of(pairs) else lacking,
        tuple(one for one in listed if id(one.difference) in own),
    )


def within(pairs: Sequence[MeasurePair], start: int, last: int, count: int) -> Sequence[MeasurePair]:
    """The pairs of these measures of the first edition, with what the second puts in after each, and before the first
    measure of the piece."""
    places = [place for place, pair in enumerate(pairs) if pair.first is not None and start <= pair.first <= last]
    low = 0 if start == 0 else places[0]
    high = places[-1] + 1
    while high < len(pairs) and pairs[high].first is None:
        high += 1
    return pairs[low:high]


Span = tuple[int, int]


def span_of(pairs: Iterable[MeasurePair]) -> Span | None:
    """The measures of the second edition in these pairs, from the first to the last; None where it has none."""
    there = [pair.second for pair in pairs if pair.second is not None]
    return (there[0], there[-1]) if there else None


def engraved(
    edition: Edition, spans: Sequence[Span | None], width: int, marks: dict[str, list[str]]
) -> list[tuple[System, ...]]:
    """The systems of each span; none where there is no span, or where the engraver failed."""
    wanted = [span for span in spans if span is not None]
    found = iter(engravings(edition, wanted, width))
    return [
        tuple(marked(system, marks) for system in next(found) if system.last_measure >= system.first_measure)
        if span
        else ()
        for span in spans
    ]


def engravings(edition: Edition, spans: Sequence[Span], width: int) -> list[tuple[System, ...]]:
    staff = STAFF if width > PHONE else STAFF_ON_PHONES
    if not spans:
        return []
    try:
        return [one.systems for one in engrave_spans_cached(edition.music, spans=spans, width=width, staff=staff)]
    except Exception:  # Whatever the engraver makes of a score, the words stand.
        log.exception("measures %s to %s of edition %s could not be engraved", *spans[0], edition.pk)
    if len(spans) == 1:
        return [()]
    return [systems for span in spans for systems in engravings(edition, [span], width)]


def marked(system: System, marks: dict[str, list[str]]) -> System:
    """The system with a shape on each note that differs."""
    shapes = "".join(
        f'<g class="differs" data-note="{escape(note)}" transform="translate({x:.0f} {y:.0f})">{SHAPES[kind]}</g>'
        for note, (x, y) in system.notes.items()
        for kind in marks.get(note, ())
    )
    head, slash, tail = system.svg.rpartition("</svg>")
    layer = f'<g class="differences" fill="none" stroke-width="50">{shapes}</g>' if shapes else ""
    return replace(system, svg=head + layer + slash + tail)


def labelled(edition: Edition, system: System) -> str:
    words = system_words(edition.score, system.first_measure, system.last_measure, ())
    return system.labelled(f"{edition.label}. {words}")


def marks_of(listed: Iterable[ShownDifference], edition: int) -> dict[str, list[str]]:
    """Note id of the first (0) or second (1) edition -> the kinds of difference marked there."""
    found: dict[str, list[str]] = {}
    for one in listed:
        difference = one.difference
        for note in (difference.first_ids, difference.second_ids)[edition]:
            kinds = found.setdefault(note, [])
            if difference.kind in SHAPES and difference.kind not in kinds:
                kinds.append(difference.kind)
    return found


# In words


def shown_differences(pairs: Sequence[MeasurePair], off: frozenset[str]) -> list[ShownDifference]:
    differences = [one for pair in pairs for one in pair.differences if one.kind not in off]
    return [
        ShownDifference(one, number, place_words(one), _(KIND_NAMES[one.kind]), difference_words(one))
        for number, one in enumerate(differences, start=1)
    ]


def place_words(one: Difference) -> str:
    """ "measure 4, right hand" """
    where = _("measure %(number)s") % {"number": one.measure}
    if one.kind in ("measure", "metre", "key") or one.side is None:
        return where
    hand = _("right hand") if one.side == "right" else _("left hand")
    return _("%(measure)s, %(at)s, %(hand)s") % {"measure": where, "at": at_words(one.at), "hand": hand}


def at_words(at: Fraction) -> str:
    """A place in quarters from the bar line, said from 1: "quarter 2½"."""
    return _("quarter %(number)s") % {"number": beat_words(at + 1)}


def difference_words(one: Difference) -> str:
    """What the first edition has and what the second, in one sentence."""
    first, second = (readable(one, text) for text in (one.first, one.second))
    if one.kind == "measure":
        return _("only in the first") if one.first else _("only in the second")
    if not first:
        return _("only in the second: %(what)s") % {"what": second}
    if not second:
        return _("only in the first: %(what)s") % {"what": first}
    return _("%(first)s in the first, %(second)s in the second") % {"first": first, "second": second}


def readable(one: Difference, text: str) -> str:
    """What an edition has, as a reader says it."""
    if not text:
        return ""
    if one.kind == "rhythm":
        quarters = text.removeprefix("@")
        if text.startswith("@"):
            return at_words(Fraction(quarters))
        return _("%(number)s of a quarter long") % {
            "number": beat_words(Fraction(quarters)).removeprefix("0").removeprefix("+")
        }
    if one.kind == "hand":
        return _("right hand") if text == "right" else _("left hand")
    if one.kind == "key":
        return key_words(int(text))
    return text


def key_words(fifths: int) -> str:
    if not fifths:
        return _("no sharps or flats")
    sign = "♯" if fifths > 0 else "♭"
    return f"{abs(fifths)} {sign}"


# On the desk


@dataclass(frozen=True)
class OtherReading:
    """What another edition has in the measures of a passage."""

    edition: Edition
    rows: tuple[SafeString, ...]
    differences: tuple[ShownDifference, ...]


def other_readings(passage: Passage, others: Iterable[Edition], width: int) -> list[OtherReading]:
    """The readings of the passage's measures in the other editions of its piece; those that lack them are left out."""
    return [found for other in others if (found := other_reading(passage, other, width))]


def other_reading(passage: Passage, other: Edition, width: int) -> OtherReading | None:
    score = passage.edition.score
    try:
        pairs = within(
            compared(passage.edition, other).pairs, passage.first_measure, passage.last_measure, len(score.measures)
        )
    except (NoReadings, WorkshopFailed):
        return None
    span = span_of(pairs)
    if span is None:
        return None
    listed = shown_differences(pairs, frozenset())
    (systems,) = engraved(other, [span], width, marks_of(listed, 1))
    return OtherReading(other, tuple(mark_safe(labelled(other, one)) for one in systems), tuple(listed))
