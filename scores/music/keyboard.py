"""The picture of a few keys with a hand on them as SVG text, the same for page and paper.

Black and white attributes and classes only, no style: a stylesheet may colour it, a printer need not. A key that is
down carries a disc with the finger's number, so that nothing is said by colour alone. A black key is 0.58 as wide and
0.63 as long as a white one (common practice).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from scores.music.notation import BLACK

WIDTH, LENGTH = 26.0, 96.0
BLACK_WIDTH, BLACK_LENGTH = 15.0, 60.0
EDGE = 1.0
LEAST_WHITE = 10  # Fewer white keys than this do not look like a keyboard.
LOWEST, HIGHEST = 0, 127
OPENINGS, CLOSINGS = frozenset({0, 5}), frozenset({4, 11})  # C or F begins a picture, E or B ends it.
MIDDLE_C = 60


@dataclass(frozen=True, slots=True)
class Drawn:
    """One key: its MIDI number and its left edge."""

    key: int
    left: float

    @property
    def is_black(self) -> bool:
        return self.key % 12 in BLACK

    @property
    def width(self) -> float:
        return BLACK_WIDTH if self.is_black else WIDTH

    @property
    def length(self) -> float:
        return BLACK_LENGTH if self.is_black else LENGTH


def keyboard(down: Mapping[int, str], *, title: str) -> str:
    """The keys around those that are `down` (MIDI number -> finger, as "3" or "4-5"); `title` is read aloud in place of
    the picture. Raises `ValueError` when no key is down, or one is outside MIDI's 0 to 127."""
    if not down or min(down) < LOWEST or max(down) > HIGHEST:
        raise ValueError("a picture needs keys between 0 and 127")
    keys = laid_out(*ends(min(down), max(down)))
    width = max(key.left + key.width for key in keys) + EDGE
    drawn = [drawing(key, key.key in down) for key in sorted(keys, key=lambda key: key.is_black)]
    discs = [disc(key, down[key.key]) for key in keys if key.key in down]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="keyboard" width="{width:g}" height="{LENGTH + 2 * EDGE:g}"'
        f' viewBox="0 0 {width:g} {LENGTH + 2 * EDGE:g}" role="img" aria-label={quoteattr(title)}>'
        + "".join(drawn + discs)
        + "</svg>"
    )


def ends(lowest: int, highest: int) -> tuple[int, int]:
    """The first and last key of the picture: from a C or F to an E or B, with keys to spare around the hand."""
    first, last = max(lowest - 1, LOWEST), min(highest + 1, HIGHEST)
    while first > LOWEST and first % 12 not in OPENINGS:
        first -= 1
    while last < HIGHEST and last % 12 not in CLOSINGS:
        last += 1
    while len(white(first, last)) < LEAST_WHITE:
        if last < HIGHEST and (first == LOWEST or highest - first >= last - lowest):
            last = next((key for key in range(last + 1, HIGHEST) if key % 12 in CLOSINGS), HIGHEST)
        else:
            first = next((key for key in range(first - 1, LOWEST, -1) if key % 12 in OPENINGS), LOWEST)
    return first, last


def white(first: int, last: int) -> list[int]:
    return [key for key in range(first, last + 1) if key % 12 not in BLACK]


def laid_out(first: int, last: int) -> list[Drawn]:
    """The keys from low to high; a black one lies over the line between two white ones."""
    keys, left = [], EDGE
    for key in range(first, last + 1):
        if key % 12 in BLACK:
            keys.append(Drawn(key, left - BLACK_WIDTH / 2))
        else:
            keys.append(Drawn(key, left))
            left += WIDTH
    return keys


def drawing(key: Drawn, down: bool) -> str:
    name = ("black" if key.is_black else "white") + (" down" if down else "")
    fill = "black" if key.is_black else "white"
    shape = (
        f'<rect class="{name}" x="{key.left:g}" y="{EDGE:g}" width="{key.width:g}" height="{key.length:g}" rx="1.5"'
        f' fill="{fill}" stroke="black" stroke-width="1"/>'
    )
    if key.key != MIDDLE_C or down:
        return shape
    middle, foot = key.left + WIDTH / 2, LENGTH - 8
    return shape + f'<text class="middle-c" x="{middle:g}" y="{foot:g}" font-size="11" text-anchor="middle">C</text>'


def disc(key: Drawn, finger: str) -> str:
    """The finger's number on its key, near the end where it is struck."""
    x, y = key.left + key.width / 2, EDGE + key.length - (13 if key.is_black else 16)
    size = 15 if len(finger) == 1 else 9
    return (
        f'<g class="finger"><circle cx="{x:g}" cy="{y:g}" r="11" fill="white" stroke="black" stroke-width="1.5"/>'
        f'<text x="{x:g}" y="{y + size * 0.35:g}" font-size="{size}" font-weight="600" text-anchor="middle">'
        f"{escape(finger)}</text></g>"
    )
