"""What an engraving is asked for and what it is: plain values that travel between processes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from html import escape
from typing import Literal

from scores.music.notation import Placement, Side
from scores.music.ornaments.written import Strip

Mark = Literal["teacher", "program", "printed"]


class CannotEngrave(Exception):
    """The engraver made nothing of the score."""


@dataclass(frozen=True)
class FingerLine:
    """One fingering, set above (right hand) or below (left hand) the music, a digit per note.

    `fingers` is note id -> text ("3", "4-5"). `notes`, when given, are all the notes that the line may finger: those
    without a finger get an empty place that can be clicked. `key` is returned in `data-line`. A `small` line is an
    option beside the fingers that stand on the notes.
    """

    label: str
    fingers: Mapping[str, str]
    side: Side = "right"
    mark: Mark = "teacher"
    chosen: bool = False
    key: str = ""
    notes: tuple[str, ...] = ()
    small: bool = False


@dataclass(frozen=True)
class Ossia:
    """One way to play an ornament, written out on a small staff above (right hand) or below (left hand) the music,
    aligned with it note for note. `label` stands over its beginning; ossias of one `placement` share a height."""

    strip: Strip
    placement: Placement
    label: str
    chosen: bool = False


@dataclass(frozen=True)
class System:
    """One system as an SVG of its own.

    `first_measure` and `last_measure` are indexes into the whole edition. `width` and `height` are in the unit of the
    column's width that was asked for. `notes` (note id -> x, y of its head) and `measures` (index -> left, right) are
    in the SVG's user units; `scale` turns those into the unit of the width.
    """

    svg: str
    first_measure: int
    last_measure: int
    width: float
    height: float
    scale: float
    notes: dict[str, tuple[float, float]] = field(default_factory=dict)
    measures: dict[int, tuple[float, float]] = field(default_factory=dict)

    def labelled(self, description: str) -> str:
        """The SVG with a description for those who do not see it."""
        return self.svg.replace('aria-label=""', f'aria-label="{escape(description)}"', 1)


@dataclass(frozen=True)
class Engraving:
    systems: tuple[System, ...]
