"""Ossias as they are drawn: taken out of the engraver's page, their staves cut to their notes, and set above or below
the system where they hide nothing.

    g.ossias
      g.ossia(.chosen)[data-ossia][data-ornament][data-side]   data-ossia is the placement: before or on
        rect.hit                                               invisible: the whole ossia
        path.ossia-staff  text.ossia-label  polygon.marker
        g.note[data-ossia][data-ornament][data-order]          a head of the ornament's own, in the order of sounding
        g.note[data-ossia][data-source]                        a head of the music around it
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from lxml import etree

from scores.engraving.glyphs import text_width
from scores.engraving.ossia_parts import Row, key_named
from scores.engraving.plan import Ossia
from scores.engraving.redrawing import PATH_STEP, SVG, Drawing, make, numbers_in, tidy, walk

UNSHOWN = {"clef", "keySig", "meterSig", "barLine", "mRest", "mSpace", "space"}
AWAY = 150  # from what stands below (above) to the ossia
BESIDE = 130  # of the staff before the first head and after the last
LABEL = 300  # size of the words
LINE = 12  # thickness of the staff lines


@dataclass
class Piece:
    """One ossia on one system: its own small drawing, with heads and outline."""

    ossia: Ossia
    row: Row
    drawing: Drawing
    lines: list[float] = field(default_factory=list)
    bars: list[float] = field(default_factory=list)

    @property
    def left(self) -> float:
        return min(head.x - head.width / 2 for head in self.drawing.heads.values()) - BESIDE

    @property
    def right(self) -> float:
        return max(head.x + head.width / 2 for head in self.drawing.heads.values()) + BESIDE


class Aside:
    """Takes the ossias' staves out of a page while it is redrawn."""

    def __init__(self, rows: Sequence[Row]) -> None:
        self.rows = {row.number: row for row in rows}
        self.pieces: dict[int, Piece] = {}
        self.lines: dict[int, list[float]] = {}

    def __call__(self, element: etree._Element, name: str, path: tuple[str, ...]) -> bool:
        """Whether the element was dealt with here."""
        if name == "system":
            self.shorten_system_line(element)
        elif name == "staff" and self.number_of(element) in self.rows:
            self.take_staff(element, self.rows[self.number_of(element)], path)
            return True
        elif name == "barLine":
            self.leave_out_bars(element)
        elif name == "tie":
            return self.take_tie(element, path)
        return False

    @staticmethod
    def number_of(element: etree._Element) -> int:
        text = element.get("data-n") or "0"
        return int(text) if text.isdecimal() else 0

    def shorten_system_line(self, element: etree._Element) -> None:
        """The line at a system's left joins the staves of the music alone."""
        measure = element.find(f".//{{{SVG}}}g[@class='measure']")
        staves = [] if measure is None else measure.findall(f"{{{SVG}}}g[@class='staff']")
        own = [staff for staff in staves if self.number_of(staff) not in self.rows]
        bottoms = [y for staff in own for y in heights_of(staff)]
        for line in element.findall(f"{{{SVG}}}path"):
            numbers = numbers_in(line.get("d", ""))
            if len(own) < 2 or not bottoms or len(numbers) < 4:
                element.remove(line)
            else:
                line.set("d", f"M{tidy(numbers[0])} {tidy(numbers[1])} L{tidy(numbers[0])} {tidy(max(bottoms))}")

    def leave_out_bars(self, element: etree._Element) -> None:
        for line in element.findall(f"{{{SVG}}}path"):
            numbers = numbers_in(line.get("d", ""))
            if any(heights and numbers[1] >= heights[0] - 5 for heights in self.lines.values()):
                element.remove(line)
        for ellipse in element.iter(f"{{{SVG}}}ellipse", f"{{{SVG}}}use"):
            y = float(ellipse.get("cy") or numbers_in(ellipse.get("transform", "0 0"))[1])
            if any(heights and y >= heights[0] - 5 for heights in self.lines.values()):
                ellipse.getparent().remove(ellipse)

    def take_staff(self, element: etree._Element, row: Row, path: tuple[str, ...]) -> None:
        heights = heights_of(element)
        self.lines[row.number] = heights
        ends = [numbers_in(line.get("d", ""))[2] for line in element.findall(f"{{{SVG}}}path")]
        touched: list[Piece] = []
        for layer in element.findall(f"{{{SVG}}}g[@class='layer']"):
            for child in layer:
                if (child.get("class") or "").split()[:1] and child.get("class").split()[0] in UNSHOWN:
                    continue
                piece = self.piece_of(child)
                if piece is None:
                    continue
                piece.lines = heights
                if piece not in touched:
                    touched.append(piece)
                    if ends:
                        piece.bars.append(max(ends))
                walk([child], piece.drawing.ink, piece.drawing, (*path, "staff", "layer"))
        for group in element.findall(f"{{{SVG}}}g"):
            if (group.get("class") or "").startswith("ledgerLines"):
                for line in group:
                    self.take_ledger_line(line, touched, path)

    def take_ledger_line(self, line: etree._Element, touched: Sequence[Piece], path: tuple[str, ...]) -> None:
        numbers = numbers_in(line.get("d", ""))
        middle = (numbers[0] + numbers[2]) / 2 if len(numbers) > 3 else 0
        near = min(
            touched,
            key=lambda piece: min((abs(head.x - middle) for head in piece.drawing.heads.values()), default=1e9),
            default=None,
        )
        if near is not None:
            walk([line], near.drawing.ink, near.drawing, (*path, "staff", "ledgerLines"))

    def take_tie(self, element: etree._Element, path: tuple[str, ...]) -> bool:
        found = key_named(list(self.rows.values()), (element.get("data-startid") or "").lstrip("#"))
        if found is None:
            return False
        piece = self.pieces.get(id(found[0]))
        if piece is not None:
            walk(element, piece.drawing.ink, piece.drawing, (*path, "tie"))
        return True

    def piece_of(self, element: etree._Element) -> Piece | None:
        """The piece that the first note or rest within an element belongs to."""
        for inner in element.iter(f"{{{SVG}}}g"):
            found = key_named(list(self.rows.values()), inner.get("id") or "")
            if found:
                ossia = found[0]
                if id(ossia) not in self.pieces:
                    row = next(row for row in self.rows.values() if any(one is ossia for one in row.ossias))
                    ink = etree.Element(f"{{{SVG}}}g", {"class": "ossia"}, nsmap={None: SVG})
                    self.pieces[id(ossia)] = Piece(ossia, row, Drawing(ink))
                return self.pieces[id(ossia)]
        return None


def heights_of(staff: etree._Element) -> list[float]:
    """Where the lines of a staff lie, from the top."""
    return sorted(
        numbers_in(line.get("d", ""))[1]
        for line in staff.findall(f"{{{SVG}}}path")
        if len(PATH_STEP.findall(line.get("d", ""))) == 2
    )


def set_ossias(drawing: Drawing, aside: Aside) -> etree._Element | None:
    """Sets the ossias around a system, those of one hand and placement at one height, the nearest first; their ink
    counts as ink of the system. None if it has none."""
    group = etree.Element(f"{{{SVG}}}g", {"class": "ossias", "fill": "black", "stroke": "black"}, nsmap={None: SVG})
    for number in sorted(aside.rows):
        row = aside.rows[number]
        pieces = [piece for piece in aside.pieces.values() if piece.row is row and piece.drawing.heads and piece.lines]
        if pieces:
            pieces.sort(key=lambda piece: piece.left)
            set_row(group, pieces, drawing)
    return group if len(group) else None


def set_row(group: etree._Element, pieces: Sequence[Piece], drawing: Drawing) -> None:
    for piece in pieces:
        finish(piece)
    label(pieces)
    side = pieces[0].row.side
    boxes = [(piece, piece.drawing.sky.extent) for piece in pieces]
    if side == "right":
        shift = min(drawing.sky.top(left, right) - AWAY - bottom for _, (left, _, right, bottom) in boxes)
    else:
        shift = max(drawing.sky.bottom(left, right) + AWAY - top for _, (left, top, right, _) in boxes)
    for piece, (left, top, right, bottom) in boxes:
        ink = piece.drawing.ink
        ink.set("transform", f"translate(0 {tidy(shift)})")
        area = {"x": tidy(left), "y": tidy(top), "width": tidy(right - left), "height": tidy(bottom - top)}
        hit = make(ink, "rect", class_="hit", **area, fill="none", stroke="none", pointer_events="all")
        ink.insert(0, hit)
        group.append(ink)
        drawing.glyphs |= piece.drawing.glyphs
        drawing.sky.add(left, top + shift, right, bottom + shift)


def finish(piece: Piece) -> None:
    """Names the piece and its notes and draws its staff."""
    ink, ossia = piece.drawing.ink, piece.ossia
    ink.set("class", "ossia chosen" if ossia.chosen else "ossia")
    ink.set("data-ossia", ossia.placement)
    ink.set("data-ornament", ossia.strip.ornaments[0])
    ink.set("data-side", piece.row.side)
    name_notes(piece)
    left, right = piece.left, piece.right
    top, bottom = piece.lines[0], piece.lines[-1]
    lines = " ".join(f"M{tidy(left)} {tidy(y)} L{tidy(right)} {tidy(y)}" for y in piece.lines)
    bars = " ".join(f"M{tidy(x)} {tidy(top)} L{tidy(x)} {tidy(bottom)}" for x in piece.bars if left < x < right)
    staff = make(ink, "path", class_="ossia-staff", d=f"{lines} {bars}".strip(), stroke_width=LINE, fill="none")
    ink.insert(0, staff)
    piece.drawing.sky.add(left, top, right, bottom)


def label(pieces: Sequence[Piece]) -> None:
    """Says over its beginning what each piece is. Words that would run into those before them are left out where they
    say the same, but a chosen one keeps its marker."""
    end, last = float("-inf"), None
    tops = [(piece.drawing.sky.extent, piece) for piece in pieces]
    for piece in pieces:
        ossia, left = piece.ossia, piece.left
        marker = 0.75 * LABEL if ossia.chosen else 0
        right = left + marker + text_width(ossia.label, LABEL)
        if left < end and last is not None and (last.label, last.chosen) == (ossia.label, ossia.chosen):
            continue
        over = [one.drawing.sky.top(left, right) for (begin, _, stop, _), one in tops if begin < right and stop > left]
        set_label(piece, left, right, min(over) - 60)
        end, last = right + LABEL, ossia


def set_label(piece: Piece, left: float, right: float, baseline: float) -> None:
    ink, ossia = piece.drawing.ink, piece.ossia
    marker = 0.75 * LABEL if ossia.chosen else 0
    if ossia.chosen:
        middle, half = baseline - 0.24 * LABEL, 0.26 * LABEL
        points = f"{tidy(left)},{tidy(middle - half)} {tidy(left + 1.7 * half)},{tidy(middle)} "
        make(ink, "polygon", class_="marker", points=points + f"{tidy(left)},{tidy(middle + half)}", stroke="none")
    make(
        ink,
        "text",
        ossia.label,
        class_="ossia-label",
        x=tidy(left + marker),
        y=tidy(baseline),
        font_size=LABEL,
        font_style="italic",
        font_weight="bold" if ossia.chosen else "",
        stroke="none",
    )
    piece.drawing.sky.add(left, baseline - 0.75 * LABEL, right, baseline + 0.2 * LABEL)


def name_notes(piece: Piece) -> None:
    """Says of each head which note of the performance it is."""
    for note in piece.drawing.ink.iter(f"{{{SVG}}}g"):
        name = note.attrib.pop("data-note", None) if note.get("class") == "note" else None
        found = key_named([piece.row], name) if name else None
        if found and found[1]:
            key = found[1]
            note.set("data-ossia", piece.ossia.placement)
            note.set("data-source", key.source)
            if key.order >= 0:
                note.set("data-ornament", key.ornament)
                note.set("data-order", str(key.order))
