"""Engraving itself, with verovio. Runs in the workshop, never in the process that answers requests: what the engraver
does with a malformed score is not ours to promise."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import verovio
from lxml import etree

from scores.engraving import cutting
from scores.engraving.finger_lines import set_lines
from scores.engraving.glyphs import DATA, FACE, glyph_path
from scores.engraving.plan import Engraving, FingerLine, System
from scores.engraving.redrawing import STAFF_HEIGHT, SVG, Drawing, make, redraw, tidy
from scores.fingering_marks import put_fingers, take_fingers
from scores.music.notation import Hands

MARGIN = 30  # around the ink of a system, in user units

OPTIONS = {
    "xmlIdSeed": 1,
    "font": FACE,
    "header": "none",
    "footer": "none",
    "breaks": "auto",
    "systemMaxPerPage": 1,
    "pageHeight": 60000,
    "adjustPageHeight": True,
    "pageMarginTop": 0,
    "pageMarginBottom": 0,
    "pageMarginLeft": 0,
    "pageMarginRight": 0,
    "scale": 100,
    "svgViewBox": True,
    "svgRemoveXlink": True,
    "svgFormatRaw": True,
    "smuflTextFont": "none",
    "svgAdditionalAttribute": ["fing@startid"],
    "expandNever": True,
}


def new_toolkit() -> verovio.toolkit:
    """A toolkit that finds its fonts in whatever thread it is made."""
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit(False)
    toolkit.setResourcePath(str(DATA))
    return toolkit


class CannotEngrave(Exception):
    """The engraver made nothing of the score."""


def engrave(
    music: bytes,
    *,
    first: int | None = None,
    last: int | None = None,
    hands: Hands = "both",
    width: float = 900,
    staff: float = 32,
    lines: Sequence[FingerLine] = (),
    on_notes: Mapping[str, str] | None = None,
    show_printed: bool = True,
) -> Engraving:
    """Engraves measures `first` to `last` (indexes, both included; None: from the beginning, to the end).

    `width` of the column and `staff`, the height of a staff, are in one unit of the caller's choice: CSS pixels for a
    screen, points for paper. `on_notes` (note id -> fingers) is set on the notes instead of the printed fingering.
    Raises `IndexError` for measures that are not there, `CannotEngrave`, `lxml.etree.XMLSyntaxError`.
    """
    root = cutting.read(music)
    count = cutting.measure_count(root)
    first, last = 0 if first is None else first, count - 1 if last is None else last
    if (first, last) != (0, count - 1):
        cutting.cut(root, first, last)
    cutting.keep_staff(root, hands)
    cutting.plain(root)
    if on_notes or not show_printed:
        take_fingers(root)
    if on_notes:
        put_fingers(root, on_notes)
    moments = cutting.moments_of(root) if lines else {}
    systems = []
    for drawing in draw(etree.tostring(root, encoding="unicode"), width * STAFF_HEIGHT / staff):
        systems.append(finish(drawing, first, lines, moments, width, staff / STAFF_HEIGHT))
        first += len(drawing.measures)
    return Engraving(tuple(systems))


def draw(music: str, width: float) -> list[Drawing]:
    """The systems of a score, as wide as `width` in user units (ten to the engraver's page unit)."""
    toolkit = new_toolkit()
    toolkit.setOptions(OPTIONS | {"pageWidth": max(100, min(100_000, round(width / 10)))})
    if not toolkit.loadData(music):
        raise CannotEngrave("The engraver could not read this score.")
    return [redraw(toolkit.renderToSVG(page)) for page in range(1, toolkit.getPageCount() + 1)]


def finish(
    drawing: Drawing, first: int, lines: Sequence[FingerLine], moments: dict, width: float, scale: float
) -> System:
    """Sets the lines of fingering and cuts the paper to the ink. What is still too wide for the column is scaled."""
    fingers = set_lines(drawing, lines, moments)
    left = min((box[0] for box in drawing.boxes), default=0) - MARGIN
    top = min((box[1] for box in drawing.boxes), default=0) - MARGIN
    right = max((box[2] for box in drawing.boxes), default=0) + MARGIN
    bottom = max((box[3] for box in drawing.boxes), default=0) + MARGIN
    scale = min(scale, width / (right - left))
    last = first + len(drawing.measures) - 1
    svg = etree.Element(
        f"{{{SVG}}}svg",
        {
            "class": "engraving",
            "viewBox": " ".join(tidy(number) for number in (left, top, right - left, bottom - top)),
            "width": f"{(right - left) * scale:.1f}",
            "height": f"{(bottom - top) * scale:.1f}",
            "role": "img",
            "aria-label": "",
            "data-first": str(first),
            "data-last": str(last),
        },
        nsmap={None: SVG},
    )
    defs = make(svg, "defs")
    for code in sorted(drawing.glyphs):
        glyph = make(defs, "g", id=f"glyph-{code}", stroke="none")
        make(glyph, "path", transform="scale(1,-1)", d=glyph_path(code))
    groups = drawing.ink.iterfind(f".//{{{SVG}}}g[@class='measure']")
    for index, (group, (begin, end)) in enumerate(zip(groups, drawing.measures, strict=True), first):
        group.set("data-measure", str(index))
        area = {"x": tidy(begin), "y": tidy(top), "width": tidy(end - begin), "height": tidy(bottom - top)}
        box = make(group, "rect", class_="measure-box", **area, fill="none", stroke="none", pointer_events="all")
        group.insert(0, box)
    svg.append(drawing.ink)
    if fingers is not None:
        svg.append(fingers)
    return System(
        svg=etree.tostring(svg, encoding="unicode"),
        first_measure=first,
        last_measure=last,
        width=round((right - left) * scale, 1),
        height=round((bottom - top) * scale, 1),
        scale=scale,
        notes={note: (round(head.x, 1), round(head.y, 1)) for note, head in drawing.heads.items()},
        measures=dict(enumerate(drawing.measures, first)),
    )
