"""What a survey gives and is asked for: kinds, findings, options."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, get_args

from scores.music.fingering.hand import Hand, hand
from scores.music.fingering.problems import gettext_noop
from scores.music.notation import SIDES, Hands, Side
from scores.music.tempo import Number, checked

Kind = Literal[
    "grace",
    "ornament",
    "arpeggio",
    "wide-roll",
    "tremolo",
    "cross-rhythm",
    "tuplet",
    "reach",
    "stretch",
    "leap",
    "repeat",
    "crossed-hands",
    "held",
    "thumb",
    "fast",
    "printed",
    "substitution",
    "tempo",
    "metre",
    "key",
    "recurrence",
    "uneven",
    "missing",
    "collision",
    "odd",
    "keyboard",
]
KINDS: tuple[Kind, ...] = get_args(Kind)
# What is wrong with the file rather than hard in the music.
FAULTS: frozenset[Kind] = frozenset({"uneven", "missing", "collision", "odd", "keyboard"})

KIND_NAMES: dict[Kind, str] = {
    "grace": gettext_noop("grace notes"),
    "ornament": gettext_noop("ornament signs"),
    "arpeggio": gettext_noop("rolled chords"),
    "wide-roll": gettext_noop("wide rolled chords"),
    "tremolo": gettext_noop("tremolos"),
    "cross-rhythm": gettext_noop("cross-rhythms"),
    "tuplet": gettext_noop("unusual tuplets"),
    "reach": gettext_noop("beyond the hand’s reach"),
    "stretch": gettext_noop("stretches"),
    "leap": gettext_noop("leaps"),
    "repeat": gettext_noop("fast repeated notes"),
    "crossed-hands": gettext_noop("crossing hands"),
    "held": gettext_noop("held fingers"),
    "thumb": gettext_noop("thumb on black keys"),
    "fast": gettext_noop("fast passages"),
    "printed": gettext_noop("printed fingerings"),
    "substitution": gettext_noop("finger changes"),
    "tempo": gettext_noop("changes of tempo"),
    "metre": gettext_noop("changes of metre"),
    "key": gettext_noop("changes of key"),
    "recurrence": gettext_noop("what returns"),
    "uneven": gettext_noop("measures that do not add up"),
    "missing": gettext_noop("empty staves"),
    "collision": gettext_noop("voices that collide"),
    "odd": gettext_noop("odd rhythms"),
    "keyboard": gettext_noop("notes beyond the keyboard"),
}

Params = dict[str, str | int]

NOTES_PER_SECOND = 8.0  # From here on a run counts as fast. Set by hand.
MOST_NOTES_PER_SECOND = 40.0


def medium_hands() -> tuple[Hand, Hand]:
    """A right and a left hand that reach a ninth in comfort and a tenth at most."""
    right, left = (hand(side) for side in SIDES)
    return right, left


@dataclass(frozen=True)
class Options:
    """What is looked for, and for whom.

    `kinds` that are listed; `hands` right and left; `tempo` in quarters a minute (None: the edition's own marks, and 80
    where it has none); a passage is fast beyond `notes_per_second`. Raises `BadTempo` for a tempo outside 20 to 300,
    `ValueError` for a rate that is not from above 0 to 40.
    """

    kinds: frozenset[Kind] = frozenset(KINDS)
    hands: tuple[Hand, Hand] = field(default_factory=medium_hands)
    tempo: Number | None = None
    notes_per_second: float = NOTES_PER_SECOND

    def __post_init__(self) -> None:
        if self.tempo is not None:
            checked(self.tempo)
        if not 0 < self.notes_per_second <= MOST_NOTES_PER_SECOND:
            raise ValueError(f"a rate of {self.notes_per_second} notes a second")

    def hand_of(self, side: Side) -> Hand:
        return self.hands[SIDES.index(side)]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that will need a word.

    `measure` and `last_measure` are indexes, `number` and `last_number` as printed; `beat` counts from 1; `onset` in
    quarters from the piece's start. `notes` are the ids it speaks of, in score order (none where the place has no
    note); where a key is held from before, `anchor` is what is struck at the place itself. `message` is an English
    msgid with %(name)s places for `params`; `detail` tells findings of a kind apart ("3:2", "trill-mark") where there
    is something to tell.
    """

    kind: Kind
    measure: int
    number: str
    beat: Fraction
    onset: Fraction
    hand: Hands
    notes: tuple[str, ...]
    message: str
    params: Mapping[str, str | int] = field(default_factory=dict)
    detail: str = ""
    last_measure: int = 0
    last_number: str = ""
    anchor: str = ""

    @property
    def key(self) -> str:
        """Names the finding for good: the same for every hand and tempo, in every survey of an edition."""
        has_note = self.notes and self.kind not in ("tempo", "metre", "key")
        place = self.anchor or self.notes[0] if has_note else f"{self.measure}@{self.onset}"
        return f"{self.kind}:{self.detail}:{self.hand}:{place}"

    @property
    def is_fault(self) -> bool:
        return self.kind in FAULTS

    def __str__(self) -> str:
        """The sentence in English; intervals as semitones."""
        params = {
            name: f"{value} semitones" if name in INTERVAL_PARAMS and isinstance(value, int) else value
            for name, value in self.params.items()
        }
        return self.message % params if params else self.message


# Parameters that are intervals in semitones, which screens say in the words of the trade; and those whose value is
# itself an English msgid.
INTERVAL_PARAMS = frozenset({"interval", "reach"})
WORD_PARAMS = frozenset({"sign", "unit"})

SIGN_NAMES = {
    "trill-mark": gettext_noop("Trill"),
    "turn": gettext_noop("Turn"),
    "delayed-turn": gettext_noop("Turn after the note"),
    "inverted-turn": gettext_noop("Inverted turn"),
    "delayed-inverted-turn": gettext_noop("Inverted turn after the note"),
    "vertical-turn": gettext_noop("Turn, sign upright"),
    "inverted-vertical-turn": gettext_noop("Inverted turn, sign upright"),
    "shake": gettext_noop("Shake"),
    "wavy-line": gettext_noop("Wavy line"),
    "mordent": gettext_noop("Mordent"),
    "inverted-mordent": gettext_noop("Short trill"),
    "schleifer": gettext_noop("Slide"),
    "haydn": gettext_noop("Haydn ornament"),
}
