"""An engraver's SVG, redrawn element by element.

Nothing is passed through: what is not on the lists here does not reach a page. The result has no ids but those of
glyphs (the same glyph is the same drawing everywhere, so that several engravings can stand in one page), no styles, no
scripts, no addresses. Black is written as a presentation attribute of the one group `ink`, which a style sheet
overrides on the screen and a PDF takes as it stands.

While drawing, it notes where everything is, so that lines of fingering can be set without touching anything.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from lxml import etree

from scores.engraving.glyphs import SMUFL, glyph_box, glyph_path, text_width
from scores.engraving.skyline import Skyline

SVG = "http://www.w3.org/2000/svg"
SPACE = 180  # user units from one staff line to the next
STAFF_HEIGHT = 4 * SPACE

KEPT_GROUPS = {"measure", "staff", "note", "rest", "fing", "mNum", "dynam", "dir", "tempo", "reh", "verse", "harm"}
SKIPPED_GROUPS = {"placeholder", "label", "labelAbbr", "pgHead", "pgFoot", "system-divider"}
SHAPES = {
    "path": ("d",),
    "polygon": ("points",),
    "polyline": ("points",),
    "rect": ("x", "y", "width", "height"),
    "ellipse": ("cx", "cy", "rx", "ry"),
    "circle": ("cx", "cy", "r"),
}
PAINT = ("stroke-width", "stroke-linecap", "stroke-linejoin", "stroke-dasharray", "fill", "transform")
SAFE = re.compile(r"[-+.,()\w\s]*\Z")
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
PATH_STEP = re.compile(r"([MLCZ])([^MLCZ]*)")
USE = re.compile(r"translate\((-?[\d.]+), (-?[\d.]+)\) scale\((-?[\d.]+), (-?[\d.]+)\)(?: rotate\(.*\))?\Z")
QUARTER_TURN = re.compile(r"rotate\(-90(?:\.0+)? (-?[\d.]+),(-?[\d.]+)\)\Z")
BOLD = {"ending", "fing", "reh", "tempo"}
ITALIC = {"dir", "dynam", "mNum"}

Point = tuple[float, float]
Taker = Callable[[etree._Element, str, tuple[str, ...]], bool]  # takes a group elsewhere, or says no


@dataclass
class Head:
    """A note head: the middle of it, and how large it is beside a full-sized one."""

    x: float
    y: float
    width: float
    size: float


@dataclass
class Drawing:
    """One redrawn system: `ink` holds it; all places are in user units."""

    ink: etree._Element
    glyphs: set[str] = field(default_factory=set)
    sky: Skyline = field(default_factory=Skyline)
    heads: dict[str, Head] = field(default_factory=dict)
    measures: list[tuple[float, float]] = field(default_factory=list)
    turned: tuple[float, float] | None = None  # the middle of a quarter turn to the left, while inside one
    aside: Taker | None = None

    def occupy(self, left: float, top: float, right: float, bottom: float) -> None:
        if self.turned:
            x, y = self.turned
            left, top, right, bottom = x + top - y, y - right + x, x + bottom - y, y - left + x
        self.sky.add(left, top, right, bottom)

    def use(self, parent: etree._Element, code: str, x: float, y: float, scale: float) -> None:
        """Draws a glyph of the music face."""
        self.glyphs.add(code)
        transform = f"translate({tidy(x)} {tidy(y)}) scale({tidy(scale)})"
        make(parent, "use", href=f"#glyph-{code}", transform=transform)
        left, top, right, bottom = glyph_box(code)
        self.occupy(x + left * scale, y + top * scale, x + right * scale, y + bottom * scale)

    def tie_from_before(self, note: str) -> None:
        """The second half of a tie whose first half was cut away: this key is already down."""
        head = self.heads.get(note)
        if head is None:
            return
        right, left = head.x - head.width / 2 - 25, head.x - head.width / 2 - 300
        y = head.y + 95
        there = [(left + 90, y + 125), (right - 60, y + 90), (right, y)]
        back = [(right - 70, y + 60), (left + 90, y + 88), (left, y + 95)]
        curves = " ".join("C" + ", ".join(f"{tidy(a)} {tidy(b)}" for a, b in points) for points in (there, back))
        outline = f"M{tidy(left)} {tidy(y + 95)} {curves} Z"
        make(self.ink, "path", class_="tie-from-before", d=outline, stroke_width=14, stroke_linejoin="round")
        self.sky.add(left, y, right, y + 110)


def tidy(number: float) -> str:
    return f"{number:.4g}" if abs(number) < 10 else f"{number:.0f}"


def make(parent: etree._Element, tag: str, text: str = "", **attributes: object) -> etree._Element:
    """A child element; underscores in attribute names stand for hyphens."""
    named = {name.rstrip("_").replace("_", "-"): str(value) for name, value in attributes.items() if value != ""}
    element = etree.SubElement(parent, f"{{{SVG}}}{tag}", named)
    if text:
        element.text = text
    return element


def redraw(source: str, aside: Taker | None = None) -> Drawing:
    """Redraws one page of the engraver's SVG (one system, no page margins); groups that `aside` takes are its own."""
    root = etree.fromstring(source.encode(), etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True))
    ink = etree.Element(f"{{{SVG}}}g", {"class": "ink", "fill": "black", "stroke": "black"}, nsmap={None: SVG})
    drawing = Drawing(ink, aside=aside)
    walk(root, ink, drawing, ())
    return drawing


def walk(source: Iterable[etree._Element], target: etree._Element, drawing: Drawing, path: tuple[str, ...]) -> None:
    for element in source:
        tag = etree.QName(element).localname if isinstance(element.tag, str) else ""
        if tag in ("g", "svg"):
            walk_group(element, target, drawing, path)
        elif tag == "use":
            copy_use(element, target, drawing, path)
        elif tag == "text":
            copy_text(element, target, drawing, path)
        elif tag in SHAPES:
            copy_shape(element, tag, target, drawing, path)


def walk_group(element: etree._Element, target: etree._Element, drawing: Drawing, path: tuple[str, ...]) -> None:
    classes = (element.get("class") or "").split()
    if SKIPPED_GROUPS & set(classes):
        return
    name = classes[0] if classes else ""
    if drawing.aside and drawing.aside(element, name, path):
        return
    if name in KEPT_GROUPS:
        target = make(target, "g", class_=name)
        if name == "note" and element.get("id"):
            target.set("data-note", element.get("id"))
        elif name == "fing" and element.get("data-startid"):
            target.set("data-note", element.get("data-startid").lstrip("#"))
        elif name == "measure":
            drawing.measures.append((0, 0))
    turned = QUARTER_TURN.match(element.get("transform") or "")
    if turned:
        target = make(target, "g", transform=f"rotate(-90 {turned[1]} {turned[2]})")
        drawing.turned = (float(turned[1]), float(turned[2]))
    walk(element, target, drawing, (*path, name))
    if turned:
        drawing.turned = None


def copy_use(element: etree._Element, target: etree._Element, drawing: Drawing, path: tuple[str, ...]) -> None:
    reference = element.get("href") or element.get("{http://www.w3.org/1999/xlink}href") or ""
    code = reference.lstrip("#").split("-")[0]
    placed = USE.match(element.get("transform") or "")
    if not placed or not glyph_path(code):
        return
    x, y, scale = float(placed[1]), float(placed[2]), float(placed[3])
    drawing.use(target, code, x, y, scale)
    if path[-1:] == ("notehead",):
        note = target.get("data-note", "")
        left, top, right, bottom = glyph_box(code)
        drawing.heads[note] = Head(
            x + scale * (left + right) / 2, y + scale * (top + bottom) / 2, scale * (right - left), scale / 0.72
        )


def copy_shape(
    element: etree._Element, tag: str, target: etree._Element, drawing: Drawing, path: tuple[str, ...]
) -> None:
    kept = {
        name: element.get(name)
        for name in (*SHAPES[tag], *PAINT)
        if element.get(name) is not None and SAFE.match(element.get(name))
    }
    points = outline_of(tag, kept)
    if not points:
        return
    etree.SubElement(target, f"{{{SVG}}}{tag}", kept)
    drawing.sky.add_outline(points, float(numbers_in(kept.get("stroke-width", "0"))[0]) / 2)
    if tag == "path" and path[-2:] == ("measure", "staff") and drawing.measures:
        left, right = drawing.measures[-1]
        ends = sorted(point[0] for point in points)
        drawing.measures[-1] = (ends[0] if right == 0 else min(left, ends[0]), max(right, ends[-1]))


def numbers_in(text: str) -> list[float]:
    return [float(found) for found in NUMBER.findall(text)] or [0.0]


def outline_of(tag: str, attributes: dict[str, str]) -> list[Point]:
    """Points along the edge of a shape; none if its numbers are missing. Curves are followed, not their handles."""
    if any(not NUMBER.search(attributes.get(name, "")) for name in SHAPES[tag]):
        return []
    if tag == "path":
        return path_points(attributes["d"])
    if tag in ("polygon", "polyline"):
        numbers = numbers_in(attributes["points"])
        return list(zip(numbers[::2], numbers[1::2], strict=False))
    values = [numbers_in(attributes[name])[0] for name in SHAPES[tag]]
    if tag == "rect":
        x, y, width, height = values
        return [(x, y), (x + width, y + height)]
    x, y, across, down = values[0], values[1], values[2], values[-1]
    return [(x - across, y - down), (x + across, y + down)]


def path_points(d: str) -> list[Point]:
    points: list[Point] = []
    for command, rest in PATH_STEP.findall(d):
        numbers = [float(found) for found in NUMBER.findall(rest)]
        pairs = list(zip(numbers[::2], numbers[1::2], strict=False))
        if command == "C" and points:
            for index in range(0, len(pairs) - 2, 3):
                points += on_curve(points[-1], *pairs[index : index + 3])
        else:
            points += pairs
    return points


def on_curve(a: Point, b: Point, c: Point, d: Point) -> list[Point]:
    found = []
    for step in range(1, 9):
        t = step / 8
        s = 1 - t
        weights = (s**3, 3 * s * s * t, 3 * s * t * t, t**3)
        found.append(
            (
                sum(weight * point[0] for weight, point in zip(weights, (a, b, c, d), strict=True)),
                sum(weight * point[1] for weight, point in zip(weights, (a, b, c, d), strict=True)),
            )
        )
    return found


def copy_text(element: etree._Element, target: etree._Element, drawing: Drawing, path: tuple[str, ...]) -> None:
    """Words, flattened to one text per run; music signs in words become glyphs. Widths are those of a Times."""
    lines: list[list[Run]] = []
    start = Run("", float(element.get("x") or 0), float(element.get("y") or 0), 405, False, "")
    collect_runs(element, start, lines)
    bold, italic = bool(BOLD & set(path)), bool(ITALIC & set(path))
    anchor = element.get("text-anchor", "start")
    for line in lines:
        widths = [run.width for run in line]
        x = line[0].x - {"middle": sum(widths) / 2, "end": sum(widths)}.get(anchor, 0)
        y = line[0].y
        single = len(line) == 1
        for run, width in zip(line, widths, strict=True):
            if run.music:
                draw_signs(run, target, drawing, x, y)
            else:
                place, how = (line[0].x, anchor) if single else (x, "start")
                make(
                    target,
                    "text",
                    run.text,
                    x=tidy(place),
                    y=tidy(y),
                    font_size=tidy(run.size),
                    text_anchor="" if how == "start" else how,
                    font_weight="bold" if bold or run.weight == "bold" else "",
                    font_style="italic" if italic else "",
                    stroke="none",
                )
                drawing.sky.add(x, y - 0.72 * run.size, x + width, y + 0.22 * run.size)
            x += width


@dataclass
class Run:
    text: str
    x: float
    y: float
    size: float
    music: bool
    weight: str

    @property
    def width(self) -> float:
        if self.music:
            return sum(glyph_box(f"{ord(sign):04X}")[2] * self.size / 1000 for sign in self.text)
        return text_width(self.text, self.size)


def collect_runs(element: etree._Element, run: Run, lines: list[list[Run]]) -> None:
    size = NUMBER.match(element.get("font-size") or "")
    moved = element.get("x") is not None and etree.QName(element).localname == "tspan"
    run = Run(
        "",
        float(element.get("x")) if moved else run.x,
        float(element.get("y") or run.y) if moved else run.y,
        float(size[0]) if size and float(size[0]) else run.size,
        element.get("font-family") in SMUFL or (run.music and not element.get("font-family")),
        element.get("font-weight") or run.weight,
    )
    text = re.sub(r"[ \t\n\r]+", " ", element.text or "")
    if len(element):
        text = text.strip()
    if text:
        found = Run(text, run.x, run.y, run.size, run.music, run.weight)
        if lines and (lines[-1][0].x, lines[-1][0].y) == (run.x, run.y):
            lines[-1].append(found)
        else:
            lines.append([found])
    for child in element:
        if isinstance(child.tag, str) and etree.QName(child).localname == "tspan":
            collect_runs(child, run, lines)


def draw_signs(run: Run, target: etree._Element, drawing: Drawing, x: float, y: float) -> None:
    for sign in run.text:
        code = f"{ord(sign):04X}"
        if glyph_path(code):
            drawing.use(target, code, x, y, run.size / 1000)
        x += glyph_box(code)[2] * run.size / 1000
