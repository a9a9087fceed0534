"""The faces of the printed sheet: one for every character that any script puts into a name or a title.

The faces come from their npm packages as many small files, each with a part of a script. Once, at first need, the
characters of all files are put into an index; a file is turned into a TrueType font when a text asks for it. Both are
kept under `VAR/faces`, written beside and moved into place, so that several processes may do it at once.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
import threading
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal

from django.conf import settings
from fontTools.ttLib import TTFont
from reportlab.pdfbase import pdfmetrics, ttfonts

Style = Literal["regular", "bold", "italic"]

BOOK = "source-serif-4"
SCRIPTS = ("noto-sans-hebrew", "noto-sans-arabic", "noto-sans-devanagari", "noto-sans-thai")
HAN = ("noto-sans-sc", "noto-sans-jp", "noto-sans-kr")
FILE_STYLES: dict[Style, str] = {"regular": "400-normal", "bold": "600-normal", "italic": "400-italic"}
NAMES_OF_A_FACE = (1, 3, 4, 6)

# What no face has but has a plain way to be written.
PLAIN = {"𝄫": "♭♭", "𝄪": "×", "\u2011": "-", "\u00ad": "", "\u200b": "", "\ufeff": "", "\u2007": " ", "\u202f": " "}

_lock = threading.RLock()


class SheetFont(ttfonts.TTFont):
    """A font that two sheets drawn at the same moment may share: it cuts out what a sheet needs by walking through one
    buffer, which only one at a time may do."""

    def addObjects(self, doc: Any) -> None:
        with _lock:
            super().addObjects(doc)


class FaceNotInstalled(OSError):
    """The packages with the faces are not installed."""


@dataclass(frozen=True)
class Run:
    """A stretch of text in one face. `font` is the name it has with reportlab; "" where no face has the character."""

    text: str
    font: str


def tidy(text: str) -> str:
    """The text as it is set: composed characters, and plain ones for those that only differ in how they break."""
    composed = unicodedata.normalize("NFC", text)
    return "".join(PLAIN.get(char, char) for char in composed if char in "\n\t" or not is_control(char))


def is_control(char: str) -> bool:
    """Characters that nobody sees; joiners are not among them, since shaping needs them."""
    return unicodedata.category(char) in {"Cc", "Cf", "Cs"} and char not in "\u200c\u200d"


def runs(text: str, style: Style = "regular") -> list[Run]:
    """Cuts a tidied text into runs of one face each, every face ready to draw with."""
    found: list[Run] = []
    families = families_for(text)
    for char in text:
        known = found[-1].font if found else ""
        if known and (char.isspace() or unicodedata.combining(char)) and has(known, char):
            font = known
        else:
            font = font_for(char, style, families)
        if found and found[-1].font == font:
            found[-1] = Run(found[-1].text + char, font)
        else:
            found.append(Run(char, font))
    return found


def missing(texts: Iterable[str]) -> tuple[str, ...]:
    """The characters of these texts that no face has, each once, in order."""
    lacking: dict[str, None] = {}
    for text in texts:
        clean = tidy(text)
        families = families_for(clean)
        lacking.update(dict.fromkeys(char for char in clean if not char.isspace() and not place_of(char, families)))
    return tuple(lacking)


def families_for(text: str) -> tuple[str, ...]:
    """The families in the order in which they are asked. Han characters look different in Chinese, Japanese and Korean
    print: the other letters of the text tell which it is."""
    first = HAN
    if any("\u3040" <= char <= "\u30ff" for char in text):
        first = ("noto-sans-jp", "noto-sans-sc", "noto-sans-kr")
    elif any("\uac00" <= char <= "\ud7a3" for char in text):
        first = ("noto-sans-kr", "noto-sans-jp", "noto-sans-sc")
    return (BOOK, *SCRIPTS, *first)


def font_for(char: str, style: Style, families: tuple[str, ...]) -> str:
    """The registered font that has a character; "" if none has it."""
    place = place_of(char, families)
    return registered(*place, style) if place else ""


def place_of(char: str, families: tuple[str, ...]) -> tuple[str, str] | None:
    """(family, part) of the first family that has the character."""
    owners = parts_by_character().get(ord(char), {})
    return next(((family, owners[family]) for family in families if family in owners), None)


def has(font: str, char: str) -> bool:
    return ord(char) in pdfmetrics.getFont(font).face.charToGlyph


def book_font(style: Style = "regular") -> str:
    """The book face for Latin text and figures."""
    return registered(BOOK, "latin", style)


# The index


@cache
def parts_by_character() -> dict[int, dict[str, str]]:
    """Code point -> family -> the part of it whose file has the character."""
    found: dict[int, dict[str, str]] = {}
    for family, parts in index()["families"].items():
        for part, ranges in parts.items():
            for first, last in ranges:
                for code in range(first, last + 1):
                    found.setdefault(code, {}).setdefault(family, part)
    return found


def index() -> dict[str, Any]:
    """The characters of every file, from `VAR/faces`, made anew when the packages have changed."""
    path = home() / "index.json"
    edition = packages_edition()
    with _lock:
        try:
            kept = json.loads(path.read_text())
        except (OSError, ValueError):
            kept = {}
        if kept.get("edition") != edition:
            kept = {"edition": edition, "families": {family: dict(read_parts(family)) for family in families_there()}}
            write_whole(path, json.dumps(kept, separators=(",", ":")).encode())
    return kept


def home() -> Path:
    return Path(settings.VAR) / "faces"


def families_there() -> list[str]:
    return [family for family in (BOOK, *SCRIPTS, *HAN) if (settings.FACES / family / "files").is_dir()]


@cache
def packages_edition() -> str:
    """Changes when a package of faces does."""
    manifests = [settings.FACES / family / "package.json" for family in families_there()]
    return hashlib.sha256(b"2" + b"".join(path.read_bytes() for path in manifests)).hexdigest()[:16]


def read_parts(family: str) -> Iterator[tuple[str, list[tuple[int, int]]]]:
    """(part, ranges of code points) of each regular file of a family."""
    for path in sorted((settings.FACES / family / "files").glob(f"{family}-*-{FILE_STYLES['regular']}.woff")):
        part = path.name.removeprefix(f"{family}-").removesuffix(f"-{FILE_STYLES['regular']}.woff")
        with TTFont(path, lazy=True) as font:
            yield part, as_ranges(sorted(font.getBestCmap()))


def as_ranges(codes: list[int]) -> list[tuple[int, int]]:
    ranges: list[tuple[int, int]] = []
    for code in codes:
        if ranges and ranges[-1][1] == code - 1:
            ranges[-1] = (ranges[-1][0], code)
        else:
            ranges.append((code, code))
    return ranges


# The fonts


@cache
def registered(family: str, part: str, style: Style) -> str:
    """Makes a file known to reportlab; gives the name it has there. A style that a family lacks is its regular one."""
    source = settings.FACES / family / "files" / f"{family}-{part}-{FILE_STYLES[style]}.woff"
    if not source.exists():
        if style == "regular":
            raise FaceNotInstalled(f"{source.name} is not there: install the packages of package.json first.")
        return registered(family, part, "regular")
    name = f"{family}-{part}-{FILE_STYLES[style]}"
    with _lock:
        target = home() / f"{name}-{packages_edition()}.ttf"
        if not target.exists():
            write_truetype(source, target, name)
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(SheetFont(name, str(target)))
    return name


def write_truetype(source: Path, target: Path, name: str) -> None:
    """Unpacks a web font. Its name becomes its own, since a PDF tells fonts apart by it."""
    with TTFont(source) as font:
        font.flavor = None
        for kind in NAMES_OF_A_FACE:
            font["name"].setName(name, kind, 3, 1, 0x409)
            font["name"].setName(name, kind, 1, 0, 0)
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, beside = tempfile.mkstemp(dir=target.parent)
        os.close(handle)
        font.save(beside)
        os.replace(beside, target)


def write_whole(path: Path, content: bytes) -> None:
    """A file that is there whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, beside = tempfile.mkstemp(dir=path.parent)
    with os.fdopen(handle, "wb") as file:
        file.write(content)
    os.replace(beside, path)
