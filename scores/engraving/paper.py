"""An engraved system for a PDF: vector music, and digits that stay text in the faces of the sheet.

It reads the small SVG that this room writes, not SVG at large: groups, outlines, glyphs and words.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import cos, radians, sin

from fontTools.pens.reportLabPen import ReportLabPen
from fontTools.svgLib.path import parse_path
from lxml import etree
from reportlab.graphics.shapes import Drawing, Ellipse, Group, Path, Polygon, PolyLine, Rect, String
from reportlab.lib.colors import black

NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
STEP = re.compile(r"(translate|scale|rotate)\(([^)]*)\)")
ROUND = {"butt": 0, "round": 1, "square": 2, "miter": 0, "bevel": 2}
ANCHORS = {"start": "start", "middle": "middle", "end": "end"}
INHERITED = ("fill", "stroke")

Matrix = tuple[float, float, float, float, float, float]


@dataclass(frozen=True)
class Faces:
    """Names under which the faces of a sheet are registered with reportlab."""

    regular: str
    bold: str
    italic: str

    def of(self, element: etree._Element) -> str:
        if element.get("font-weight") == "bold":
            return self.bold
        return self.italic if element.get("font-style") == "italic" else self.regular


def drawing(svg: str, faces: Faces, *, width: float | None = None) -> Drawing:
    """A system's SVG as a reportlab drawing (which is also a flowable). Its size in points is the SVG's own width and
    height, or `width` and the height that goes with it."""
    root = etree.fromstring(svg.encode(), etree.XMLParser(resolve_entities=False, no_network=True))
    left, top, across, down = numbers(root.get("viewBox", ""))
    wanted = float(root.get("width", across)) if width is None else width
    scale = wanted / across
    glyphs = {f"#{glyph.get('id')}": glyph[0].get("d", "") for glyph in root.iterfind("{*}defs/{*}g")}
    page = Group(transform=(scale, 0, 0, -scale, -left * scale, (top + down) * scale))
    for child in root:
        add(page, child, {"fill": "black", "stroke": "none"}, glyphs, faces)
    return Drawing(wanted, down * scale, page)


def numbers(text: str) -> list[float]:
    return [float(found) for found in NUMBER.findall(text)]


def number(element: etree._Element, name: str) -> float:
    return float(element.get(name) or 0)


def matrix_of(transform: str) -> Matrix:
    """The steps of a transform, multiplied in their order."""
    matrix: Matrix = (1, 0, 0, 1, 0, 0)
    for kind, text in STEP.findall(transform):
        values = numbers(text)
        if kind == "translate":
            matrix = times(matrix, (1, 0, 0, 1, values[0], values[1]))
        elif kind == "scale":
            matrix = times(matrix, (values[0], 0, 0, values[-1], 0, 0))
        else:
            angle, x, y = radians(values[0]), *values[1:3]
            turn = (cos(angle), sin(angle), -sin(angle), cos(angle), 0, 0)
            matrix = times(times(times(matrix, (1, 0, 0, 1, x, y)), turn), (1, 0, 0, 1, -x, -y))
    return matrix


def times(m: Matrix, n: Matrix) -> Matrix:
    """First `n`, then `m`."""
    a, b, c, d, e, f = n
    return (
        m[0] * a + m[2] * b,
        m[1] * a + m[3] * b,
        m[0] * c + m[2] * d,
        m[1] * c + m[3] * d,
        m[0] * e + m[2] * f + m[4],
        m[1] * e + m[3] * f + m[5],
    )


def add(parent: Group, element: etree._Element, paint: dict[str, str], glyphs: dict[str, str], faces: Faces) -> None:
    """Draws an element into the group; `paint` is the fill and the stroke that it inherits."""
    tag = etree.QName(element).localname
    paint = {name: element.get(name, paint[name]) for name in INHERITED}
    if tag == "g":
        target = Group(transform=matrix_of(element.get("transform", ""))) if element.get("transform") else parent
        for child in element:
            add(target, child, paint, glyphs, faces)
        if target is not parent:
            parent.add(target)
    elif tag == "use" and element.get("href") in glyphs:
        matrix = times(matrix_of(element.get("transform", "")), (1, 0, 0, -1, 0, 0))
        parent.add(Group(glyph_shape(glyphs[element.get("href")]), transform=matrix))
    elif tag == "text":
        add_text(parent, element, faces)
    elif tag in SHAPES and set(paint.values()) != {"none"}:
        parent.add(SHAPES[tag](element, **style_of(element, paint)))


@lru_cache(maxsize=512)
def glyph_shape(outline: str) -> Path:
    path = Path(fillColor=black, strokeColor=None)
    parse_path(outline, ReportLabPen(None, path))
    return path


def style_of(element: etree._Element, paint: dict[str, str]) -> dict[str, object]:
    width = number(element, "stroke-width")
    style: dict[str, object] = {
        "strokeColor": black if paint["stroke"] != "none" and width else None,
        "strokeWidth": width,
        "strokeLineCap": ROUND.get(element.get("stroke-linecap", ""), 0),
        "strokeLineJoin": ROUND.get(element.get("stroke-linejoin", ""), 0),
        "strokeDashArray": numbers(element.get("stroke-dasharray", "")) or None,
    }
    if etree.QName(element).localname != "polyline":
        style["fillColor"] = black if paint["fill"] != "none" else None
    return style


def path_shape(element: etree._Element, **style: object) -> Path:
    path = Path(**style)
    outline = element.get("d", "")
    parse_path(outline, ReportLabPen(None, path))
    if "C" not in outline and not outline.rstrip().endswith(("Z", "z")):
        path.fillColor = None  # a line has nothing to fill
    elif path.fillColor is not None:
        path.closePath()  # reportlab fills only what is closed
    return path


def polygon_shape(element: etree._Element, **style: object) -> Polygon:
    return Polygon(numbers(element.get("points", "")), **style)


def polyline_shape(element: etree._Element, **style: object) -> PolyLine:
    return PolyLine(numbers(element.get("points", "")), **style)


def rect_shape(element: etree._Element, **style: object) -> Rect:
    return Rect(*(number(element, name) for name in ("x", "y", "width", "height")), **style)


def ellipse_shape(element: etree._Element, **style: object) -> Ellipse:
    across = number(element, "rx") or number(element, "r")
    return Ellipse(number(element, "cx"), number(element, "cy"), across, number(element, "ry") or across, **style)


SHAPES: dict[str, Callable[..., object]] = {
    "path": path_shape,
    "polygon": polygon_shape,
    "polyline": polyline_shape,
    "rect": rect_shape,
    "ellipse": ellipse_shape,
    "circle": ellipse_shape,
}


def add_text(parent: Group, element: etree._Element, faces: Faces) -> None:
    words = String(
        0,
        0,
        element.text or "",
        fontName=faces.of(element),
        fontSize=number(element, "font-size"),
        textAnchor=ANCHORS.get(element.get("text-anchor", ""), "start"),
        fillColor=black,
    )
    parent.add(Group(words, transform=(1, 0, 0, -1, number(element, "x"), number(element, "y"))))
