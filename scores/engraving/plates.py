"""Engraving itself, with verovio. Runs in the workshop, never in the process that answers requests: what the engraver
does with a malformed score is not ours to promise."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import verovio
from lxml import etree

from scores.engraving import cutting
from scores.engraving.accidentals import supply_accidentals
from scores.engraving.breaking import break_before, systems_of, widths_of
from scores.engraving.finger_lines import set_lines, set_on_notes
from scores.engraving.glyphs import DATA, FACE, glyph_path
from scores.engraving.ossia_drawing import Aside, set_ossias
from scores.engraving.ossia_parts import Row, add_parts, rows_of, staff_count
from scores.engraving.plan import CannotEngrave, Engraving, FingerLine, Ossia, System
from scores.engraving.redrawing import STAFF_HEIGHT, SVG, Drawing, make, redraw, tidy
from scores.fingering_marks import join_substitutions, take_fingers
from scores.music.notation import Hands

MARGIN = 30  # around the ink of a system, in user units
BRACE = 380  # what stands left of the staves
NARROW = 18  # widths of a column, in staff heights, below which the breaks are chosen here
FEW = 12  # measures up to which they are chosen here anyway: an evenly filled passage is worth a second layout

OPTIONS = {
    "xmlIdSeed": 1,
    "font": FACE,
    "header": "none",
    "footer": "none",
    "breaks": "auto",
    "systemMaxPerPage": 1,
    "minLastJustification": 0.6,
    "staffLineWidth": 0.2,
    "ledgerLineThickness": 0.27,
    "stemWidth": 0.22,
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
    "svgAdditionalAttribute": ["fing@startid", "staff@n", "tie@startid"],
    "expandNever": True,
}


def new_toolkit() -> verovio.toolkit:
    """A toolkit that finds its fonts in whatever thread it is made."""
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit(False)
    toolkit.setResourcePath(str(DATA))
    return toolkit


def engrave(
    music: bytes,
    *,
    first: int | None = None,
    last: int | None = None,
    hands: Hands = "both",
    width: float = 900,
    staff: float = 32,
    lines: Sequence[FingerLine] = (),
    ossias: Sequence[Ossia] = (),
    on_notes: Mapping[str, str] | None = None,
    show_printed: bool = True,
    continues: bool = False,
    counted_from: int = 0,
) -> Engraving:
    """Engraves measures `first` to `last` (indexes, both included; None: from the beginning, to the end).

    `counted_from` is the index that the systems give to the first measure of `music`, if that is part of an edition.
    `width` of the column and `staff`, the height of a staff, are in one unit of the caller's choice: CSS pixels for a
    screen, points for paper. `on_notes` (note id -> fingers) is set on the notes instead of the printed fingering.
    What `continues` a line already on the page does not say its metre again. Raises `IndexError` for measures that are
    not there, `CannotEngrave`, `lxml.etree.XMLSyntaxError`.
    """
    root = cutting.read(music)
    count = cutting.measure_count(root)
    first, last = 0 if first is None else first, count - 1 if last is None else last
    cutting.supply_attributes(root)
    staves = cutting.hands_of_staves(root)
    sides = cutting.sides_of_notes(root, staves) if on_notes else {}
    held = cutting.cut(root, first, last, continues=continues) if (first, last) != (0, count - 1) else []
    cutting.keep_hands(root, hands, staves)
    rows = rows_of(ossias, staff_count(root))
    add_parts(root, rows, first)
    cutting.plain(root)
    supply_accidentals(root)
    if on_notes or not show_printed:
        take_fingers(root)
    else:
        join_substitutions(root)
    moments = cutting.moments_of(root) if lines or on_notes else {}
    room = width * STAFF_HEIGHT / staff - BRACE
    systems = []
    first += counted_from
    for drawing in draw(root, room, width / staff < NARROW, spacing_for(lines, on_notes or {}), rows):
        for note in held:
            drawing.tie_from_before(note)
        if on_notes:
            set_on_notes(drawing, on_notes, sides, moments)
        systems.append(finish(drawing, first, lines, moments, width, staff / STAFF_HEIGHT))
        first += len(drawing.measures)
    return Engraving(tuple(systems))


def engrave_spans(music: bytes, *, spans: Sequence[tuple[int, int]], width: float, staff: float) -> list[Engraving]:
    """`engrave` for several spans of one edition (first and last index), each as music that goes on from what stands
    before it: a long work is read and cut once for all of them. Raises what `engrave` raises."""
    root = cutting.read(music)
    cutting.supply_attributes(root)
    # One measure more on either side, so that the spans begin and end as they do in the whole.
    low = max(0, min(first for first, _ in spans) - 1)
    high = min(cutting.measure_count(root) - 1, max(last for _, last in spans) + 1)
    cutting.cut(root, low, high, continues=low > 0)
    part = etree.tostring(root)
    asked = {"width": width, "staff": staff, "counted_from": low}
    return [engrave(part, first=first - low, last=last - low, continues=first > 0, **asked) for first, last in spans]


def spacing_for(lines: Sequence[FingerLine], on_notes: Mapping[str, str]) -> float:
    """How fast notes move apart with their length: digits want more room than heads, "4-5" more than "4"."""
    texts = [*on_notes.values(), *(text for line in lines for text in line.fingers.values())]
    if not texts:
        return 0.25
    return 0.36 if any("-" in text for text in texts) else 0.3


def draw(root: etree._Element, room: float, narrow: bool, spacing: float, rows: Sequence[Row] = ()) -> list[Drawing]:
    """The systems of a score, at most `room` wide in user units where their measures allow it."""
    toolkit = new_toolkit()
    toolkit.setOptions(OPTIONS | {"spacingLinear": spacing, "pageWidth": page_width(room)})
    count = cutting.measure_count(root)
    if not narrow and count > FEW:
        load(toolkit, root)
        drawings = draw_pages(toolkit, rows)
        if all(len(drawing.measures) > 1 for drawing in drawings[:-1]):
            return drawings
    return draw_by_widths(toolkit, root, room, rows)


def draw_by_widths(
    toolkit: verovio.toolkit, root: etree._Element, room: float, rows: Sequence[Row] = ()
) -> list[Drawing]:
    """Breaks the score by the widths that its measures want; a measure wider than the room gets a page of its own
    width, and is scaled down later."""
    toolkit.setOptions({"breaks": "none"})
    load(toolkit, root)
    widths = widths_of(toolkit.renderToSVG(1))
    systems = systems_of(widths, room)
    if len(systems) > 1:
        break_before(root, [first for first, _ in systems[1:]])
        toolkit.setOptions({"breaks": "encoded"})
        load(toolkit, root)
    pages: dict[float, list[int]] = {}
    for page, (first, stop) in enumerate(systems, 1):
        pages.setdefault(roomy(widths.of(first, stop), room), []).append(page)
    drawings: dict[int, Drawing] = {}
    for wanted in sorted(pages):
        if wanted != room or len(systems) == 1:
            toolkit.setOptions({"pageWidth": page_width(wanted)})
            toolkit.redoLayout()
        for page in pages[wanted]:
            drawings[page] = draw_page(toolkit, page, rows)
    return [drawings[page] for page in sorted(drawings)]


def roomy(wanted: float, room: float) -> float:
    """The least of a few widths that holds what is wanted: each width in use costs a layout of the whole score."""
    while room < wanted:
        room *= 1.12
    return room


def page_width(room: float) -> int:
    return max(100, min(100_000, round(room / 10)))


def load(toolkit: verovio.toolkit, root: etree._Element) -> None:
    if not toolkit.loadData(etree.tostring(root, encoding="unicode")):
        raise CannotEngrave("The engraver could not read this score.")


def draw_pages(toolkit: verovio.toolkit, rows: Sequence[Row] = ()) -> list[Drawing]:
    return [draw_page(toolkit, page, rows) for page in range(1, toolkit.getPageCount() + 1)]


def draw_page(toolkit: verovio.toolkit, page: int, rows: Sequence[Row]) -> Drawing:
    return redraw(toolkit.renderToSVG(page), Aside(rows) if rows else None)


def finish(
    drawing: Drawing, first: int, lines: Sequence[FingerLine], moments: dict, width: float, scale: float
) -> System:
    """Sets fingering and ossias and cuts the paper to the ink. What is still too wide for the column is scaled."""
    fingers = set_lines(drawing, lines, moments)
    ossias = set_ossias(drawing, drawing.aside) if isinstance(drawing.aside, Aside) else None
    left, top, right, bottom = drawing.sky.extent if drawing.measures else (0, 0, 1, 1)
    left, top, right, bottom = left - MARGIN, top - MARGIN, right + MARGIN, bottom + MARGIN
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
    for group in (fingers, ossias):
        if group is not None:
            svg.append(group)
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
