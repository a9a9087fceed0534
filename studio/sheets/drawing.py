"""Engraved systems and charts drawn on a sheet, as vectors, straight from their SVG.

The two kinds of SVG are the project's own, with a short list of elements; anything else raises `UnknownElement`, so
that nothing can be missing on paper unnoticed. Words are set in the sheet's faces and stay text. (svglib reads any SVG,
but takes several times as long and sets words in one face only.)
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from re import compile as pattern

from fontTools.pens.basePen import BasePen
from fontTools.svgLib.path import parse_path
from lxml import etree
from reportlab.pdfgen.canvas import Canvas

from studio.sheets.faces import Style
from studio.sheets.setting import Span, draw_line, set_words

PARSER = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False, huge_tree=True)
MOVE = pattern(r"(translate|scale)\(([^)]*)\)")
NUMBER = pattern(r"-?\d*\.?\d+(?:e-?\d+)?")
ONLY_FOR_SCREENS = {"hit", "place", "measure-box"}
CAPS = {"butt": 0, "round": 1, "square": 2}
ROUND = 0.5523  # how far the handles of a quarter circle reach, of its radius
WIDE = 100_000

Attributes = Mapping[str, str]


class UnknownElement(ValueError):
    """An SVG element that this drawer does not know."""


@dataclass(frozen=True)
class Place:
    """Where user units land on the page: x * `scale` + `x`, y upside down."""

    x: float
    y: float
    scale: float

    def within(self, transform: str) -> Place:
        place = self
        for kind, inside in MOVE.findall(transform):
            numbers = [float(found) for found in NUMBER.findall(inside)]
            if kind == "translate":
                x, y = numbers[0], (numbers[1] if len(numbers) > 1 else 0.0)
                place = Place(place.x + x * place.scale, place.y - y * place.scale, place.scale)
            else:
                place = Place(place.x, place.y, place.scale * numbers[0])
        return place

    def matrix(self) -> str:
        return f"{self.scale:.6g} 0 0 {-self.scale:.6g} {self.x:.3f} {self.y:.3f} cm"


@dataclass(frozen=True)
class Paint:
    """What shapes inherit."""

    fill: str = "black"
    stroke: str = "none"

    def within(self, attributes: Attributes) -> Paint:
        return Paint(attributes.get("fill", self.fill), attributes.get("stroke", self.stroke))


def draw_svg(canvas: Canvas, svg: str, x: float, top: float, width: float) -> None:
    """Draws an SVG with its upper left corner at (`x`, `top`), `width` points wide. Raises `UnknownElement`."""
    root = etree.fromstring(svg.encode(), PARSER)
    left, upper, across, _ = (float(found) for found in NUMBER.findall(root.get("viewBox", "")))
    scale = width / across
    glyphs = {glyph.get("id", ""): glyph[0].get("d", "") for glyph in root.iterfind(".//{*}defs/{*}g")}
    artist = Artist(canvas, glyphs)
    artist.walk(root, Place(x - left * scale, top + upper * scale, scale), Paint())


class Artist:
    """Draws elements on one canvas."""

    def __init__(self, canvas: Canvas, glyphs: Mapping[str, str]) -> None:
        self.canvas = canvas
        self.glyphs = glyphs

    def walk(self, parent: etree._Element, place: Place, paint: Paint) -> None:
        for element in parent:
            tag = etree.QName(element).localname
            attributes = element.attrib
            if tag == "defs" or attributes.get("class") in ONLY_FOR_SCREENS:
                continue
            here = place.within(attributes["transform"]) if "transform" in attributes else place
            if tag == "g":
                self.walk(element, here, paint.within(attributes))
            elif tag == "svg":
                self.window(element, here, paint)
            elif tag == "use":
                self.glyph(attributes, here)
            elif tag == "text":
                self.words(element, here)
            elif tag in SHAPES:
                self.shape(SHAPES[tag](attributes), attributes, here, paint.within(attributes))
            elif tag not in ("title", "desc"):
                raise UnknownElement(tag)

    def window(self, element: etree._Element, place: Place, paint: Paint) -> None:
        """A drawing within the drawing, of which only what lies in its box is seen. Its box has its proportions."""
        x, y, width, height = numbers(element.attrib, "x", "y", "width", "height")
        left, top, across, _ = (float(found) for found in NUMBER.findall(element.get("viewBox", "")))
        corner, scale = Place(place.x + x * place.scale, place.y - y * place.scale, place.scale), place.scale
        self.canvas.saveState()
        edge = self.canvas.beginPath()
        edge.rect(corner.x, corner.y - height * scale, width * scale, height * scale)
        self.canvas.clipPath(edge, stroke=0, fill=0)
        scale *= width / across
        self.walk(element, Place(corner.x - left * scale, corner.y + top * scale, scale), paint)
        self.canvas.restoreState()

    def glyph(self, attributes: Attributes, place: Place) -> None:
        """A sign of the music face. Its outline stands upright in its own units."""
        outline = operators(self.glyphs[attributes["href"].removeprefix("#")])
        upright = f"{place.scale:.6g} 0 0 {place.scale:.6g} {place.x:.3f} {place.y:.3f} cm"
        self.canvas.addLiteral(f"q {upright} 0 g {outline} f Q")

    def shape(self, outline: str, attributes: Attributes, place: Place, paint: Paint) -> None:
        filled, stroked = paint.fill != "none", paint.stroke != "none"
        if not (filled or stroked):
            return
        parts = ["q", place.matrix(), "1 g" if paint.fill == "white" else "0 g", "0 G"]
        if stroked:
            parts.append(f"{attributes.get('stroke-width', '1')} w")
            parts.append(f"{CAPS[attributes.get('stroke-linecap', 'butt')]} J 1 j")
            if attributes.get("stroke-dasharray"):
                parts.append(f"[{' '.join(NUMBER.findall(attributes['stroke-dasharray']))}] 0 d")
        end = "B" if filled and stroked else "f" if filled else "S"
        self.canvas.addLiteral(" ".join([*parts, outline, end, "Q"]))

    def words(self, element: etree._Element, place: Place) -> None:
        text = "".join(element.itertext())
        attributes = element.attrib
        setting = set_words(
            [Span(text, float(attributes.get("font-size", "12")) * place.scale, style_of(attributes))], WIDE
        )
        if not setting.lines:
            return
        line = setting.lines[0]
        x = place.x + float(attributes.get("x", "0")) * place.scale
        x -= line.width * {"middle": 0.5, "end": 1.0}.get(attributes.get("text-anchor", ""), 0.0)
        draw_line(self.canvas, line, x, place.y - float(attributes.get("y", "0")) * place.scale)


def style_of(attributes: Attributes) -> Style:
    if attributes.get("font-weight") == "bold":
        return "bold"
    return "italic" if attributes.get("font-style") == "italic" else "regular"


# Outlines as a PDF writes them


class Operators(BasePen):
    """Writes an outline down as path operators."""

    def __init__(self) -> None:
        super().__init__(None)
        self.written: list[str] = []

    def _moveTo(self, point: tuple[float, float]) -> None:
        self.written.append(f"{point[0]:.6g} {point[1]:.6g} m")

    def _lineTo(self, point: tuple[float, float]) -> None:
        self.written.append(f"{point[0]:.6g} {point[1]:.6g} l")

    def _curveToOne(self, *points: tuple[float, float]) -> None:
        self.written.append(" ".join(f"{x:.6g} {y:.6g}" for x, y in points) + " c")

    def _closePath(self) -> None:
        self.written.append("h")


@lru_cache(maxsize=4096)
def operators(d: str) -> str:
    pen = Operators()
    parse_path(d, pen)
    return " ".join(pen.written)


def numbers(attributes: Attributes, *names: str) -> Iterator[float]:
    return (float(attributes.get(name, "0")) for name in names)


def path(attributes: Attributes) -> str:
    return operators(attributes["d"])


def line(attributes: Attributes) -> str:
    x1, y1, x2, y2 = numbers(attributes, "x1", "y1", "x2", "y2")
    return f"{x1} {y1} m {x2} {y2} l"


def polyline(attributes: Attributes) -> str:
    found = NUMBER.findall(attributes["points"])
    pairs = [f"{x} {y}" for x, y in zip(found[::2], found[1::2], strict=True)]
    return f"{pairs[0]} m " + " ".join(f"{pair} l" for pair in pairs[1:])


def polygon(attributes: Attributes) -> str:
    return polyline(attributes) + " h"


def rect(attributes: Attributes) -> str:
    x, y, width, height = numbers(attributes, "x", "y", "width", "height")
    return f"{x} {y} {width} {height} re"


def ellipse(attributes: Attributes) -> str:
    x, y, across, down = numbers(attributes, "cx", "cy", "rx", "ry")
    return oval(x, y, across, down)


def circle(attributes: Attributes) -> str:
    x, y, radius = numbers(attributes, "cx", "cy", "r")
    return oval(x, y, radius, radius)


def oval(x: float, y: float, across: float, down: float) -> str:
    a, b = across * ROUND, down * ROUND
    quarters = (
        (across, b, a, down, 0, down),
        (-a, down, -across, b, -across, 0),
        (-across, -b, -a, -down, 0, -down),
        (a, -down, across, -b, across, 0),
    )
    written = [f"{x + across:.6g} {y:.6g} m"]
    for quarter in quarters:
        pairs = zip(quarter[::2], quarter[1::2], strict=True)
        written.append(" ".join(f"{x + dx:.6g} {y + dy:.6g}" for dx, dy in pairs) + " c")
    return " ".join(written)


SHAPES = {
    "path": path,
    "line": line,
    "polyline": polyline,
    "polygon": polygon,
    "rect": rect,
    "ellipse": ellipse,
    "circle": circle,
}
