"""One measure of music engraved in strict proportion: the same time takes the same room everywhere, so that a grid can
stand under it. Runs in the workshop, as `plates` does."""

from __future__ import annotations

from scores.engraving import cutting
from scores.engraving.accidentals import supply_accidentals
from scores.engraving.plan import System
from scores.engraving.plates import OPTIONS, draw_pages, finish, load, new_toolkit
from scores.engraving.redrawing import STAFF_HEIGHT

# What a quarter takes, in staff heights, with the engraver's linear spacing at 1 and nothing but linear spacing; seen
# with verovio 6.4.
QUARTER = 35.5
LEAST, MOST = 0.02, 1.0


def engrave_strip(music: bytes, *, quarter: float, staff: float) -> System:
    """The music on one line, a quarter `quarter` wide where nothing needs more, staves `staff` high (one unit of the
    caller's choice). What is drawn is found by its ids in `System.notes`. Raises `CannotEngrave`."""
    root = cutting.read(music)
    cutting.supply_attributes(root)
    supply_accidentals(root)
    toolkit = new_toolkit()
    spacing = max(LEAST, min(MOST, quarter / staff / QUARTER))
    options = {"breaks": "none", "spacingNonLinear": 1.0, "spacingLinear": spacing, "pageWidth": 100_000}
    toolkit.setOptions(OPTIONS | options | {"measureMinWidth": 1, "spacingStaff": 7})
    load(toolkit, root)
    return finish(draw_pages(toolkit)[0], 0, (), {}, 1_000_000, staff / STAFF_HEIGHT)
