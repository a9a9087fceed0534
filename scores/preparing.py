"""The preparation list of an edition as its page shows it, gathered into one dataclass."""

import logging
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from scores.judging import engine_hand
from scores.marking import beat_words
from scores.models import Edition, Looked
from scores.music.fingering.hand import hand
from scores.music.notation import SIDES
from scores.music.survey import FAULTS, KIND_NAMES, KINDS, Finding, Kind, Options
from scores.music.survey.again import shortened
from scores.music.survey.words import INTERVAL_PARAMS, WORD_PARAMS
from scores.recurring import again_in
from scores.surveying import (
    CUE_KINDS,
    ORNAMENT_KINDS,
    difficulty_detail,
    findings_for,
    kinds_off,
)
from scores.workshop import WorkshopFailed
from studio.models import Student, User
from studio.reach import an_interval, latest_hands

log = logging.getLogger(__name__)

A_PAGE = 300  # findings shown at a time

WRONG_SPEED = gettext_noop(
    "A tempo lies between 20 and 300 quarters a minute, and fast is above 0 and up to 40 notes a second."
)
HANDS = {
    "right": gettext_noop("right hand"),
    "left": gettext_noop("left hand"),
    "both": gettext_noop("both hands"),
}
# Told apart by place and word: what a hand cannot reach, what is more than comfortable.
HAND_KINDS: frozenset[Kind] = frozenset({"reach", "stretch", "wide-roll"})

Had = Collection[tuple[str, str]]


@dataclass(frozen=True)
class ShownFinding:
    """One line of the list. `looked` is its tick, None while it was not looked at; `begins` says what Enter begins;
    `is_new` when a student has met nothing like it; `asks` is "reach" or "stretch" where it asks much of her hand."""

    finding: Finding
    looked: Looked | None
    is_new: bool
    asks: str

    @property
    def sentence(self) -> str:
        return sentence(self.finding)

    @property
    def where(self) -> str:
        return place_words(self.finding)

    @property
    def hand(self) -> str:
        return _(HANDS[self.finding.hand])

    @property
    def kind(self) -> str:
        return _(KIND_NAMES[self.finding.kind])

    @property
    def begins(self) -> str:
        return begins(self.finding)

    @property
    def key(self) -> str:
        return self.finding.key

    @property
    def notes(self) -> str:
        """The ids of its notes, for the script; ids hold no blanks."""
        return " ".join(self.finding.notes)

    @property
    def passage_id(self) -> int | None:
        """The standing passage that was made of it."""
        passage = self.looked.passage if self.looked else None
        return passage.pk if passage and passage.removed_at is None else None


@dataclass(frozen=True)
class KindRow:
    kind: Kind
    name: str
    count: int
    is_on: bool


@dataclass(frozen=True)
class PreparationPage:
    """`shown` is the part of the list that stands on this page; `count` and `looked` are of the whole list as filtered;
    `all_count` of everything that was found. `trouble` says why there is no list."""

    edition: Edition
    shown: tuple[ShownFinding, ...]
    kinds: tuple[KindRow, ...]
    hands: str
    only: str
    student: Student | None
    unmeasured: bool
    count: int
    looked: int
    all_count: int
    start: int
    trouble: str = ""
    tempo: str = ""
    fast: str = ""
    wrong: str = ""

    @property
    def query(self) -> str:
        """The address's own part after the question mark, without the place in a long list."""
        return query_of(self)

    @property
    def hand_choices(self) -> list[tuple[str, str]]:
        choices = {"": _("Everything"), **{hand: capfirst(_(words)) for hand, words in HANDS.items()}}
        return [(query_of(self, hands=hand), words) for hand, words in choices.items()]

    @property
    def only_choices(self) -> list[tuple[str, str]]:
        choices = {"": _("All"), "open": _("Not looked at")}
        if self.student:
            choices |= {"new": _("New to the student"), "hand": _("Much for the hand")}
        return [(query_of(self, only=only), words) for only, words in choices.items()]

    @property
    def absent(self) -> list[Kind]:
        """Kinds that are switched on and do not stand in this edition: they stay on."""
        return [kind for kind in KINDS if kind not in {row.kind for row in self.kinds}]

    @property
    def says_stretch(self) -> bool:
        return any(one.finding.kind in HAND_KINDS for one in self.shown)

    @property
    def next(self) -> int | None:
        return self.start + A_PAGE if self.start + A_PAGE < self.count else None

    @property
    def before(self) -> int | None:
        return max(0, self.start - A_PAGE) if self.start else None

    @property
    def first_measure(self) -> int:
        """The index of the measure at which the music is opened: that of the first finding that was not looked at."""
        unticked = next((one for one in self.shown if one.looked is None), None)
        found = unticked or (self.shown[0] if self.shown else None)
        return found.finding.measure if found else 0


@dataclass(frozen=True)
class Wanted:
    """What the address asks for: a hand ("" is all), "new" or "hand" for a student's part, where in a long list; a
    tempo and how many notes a second are fast, as typed ("" is the edition's own tempo and the usual speed)."""

    hands: str = ""
    only: str = ""
    start: int = 0
    tempo: str = ""
    fast: str = ""

    @classmethod
    def read(cls, asked: Mapping[str, str]) -> "Wanted":
        hands, only, start = (asked.get(name, "") for name in ("hands", "only", "from"))
        return cls(
            hands if hands in HANDS else "",
            only if only in ("new", "hand", "open") else "",
            int(start) if start.isdecimal() and len(start) < 7 else 0,
            *(asked.get(name, "").strip()[:8] for name in ("tempo", "fast")),
        )

    @property
    def speeds(self) -> dict[str, float]:
        """Tempo and speed as `Options` takes them. Raises `ValueError` for what is no such number."""
        asked = {"tempo": self.tempo, "notes_per_second": self.fast}
        return {name: float(text.replace(",", ".")) for name, text in asked.items() if text}


NOTHING_WANTED = Wanted()


def gather_preparation(
    edition: Edition, user: User, wanted: Wanted, student: Student | None = None, had: Had = frozenset()
) -> PreparationPage:
    """The list for a medium hand, or for a student's own. `had` is what she has met in pieces that she has had: kinds
    of difficulty with their detail."""
    off = kinds_off(user)
    try:
        options, wrong = options_for(student, wanted), ""
    except ValueError:
        options, wrong = options_for(student), _(WRONG_SPEED)
    found, trouble = found_in(edition, options, off)
    ticks = {row.key: row for row in Looked.objects.select_related("passage").filter(edition=edition)}
    counts = Counter(one.kind for one in found)
    shown = [
        shown_finding(one, ticks, student, had)
        for one in found
        if one.kind not in off and wanted.hands in ("", one.hand)
    ]
    shown = [one for one in shown if is_wanted(one, wanted.only)]
    start = wanted.start if wanted.start < len(shown) else 0
    return PreparationPage(
        edition=edition,
        shown=tuple(shown[start : start + A_PAGE]),
        kinds=tuple(
            KindRow(kind, capfirst(_(KIND_NAMES[kind])), counts[kind], kind not in off)
            for kind in KINDS
            if counts[kind] or kind in off
        ),
        hands=wanted.hands,
        only=wanted.only,
        student=student,
        unmeasured=student is not None and len(latest_hands(student.hands.all())) < len(SIDES),
        count=len(shown),
        looked=sum(one.looked is not None for one in shown),
        all_count=len(found),
        start=start,
        trouble=trouble,
        tempo=wanted.tempo,
        fast=wanted.fast,
        wrong=wrong,
    )


def query_of(page: PreparationPage, **other: str) -> str:
    """The address's part after the question mark, as it is but for `other`."""
    asked = {"student": page.student.pk if page.student else "", "tempo": page.tempo, "fast": page.fast}
    asked |= {"hands": page.hands, "only": page.only, **other}
    return urlencode({name: value for name, value in asked.items() if value})


def found_in(edition: Edition, options: Options, off: Collection[str]) -> tuple[Sequence[Finding], str]:
    """The findings, shorter by what returns unless that is switched off; or none, and why."""
    try:
        found = findings_for(edition, options)
    except WorkshopFailed:
        return (), _("Looking through this took too long and was stopped. Send the work one movement at a time.")
    except Exception:  # The page, and the music on it, must stand whatever the survey makes of a score.
        log.exception("edition %s could not be surveyed", edition.pk)
        return (), _("This score could not be looked through. The music itself can be read and marked as ever.")
    if "recurrence" in off:
        return found, ""
    return shortened(found, again_in(edition), edition.score), ""


def options_for(student: Student | None, wanted: Wanted = NOTHING_WANTED) -> Options:
    """The student's hands as measured last, a medium one where none was, at the speeds that are asked for. Raises
    `ValueError` for speeds that make no sense."""
    measured = latest_hands(student.hands.all()) if student else {}
    right, left = (engine_hand(measured[side]) if side in measured else hand(side) for side in SIDES)
    return Options(hands=(right, left), **wanted.speeds)


def is_wanted(one: ShownFinding, only: str) -> bool:
    return {"": True, "new": one.is_new, "hand": bool(one.asks), "open": one.looked is None}[only]


def shown_finding(one: Finding, ticks: dict[str, Looked], student: Student | None, had: Had) -> ShownFinding:
    counts_as_new = student is not None and one.kind not in FAULTS and one.kind != "recurrence"
    return ShownFinding(
        finding=one,
        looked=ticks.get(one.key[:200]),
        is_new=counts_as_new and (one.kind, difficulty_detail(one)) not in had,
        asks=one.kind if student is not None and one.kind in HAND_KINDS else "",
    )


def sentence(one: Finding) -> str:
    """The finding in the reader's language and in the words of the trade."""
    params = dict(one.params)
    for name, value in one.params.items():
        if name in INTERVAL_PARAMS and isinstance(value, int):
            params[name] = an_interval(value)
        elif name in WORD_PARAMS and value:
            params[name] = _(str(value))
    return capfirst(_(one.message) % params if params else _(one.message))


def place_words(one: Finding) -> str:
    """ "17, beat 2½", "17–24" """
    if one.last_measure != one.measure:
        return f"{one.number}–{one.last_number}"
    return _("%(measure)s, beat %(beat)s") % {"measure": one.number, "beat": beat_words(one.beat)}


def begins(one: Finding) -> str:
    """What a press of Enter begins."""
    if not one.notes:
        return ""
    if one.kind in ORNAMENT_KINDS:
        return _("Passage, and where the ornament falls")
    if one.kind == "cross-rhythm":
        return _("Passage and rhythm drill")
    if one.kind in CUE_KINDS:
        return _("Passage and cue")
    return _("Passage and fingering")


def finding_named(edition: Edition, key: str, options: Options) -> Finding | None:
    """The finding with this key; what is left out of the list because it returns counts too."""
    for off in ((), ("recurrence",)):
        found, _trouble = found_in(edition, options, off)
        named = next((one for one in found if one.key == key), None)
        if named:
            return named
    return None
