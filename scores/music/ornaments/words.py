"""What is chosen for an ornament and what comes of it: the words the other modules of this room share."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Literal, get_args

from scores.music.notation import Pitch, Placement, Side
from scores.music.refusal import Refusal

Start = Literal["main", "upper", "lower", "turn"]
Role = Literal["plain", "main", "ornament"]

FEWEST, MOST = 2, 128


class BadChoice(Refusal):
    """A choice that no ornament can follow."""


@dataclass(frozen=True, slots=True)
class Choice:
    """How one ornament is to be played; None leaves it to the file, then to the tool.

    `count` is the number of notes of the whole ornament, the main note included. `start` "turn" begins a trill with a
    turn from above. `turn` ends a trill with a turn. `long` makes a single unslashed grace a long appoggiatura.
    Raises `BadChoice` for a count outside 2 to 128 and for words that are none of these.
    """

    placement: Placement | None = None
    count: int | None = None
    start: Start | None = None
    turn: bool | None = None
    long: bool | None = None

    def __post_init__(self) -> None:
        for word, words in ((self.placement, get_args(Placement)), (self.start, get_args(Start))):
            if word is not None and word not in words:
                raise BadChoice(
                    "“%(word)s” is no choice here; there are %(words)s.", {"word": str(word), "words": ", ".join(words)}
                )
        if self.count is not None and not FEWEST <= self.count <= MOST:
            raise BadChoice(
                "An ornament has %(fewest)d to %(most)d notes, not %(count)d.",
                {"fewest": FEWEST, "most": MOST, "count": self.count},
            )


@dataclass(frozen=True, slots=True)
class Remark:
    """A sentence for the player: an English message id with %(name)s places for `params`."""

    msgid: str
    params: tuple[tuple[str, str | int], ...] = ()

    def __str__(self) -> str:
        return self.msgid % dict(self.params) if self.params else self.msgid


@dataclass(frozen=True, slots=True)
class Sounding:
    """A key that is struck. `onset` and `length` in quarters. `source` is the id of the written note it comes from,
    `ornament` the key of the `Realised` it belongs to, or "". `shared`: another note strikes this key at this very
    moment, so there is no stroke of its own."""

    pitch: Pitch
    onset: Fraction
    length: Fraction
    source: str
    side: Side
    voice: str
    role: Role = "plain"
    ornament: str = ""
    shared: bool = False

    @property
    def end(self) -> Fraction:
        return self.onset + self.length


@dataclass(frozen=True, slots=True)
class Realised:
    """One ornament written out. `key` names it in choices: the first grace's id, or the id of the note with the sign.

    `notes` are its own notes and what is left of the note it adorns. `taken` says how many quarters were taken from
    which written note before it, `from_silence` how many from a rest, `waited` how much later than written a note of an
    arpeggio on the beat is struck. `ms` is its shortest note but the main one, in
    milliseconds, and `per_second` how many such notes pass in a second.
    """

    key: str
    kind: str
    note: str
    measure: int
    beat: Fraction
    side: Side
    placement: Placement
    notes: tuple[Sounding, ...]
    taken: tuple[tuple[str, Fraction], ...] = ()
    from_silence: Fraction = Fraction(0)
    waited: tuple[tuple[str, Fraction], ...] = ()
    ms: Fraction = Fraction(0)
    remarks: tuple[Remark, ...] = ()

    @property
    def per_second(self) -> Fraction:
        return 1000 / self.ms if self.ms else Fraction(0)


@dataclass(frozen=True)
class Performance:
    """A score as it sounds: all keys struck in order, and its ornaments in score order.

    `released` says how many quarters a held key lost because an ornament strikes the same key: id -> quarters.
    `remarks` are about the choices as a whole.
    """

    notes: tuple[Sounding, ...]
    ornaments: tuple[Realised, ...]
    released: tuple[tuple[str, Fraction], ...] = ()
    remarks: tuple[Remark, ...] = ()

    @cached_property
    def by_key(self) -> dict[str, Realised]:
        return {ornament.key: ornament for ornament in self.ornaments}
