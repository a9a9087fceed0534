"""The music face that the engraver brings along: a glyph's outline and its box, and the width of words."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import verovio
from lxml import etree
from reportlab.pdfbase.pdfmetrics import stringWidth

FACE = "Leipzig"
DATA = Path(verovio.__file__).parent / "data"
SMUFL = {FACE, "Bravura", "VerovioText"}

Box = tuple[float, float, float, float]


def read_boxes() -> dict[str, Box]:
    """Code -> left, top, right, bottom in thousandths of the em, y downwards as in SVG."""
    boxes = {}
    for glyph in etree.parse(DATA / f"{FACE}.xml").getroot().iter("g"):
        x, y, width, height = (float(glyph.get(name)) for name in "xywh")
        boxes[glyph.get("c")] = (x, -(y + height), x + width, -y)
    return boxes


BOXES = read_boxes()


def glyph_box(code: str) -> Box:
    return BOXES.get(code, (0, 0, 0, 0))


@cache
def glyph_path(code: str) -> str:
    """The outline, y upwards; empty when the face has no such glyph."""
    if code not in BOXES:
        return ""
    path = etree.parse(DATA / FACE / f"{code}.xml").getroot().find("path")
    return "" if path is None else path.get("d")


def text_width(text: str, size: float) -> float:
    """Roughly, and rather too much: words are set in whatever book face the page has, wider than a Times as a rule."""
    return 1.08 * stringWidth(text, "Times-Roman", size)
