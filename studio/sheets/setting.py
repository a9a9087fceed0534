"""Words set on a sheet: lines broken, every script in a face that has it, shaped, and each line in its visual order."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Literal

from reportlab.lib.abag import ABag
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfbase.ttfonts import ShapedStr, shapeFragWord
from reportlab.pdfgen.canvas import Canvas

from studio.sheets import directions
from studio.sheets.faces import BOOK, HAN, Run, Style, runs, tidy

Align = Literal["start", "end", "middle"]

# The book face is set with kerning; its ligatures are not, since a reader's program would find no letters in them.
PLAIN_FEATURES = {"kern": True, "liga": False, "clig": False, "dlig": False}
SHAPED_FEATURES = {"kern": True}
SIGNS = "♭♮♯"
MISSING_WIDTH = 0.62  # of the box drawn for a character that no face has, in ems


@dataclass(frozen=True)
class Span:
    """A stretch of text in one size (points) and style."""

    text: str
    size: float
    style: Style = "regular"


@dataclass(frozen=True)
class Glyphs:
    """Text in one face and direction, ready to draw. `text` is as it was written; `font` is "" for a missing one;
    `width` and `shift`, the place of the first glyph, in points."""

    text: str
    drawn: str
    font: str
    size: float
    width: float
    level: int
    shift: float = 0


@dataclass(frozen=True)
class Word:
    """What is not parted at a line's end, and the blank before it. `glued`: no line may end before it."""

    glyphs: tuple[Glyphs, ...]
    blank: float
    glued: bool

    @property
    def width(self) -> float:
        return sum(glyph.width for glyph in self.glyphs)


@dataclass(frozen=True)
class Line:
    words: tuple[Word, ...]
    width: float

    @property
    def size(self) -> float:
        return max((glyph.size for word in self.words for glyph in word.glyphs), default=0)


@dataclass(frozen=True)
class Setting:
    """A paragraph as lines. `leftward`: it runs from right to left and hangs on the right edge."""

    lines: tuple[Line, ...]
    leftward: bool


def set_words(spans: Sequence[Span], width: float) -> Setting:
    """Breaks a paragraph into lines at most `width` points wide. A line feed in it always ends a line."""
    spans = [Span(tidy(span.text), span.size, span.style) for span in spans]
    lines: list[Line] = []
    for paragraph in paragraphs(spans):
        lines += fill(list(words_of(paragraph)), width)
    return Setting(tuple(lines), directions.runs_right_to_left("".join(span.text for span in spans)))


def paragraphs(spans: Iterable[Span]) -> list[list[Span]]:
    found: list[list[Span]] = [[]]
    for span in spans:
        for number, part in enumerate(span.text.replace("\t", " ").split("\n")):
            if number:
                found.append([])
            found[-1].append(Span(part, span.size, span.style))
    return found


def words_of(spans: Sequence[Span]) -> Iterable[Word]:
    """The words of a paragraph in the order of writing."""
    text = "".join(span.text for span in spans)
    levels = directions.levels(text)
    styled = [span for span in spans for _ in span.text]
    start, blank = 0, 0.0
    for stop in breaks(text):
        body = text[start:stop]
        core = body.rstrip(" ")
        if core:
            glued = blank == 0 and start > 0 and not parts_anywhere(text[start - 1]) and not parts_anywhere(core[0])
            glyphs = tuple(glyphs_of(text, start, start + len(core), levels, styled))
            yield Word(glyphs, blank, glued and text[start - 1] not in "-–—/")
            blank = 0.0
        for index in range(start + len(core), stop):
            blank += blank_width(styled[index])
        start = stop


def blank_width(span: Span) -> float:
    return sum(stringWidth(" ", run.font, span.size) for run in runs(" ", span.style))


def breaks(text: str) -> list[int]:
    """Where a line may end: after blanks, after dashes, and on both sides of a character of a script without blanks."""
    found = []
    for index in range(1, len(text)):
        before, here = text[index - 1], text[index]
        if here == " ":
            continue
        hangs = unicodedata.category(here).startswith(("P", "M"))
        if (before in " -–—/" and here != "/") or ((parts_anywhere(here) or parts_anywhere(before)) and not hangs):
            found.append(index)
    return [*found, len(text)]


def parts_anywhere(char: str) -> bool:
    """Han, kana: scripts that are written without blanks and may part after any character."""
    return "\u3040" <= char <= "\u30ff" or "\u3400" <= char <= "\u9fff" or "\U00020000" <= char <= "\U0003ffff"


def glyphs_of(text: str, start: int, stop: int, levels: Sequence[int], styled: Sequence[Span]) -> Iterable[Glyphs]:
    """The stretches of one style and direction in a word, each in the faces it needs."""
    for (level, span), indexes in groupby(range(start, stop), key=lambda index: (levels[index], styled[index])):
        part = "".join(text[index] for index in indexes)
        for run in runs(part, span.style):
            for part_of_run in parted_at_signs(run):
                glyphs = shaped(part_of_run, run.font, span.size, level)
                yield narrow(glyphs) if part_of_run in SIGNS else glyphs


def parted_at_signs(run: Run) -> list[str]:
    """The text of a run, with each accidental of a Han face by itself."""
    return re.findall(f"[{SIGNS}]|[^{SIGNS}]+", run.text) if run.font.startswith(HAN) else [run.text]


def narrow(sign: Glyphs) -> Glyphs:
    """An accidental from a face that gives it the room of a Han character, set as close as a letter."""
    cut = 0.25 * sign.size
    return replace(sign, width=sign.width - 2 * cut, shift=-cut)


def shaped(text: str, font: str, size: float, level: int) -> Glyphs:
    """A run in its drawn form: letters joined, marks placed, right-to-left text turned."""
    if not font:
        return Glyphs(text, text, "", size, MISSING_WIDTH * size * len(text), level)
    source = text
    if level % 2 and not directions.runs_right_to_left(text):
        source = directions.mirror(text)
    features = PLAIN_FEATURES if font.startswith(BOOK) else SHAPED_FEATURES
    word = [0, (ABag(fontName=font, fontSize=size), source)]
    drawn = shapeFragWord(word, features=features)[1][1]
    return Glyphs(text, drawn, font, size, drawn_width(drawn, font, size), level)


def drawn_width(drawn: str, font: str, size: float) -> float:
    if isinstance(drawn, ShapedStr):
        return sum(data.x_advance for data in drawn.__shapeData__) * size / 1000
    return stringWidth(drawn, font, size)


def fill(words: Sequence[Word], width: float) -> list[Line]:
    """Lines as full as they can be. What is wider than a line by itself is parted between its characters."""
    lines: list[list[Word]] = [[]]
    used = 0.0
    for chunk in chunks(words):
        needed = sum(word.blank + word.width for word in chunk)
        if lines[-1] and used + needed > width:
            lines.append([])
            used = 0.0
        if not lines[-1]:
            chunk = [Word(chunk[0].glyphs, 0.0, False), *chunk[1:]]
            needed = sum(word.blank + word.width for word in chunk)
        if needed > width:
            chunk = [piece for word in chunk for piece in parted(word)]
        for word in chunk:
            if lines[-1] and used + word.blank + word.width > width + 0.01:
                lines.append([])
                used = 0.0
                word = Word(word.glyphs, 0.0, False)
            lines[-1].append(word)
            used += word.blank + word.width
    return [Line(tuple(line), sum(word.blank + word.width for word in line)) for line in lines]


def chunks(words: Sequence[Word]) -> list[list[Word]]:
    """Words with those that are glued to them."""
    found: list[list[Word]] = []
    for word in words:
        if word.glued and found:
            found[-1].append(word)
        else:
            found.append([word])
    return found


def parted(word: Word) -> list[Word]:
    """A word between all its characters, marks kept with their letters."""
    pieces: list[Word] = []
    for glyph in word.glyphs:
        clusters: list[str] = []
        for char in glyph.text:
            if clusters and unicodedata.category(char).startswith("M"):
                clusters[-1] += char
            else:
                clusters.append(char)
        for cluster in clusters:
            blank = word.blank if not pieces else 0.0
            pieces.append(Word((shaped(cluster, glyph.font, glyph.size, glyph.level),), blank, False))
    return pieces


def draw_line(canvas: Canvas, line: Line, x: float, y: float) -> None:
    """Draws a line from `x` on, baseline at `y`, in its visual order."""
    pieces: list[Glyphs] = []
    for word in line.words:
        if word.blank:
            pieces.append(blank_before(word, pieces[-1] if pieces else word.glyphs[0]))
        pieces += word.glyphs
    for piece, _ in directions.visual_order(pieces, [piece.level for piece in pieces]):
        draw_glyphs(canvas, piece, x, y)
        x += piece.width


def blank_before(word: Word, last: Glyphs) -> Glyphs:
    """The blank between two words: drawn as one, so that programs that read the sheet find the words parted."""
    first = word.glyphs[0]
    font = runs(" ")[0].font
    return Glyphs(" ", " ", font, last.size, word.blank, min(last.level, first.level))


def draw_glyphs(canvas: Canvas, glyphs: Glyphs, x: float, y: float) -> None:
    if not glyphs.font:
        draw_missing(canvas, glyphs, x, y)
        return
    if isinstance(glyphs.drawn, ShapedStr) and not glyphs.font.startswith(BOOK):
        draw_clusters(canvas, glyphs, x, y)
    else:
        draw_text(canvas, glyphs.drawn, glyphs, x + glyphs.shift, y)


def draw_text(canvas: Canvas, drawn: str, glyphs: Glyphs, x: float, y: float) -> None:
    text = canvas.beginText(x, y)
    text.setFont(glyphs.font, glyphs.size)
    text.textOut(drawn)
    canvas.drawText(text)


def draw_clusters(canvas: Canvas, glyphs: Glyphs, x: float, y: float) -> None:
    """Joined letters, each with the characters it stands for, since its form alone does not tell them."""
    drawn = glyphs.drawn
    clusters = [data.cluster for data in drawn.__shapeData__]
    starts = sorted(set(clusters))
    ends = dict(zip(starts, [*starts[1:], len(glyphs.text)], strict=True))
    index = 0
    for cluster, group in groupby(clusters):
        stop = index + len(list(group))
        source, part = glyphs.text[cluster : ends[cluster]], drawn[index:stop]
        if str(part) == source:
            draw_text(canvas, part, glyphs, x, y)
        else:
            canvas.addLiteral(f"/Span <</ActualText {utf16(source)}>> BDC")
            draw_text(canvas, part, glyphs, x, y)
            canvas.addLiteral("EMC")
        x += drawn_width(part, glyphs.font, glyphs.size)
        index = stop


def utf16(text: str) -> str:
    """A text as a PDF writes it in hexadecimal."""
    return f"<FEFF{text.encode('utf-16-be').hex().upper()}>"


def draw_missing(canvas: Canvas, glyphs: Glyphs, x: float, y: float) -> None:
    """An empty box for each character that no face has."""
    step = MISSING_WIDTH * glyphs.size
    canvas.saveState()
    canvas.setLineWidth(0.05 * glyphs.size)
    for index in range(len(glyphs.text)):
        canvas.rect(x + index * step + 0.08 * glyphs.size, y, step - 0.16 * glyphs.size, 0.66 * glyphs.size)
    canvas.restoreState()
