"""The bare libraries that the project is measured against, used as their own manuals say."""

from __future__ import annotations

from collections.abc import Iterable
from io import BytesIO, StringIO
from pathlib import Path

import verovio
from music21 import converter
from reportlab.graphics import renderPDF
from reportlab.pdfgen.canvas import Canvas
from svglib.svglib import svg2rlg

verovio.enableLog(verovio.LOG_OFF)

Excerpt = tuple[bytes, int, int]  # music, first and last measure as counted from 1
MARGIN = 48  # points
EXCERPT = {  # a picture as high as its music, its staves about as high as a printed sheet has them
    "header": "none",
    "footer": "none",
    "adjustPageHeight": True,
    "pageMarginTop": 0,
    "pageMarginBottom": 0,
    "pageMarginLeft": 0,
    "pageMarginRight": 0,
    "pageWidth": 1800,
}


def parse(path: Path) -> object:
    """music21's own parse, without its store of pickles."""
    return converter.parse(path, forceSource=True, storePickle=False)


def render(toolkit: verovio.toolkit, path: Path) -> list[str]:
    """verovio's load of a file and all its pages as SVG."""
    if not toolkit.loadFile(str(path)):
        raise ValueError(path)
    return [toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1)]


def draw_excerpts(toolkit: verovio.toolkit, excerpts: Iterable[Excerpt], size: tuple[float, float]) -> bytes:
    """Excerpts engraved with verovio, read with svglib, drawn one under the other with reportlab; a new page where one
    does not fit. An edition is loaded once for excerpts that follow each other."""
    file, loaded = BytesIO(), b""
    toolkit.setOptions(EXCERPT)
    canvas = Canvas(file, pagesize=size)
    top = size[1] - MARGIN
    for music, first, last in excerpts:
        if music != loaded:
            toolkit.loadData(music.decode())
            loaded = music
        toolkit.select({"measureRange": f"{first}-{last}"})
        toolkit.redoLayout()
        for page in range(1, toolkit.getPageCount() + 1):
            drawing = svg2rlg(StringIO(toolkit.renderToSVG(page)))
            scale = (size[0] - 2 * MARGIN) / drawing.width
            height = drawing.height * scale
            drawing.scale(scale, scale)
            if top - height < MARGIN:
                canvas.showPage()
                top = size[1] - MARGIN
            renderPDF.draw(drawing, canvas, MARGIN, top - height)
            top -= height
    canvas.save()
    return file.getvalue()
