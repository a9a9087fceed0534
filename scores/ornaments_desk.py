"""The ornaments of a passage as the desk shows them: each written out in both placements, how fast its notes come at a
tempo, and what a teacher may say of it."""

import logging
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from scores.engraving import Ossia, System, engrave_cached
from scores.models import OrnamentChoice, Passage
from scores.music.notation import Placement
from scores.music.ornaments import BadChoice, Choice, Realised, Remark
from scores.music.ornaments.plan import ORDINARY_TEMPO, TREMOLO
from scores.music.ornaments.styles import Period, default_style
from scores.music.tempo import FASTEST, SLOWEST
from scores.ornament_places import (
    PLACEMENTS,
    Both,
    OrnamentPlace,
    both_placements,
    choices_in,
    own_ornaments,
    place_in,
    sound_alike,
)
from scores.ossias import ossia_words, ossias_of, placement_words

log = logging.getLogger(__name__)

MOST_WRITTEN = 24  # ornaments of one passage that are written out; more would leave no room for the music
STAFF, NARROW_STAFF, NARROW = 38, 34, 640  # CSS pixels

PERIODS: tuple[tuple[Period, object], ...] = (
    ("baroque", gettext_lazy("baroque")),
    ("classical", gettext_lazy("classical")),
    ("romantic", gettext_lazy("romantic")),
)


@dataclass(frozen=True)
class Way:
    """One placement of an ornament: how fast its quick notes come, and the program's remarks. `words` names it."""

    placement: Placement
    words: str
    speed: str
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class ShownOrnament:
    """An ornament of the passage with its ways: both placements, or one where they come to the same."""

    place: OrnamentPlace
    ways: tuple[Way, ...]

    @property
    def choice(self) -> OrnamentChoice | None:
        return self.place.choice


@dataclass(frozen=True)
class OrnamentSystem:
    """A system with ossias, and the ornaments that stand in it. `svg` is "" when it could not be engraved."""

    svg: SafeString
    ornaments: tuple[ShownOrnament, ...]


@dataclass(frozen=True)
class ShownStyle:
    """What a period mostly did with these ornaments, in sentences, and where that is written."""

    period: Period
    name: object
    habits: tuple[str, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True)
class OrnamentDesk:
    """`tempo` in quarters a minute: as asked for, else the edition's own mark, else `ORDINARY_TEMPO`."""

    systems: tuple[OrnamentSystem, ...]
    styles: tuple[ShownStyle, ...]
    tempo: int
    width: int
    trouble: str = ""
    is_near: bool = False  # some line is written as near as note values allow

    @property
    def places(self) -> tuple[OrnamentPlace, ...]:
        return tuple(shown.place for system in self.systems for shown in system.ornaments)

    def __bool__(self) -> bool:
        return bool(self.systems)


def tidy_tempo(asked: object) -> int | None:
    """A tempo from an address; None for what is none."""
    try:
        tempo = int(float(str(asked)))
    except (ValueError, OverflowError):
        return None
    return tempo if SLOWEST <= tempo <= FASTEST else None


def usual_tempo(passage: Passage) -> int:
    """The edition's own mark where the passage begins, in whole quarters a minute, else an ordinary tempo."""
    score = passage.edition.score
    start = score.by_id[passage.first_note].onset
    marks = [mark.quarters for mark in score.tempos if mark.onset <= start]
    return round(min(max(marks[-1] if marks else ORDINARY_TEMPO, Fraction(SLOWEST)), Fraction(FASTEST)))


def gather_ornaments(
    passage: Passage, rows: Sequence[OrnamentChoice], width: int, tempo: int | None = None
) -> OrnamentDesk:
    """All ornaments of the passage, written out and engraved for a column `width` CSS pixels wide."""
    asked = tempo or usual_tempo(passage)
    trouble = ""
    try:
        both = both_placements(passage, choices_in(rows), tempo=asked)
    except BadChoice as refusal:  # a row that no form would have let through
        both, trouble = both_placements(passage, {}, tempo=asked), _(refusal.msgid) % refusal.params
    chosen = {row.note: row for row in rows}
    shown = tuple(
        ShownOrnament(place_in(passage, one, chosen), tuple(ways_of(both, one.key)))
        for one in own_ornaments(passage, both["on"])
    )
    if not shown:
        return OrnamentDesk((), (), asked, width)
    if len(shown) > MOST_WRITTEN:
        trouble = trouble or _(
            "Only the first %(count)d ornaments are written out. Mark a shorter passage to see the others so."
        ) % {"count": MOST_WRITTEN}
    ossias = lines_of(passage, both, shown)
    systems, failed = engraved(passage, ossias, shown, width)
    is_near = any(not ossia.strip.is_exact for ossia in ossias)
    return OrnamentDesk(systems, tuple(styles_for(shown)), asked, width, trouble or failed, is_near)


def ways_of(both: Both, key: str) -> Iterator[Way]:
    alike = sound_alike(both, key)
    for placement in PLACEMENTS:
        one = both[placement].by_key.get(key)
        if one is None or (alike and placement == "before"):
            continue
        words = _("in either placement") if alike else placement_words(placement)
        said = {said_remark(remark): None for remark in one.remarks}
        if alike and (other := both["before"].by_key.get(key)):
            said |= {said_remark(remark): None for remark in other.remarks}
        yield Way(placement, words, speed_words(one), tuple(said))


def speed_words(one: Realised) -> str:
    """How many notes the ornament has and how fast the quick ones come; a note shared with another voice counts too."""
    strokes = {note.onset if one.kind == TREMOLO else (note.onset, note.pitch) for note in one.notes}
    count = len(strokes)
    quick = len({note.onset for note in one.notes if note.role == "ornament"})
    values = {"count": count, "ms": round(one.ms), "speed": f"{float(one.per_second):.1f}"}
    if not one.ms:
        return _("it sounds as it is written")
    if quick == 1 and one.kind != "arpeggiate":
        return _("the small note lasts %(ms)d ms") % values
    return _("%(count)d notes, the quick ones %(ms)d ms each, %(speed)s a second") % values


def said_remark(remark: Remark) -> str:
    """A remark of the engine in the reader's language."""
    return _(remark.msgid) % dict(remark.params) if remark.params else _(remark.msgid)


# The music


def lines_of(passage: Passage, both: Both, shown: Sequence[ShownOrnament]) -> tuple[Ossia, ...]:
    """Both placements of each ornament, the teacher's marked."""
    lines: Mapping[str, Placement | None] = {one.place.note: None for one in shown[:MOST_WRITTEN]}
    decided = {one.place.note: one.choice.placement for one in shown if one.choice and one.choice.placement}
    return ossias_of(passage, both, lines, decided)


def engraved(
    passage: Passage, ossias: Sequence[Ossia], shown: Sequence[ShownOrnament], width: int
) -> tuple[tuple[OrnamentSystem, ...], str]:
    """The systems that have ornaments, each with its own; or all of them without music, and what to say."""
    try:
        engraving = engrave_cached(
            passage.edition.music,
            first=passage.first_measure,
            last=passage.last_measure,
            width=width,
            staff=STAFF if width >= NARROW else NARROW_STAFF,
            ossias=ossias,
            show_printed=False,
        )
    except Exception:  # Whatever the engraver makes of a score, the choices must stay within reach.
        log.exception("the ornaments of passage %s could not be engraved", passage.pk)
        return (OrnamentSystem(mark_safe(""), tuple(shown)),), _(
            "The ornaments could not be engraved just now. What you choose is kept all the same."
        )
    found = (system_of(passage, system, ossias, shown) for system in engraving.systems)
    # A system may hold no more than what an ornament on the next one takes its time from.
    return tuple(system for system in found if system.ornaments or 'data-ossia="' in system.svg), ""


def system_of(
    passage: Passage, system: System, ossias: Iterable[Ossia], shown: Sequence[ShownOrnament]
) -> OrnamentSystem:
    first, last = system.first_measure, system.last_measure
    own = tuple(one for one in shown if first <= one.place.measure <= last)
    words = ossia_words(passage, ossias, first, last)
    # The engraving is redrawn element by element from known shapes, and what is put into it is escaped.
    return OrnamentSystem(mark_safe(system.labelled(words)), own)


# Styles


def styles_for(shown: Sequence[ShownOrnament]) -> Iterator[ShownStyle]:
    """What each period mostly did with the kinds that stand here."""
    kinds = list(dict.fromkeys(one.place.kind for one in shown if one.place.has_placement))
    for period, name in PERIODS if kinds else ():
        styles = [default_style(period, kind) for kind in kinds]
        sources = dict.fromkeys(_(source) for style in styles for source in style.sources)
        habits = dict.fromkeys(habit_words(kind, style.choice) for kind, style in zip(kinds, styles, strict=True))
        yield ShownStyle(period, name, tuple(habits), tuple(sources))


def habit_words(kind: str, choice: Choice) -> str:
    """ "trills: on the beat, from the note above" """
    where = placement_words(choice.placement) if choice.placement else ""
    begins = {"upper": _("from the note above"), "main": _("from the note itself")}.get(choice.start or "", "")
    names = _("grace notes") if kind == "grace" else _("trills") if begins else _("other signs")
    return _("%(names)s: %(how)s") % {"names": names, "how": ", ".join(part for part in (where, begins) if part)}
