"""What a file is, told from its content; its name is a hint only for plain text."""

from __future__ import annotations

import re

from scores.reading_files.terms import CannotRead
from scores.reading_files.terms import marked as _

XML, ZIP, MIDI, HUMDRUM, ABC = "xml", "zip", "midi", "humdrum", "abc"

PDF = _(
    "This file is a PDF, a picture of music, not the music itself. Ask the notation program that made it for MusicXML."
)
PICTURE = _("This file is a picture, not the music itself. A score comes from a notation program, as MusicXML.")
SOUND = _("This file is a sound recording. The notes of a score cannot be taken from it.")
VIDEO = _("This file is a video. The notes of a score cannot be taken from it.")
PACKED = _("This file is an archive of another kind than .mxl. Unpack it and send the score that is in it.")
DOCUMENT = _("This file is a text document, not a score. A score comes from a notation program, as MusicXML.")
PROGRAM = _("This file is a computer program, not a score.")
WEB_PAGE = _("This file is a web page, not a score. The page may have a link to the score itself: save that.")
EMPTY = _("This file is empty.")
SOURCE_TEXT = _("This file is the source text of an engraving, not a score. Export the music as MusicXML.")
UNKNOWN = _(
    "This file is not a score of a kind that can be read. Send MusicXML (.musicxml, .xml, .mxl), MEI, Humdrum (.krn), "
    "ABC or MIDI."
)

# Signatures of common file formats, from their specifications.
SIGNATURES: tuple[tuple[bytes, str], ...] = (
    (b"%PDF", PDF),
    (b"%!PS", PDF),
    (b"\x89PNG", PICTURE),
    (b"\xff\xd8\xff", PICTURE),
    (b"GIF8", PICTURE),
    (b"II*\x00", PICTURE),
    (b"MM\x00*", PICTURE),
    (b"BM", PICTURE),
    (b"ID3", SOUND),
    (b"\xff\xfb", SOUND),
    (b"\xff\xf3", SOUND),
    (b"OggS", SOUND),
    (b"fLaC", SOUND),
    (b"FORM", SOUND),
    (b"\x1aE\xdf\xa3", VIDEO),
    (b"\x1f\x8b", PACKED),
    (b"7z\xbc\xaf", PACKED),
    (b"Rar!", PACKED),
    (b"BZh", PACKED),
    (b"\xfd7zXZ", PACKED),
    (b"\xd0\xcf\x11\xe0", DOCUMENT),
    (b"{\\rtf", DOCUMENT),
    (b"\x7fELF", PROGRAM),
    (b"MZ", PROGRAM),
)
ABC_FIELD = re.compile(r"^[A-Za-z]:", re.MULTILINE)
ABC_KEY = re.compile(r"^K:", re.MULTILINE)
ENGRAVING_SOURCE = re.compile(r"\\(version|relative|score|documentclass|begin)\b")


def kind_of(name: str, data: bytes) -> str:
    """One of the five kinds above. Raises `CannotRead` that says what the file is instead."""
    if not data.strip(b"\x00 \t\r\n\f"):
        raise CannotRead(EMPTY)
    kind = _binary_kind(data)
    if kind:
        return kind
    start = _first_text(data)
    if start.startswith("<"):
        if re.match(r"<(!doctype\s+html|html)\b", start, re.IGNORECASE):
            raise CannotRead(WEB_PAGE)
        return XML
    return _text_kind(name, start)


def _binary_kind(data: bytes) -> str:
    if data.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return ZIP
    if data.startswith(b"MThd") or (data.startswith(b"RIFF") and data[8:12] == b"RMID"):
        return MIDI
    if data.startswith(b"RIFF"):
        picture_or_video = {b"WEBP": PICTURE, b"AVI ": VIDEO}
        raise CannotRead(picture_or_video.get(data[8:12], SOUND))
    if data[4:8] == b"ftyp":
        brand = data[8:12]
        raise CannotRead(SOUND if brand.startswith(b"M4A") else PICTURE if brand in (b"heic", b"avif") else VIDEO)
    for signature, message in SIGNATURES:
        if data.startswith(signature):
            raise CannotRead(message)
    return ""


def _text_kind(name: str, start: str) -> str:
    if re.search(r"^\*\*(kern|ekern)", start, re.MULTILINE):
        return HUMDRUM
    if ENGRAVING_SOURCE.search(start):
        raise CannotRead(SOURCE_TEXT)
    is_abc = ABC_FIELD.search(start) and ABC_KEY.search(start)
    if "\x00" not in start and (is_abc or (name.lower().endswith((".abc", ".txt")) and ABC_KEY.search(start))):
        return ABC
    if name.lower().endswith(".abc") and "\x00" not in start:
        return ABC
    raise CannotRead(UNKNOWN)


def _first_text(data: bytes) -> str:
    """The first stretch of the file as text, enough to tell kinds apart."""
    piece = data[:200_000]
    if piece.startswith((b"\xff\xfe", b"\xfe\xff")):
        return piece.decode("utf-16", "replace").lstrip("\ufeff \t\r\n\x0b\x0c")
    if piece[:4] in (b"<\x00?\x00", b"<\x00s\x00", b"<\x00m\x00"):
        return piece.decode("utf-16-le", "replace")
    if piece[:4] in (b"\x00<\x00?", b"\x00<\x00s", b"\x00<\x00m"):
        return piece.decode("utf-16-be", "replace")
    return piece.decode("utf-8-sig", "replace").lstrip("\ufeff \t\r\n\x0b\x0c")
