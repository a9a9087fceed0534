"""Compressed MusicXML: the score out of a zip, without trusting a word of what the zip says about itself."""

from __future__ import annotations

import io
import re
import stat
import struct
import zipfile
import zlib

from scores.reading_files.terms import CannotRead, Limits
from scores.reading_files.terms import marked as _
from scores.reading_files.xml_text import parse_xml

BROKEN = _("The compressed file is damaged and cannot be unpacked. Export or send it again.")
NO_SCORE = _("The compressed file has no score in it.")
LOCKED = _("The compressed file is protected by a password. Send it without.")
BAD_NAME = _("The compressed file holds a file with an unsafe name, %(name)s, and was refused.")
MANY_ENTRIES = _("The compressed file holds %(count)s files; at most %(limit)s are allowed.")
LARGE = _("The compressed file would unpack to more than %(limit)s MB and was refused.")
NESTED = _("The compressed file holds another compressed file instead of a score.")
METHOD = _("The compressed file is packed in a way that .mxl does not allow. Export it again.")
DOCUMENT = _("This file is an office document, not a score. A score comes from a notation program, as MusicXML.")

ENTRY_ROOM = 1024  # bytes of the zip's directory that one entry may take
CHUNK = 1 << 16


def unpack(data: bytes, limits: Limits) -> bytes:
    """The score in an .mxl file, as its container names it. Raises `CannotRead`."""
    _check_directory(data, limits)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = archive.infolist()
            _check_entries(entries, limits)
            return _score_in(archive, entries, limits)
    except CannotRead:
        raise
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError, RuntimeError, ValueError) as error:
        raise CannotRead(BROKEN) from error
    except (struct.error, KeyError, LookupError, OverflowError) as error:
        raise CannotRead(BROKEN) from error


def _check_directory(data: bytes, limits: Limits) -> None:
    """Looks at the size of the zip's directory before anything reads it entry by entry."""
    at = data.rfind(b"PK\x05\x06")
    if at < 0 or at + 22 > len(data):
        raise CannotRead(BROKEN)
    count, size = struct.unpack("<HI", data[at + 10 : at + 16])
    if count > limits.zip_entries:
        raise CannotRead(MANY_ENTRIES, {"count": count, "limit": limits.zip_entries})
    if size > limits.zip_entries * ENTRY_ROOM:
        raise CannotRead(BROKEN)


def _check_entries(entries: list[zipfile.ZipInfo], limits: Limits) -> None:
    if len(entries) > limits.zip_entries:
        raise CannotRead(MANY_ENTRIES, {"count": len(entries), "limit": limits.zip_entries})
    for entry in entries:
        # What the zip says, since the library has already turned some signs of a name into others.
        for name in (entry.orig_filename, entry.filename):
            if not is_safe_name(name) or stat.S_ISLNK(entry.external_attr >> 16):
                raise CannotRead(BAD_NAME, {"name": repr(name[:60])})
        if entry.flag_bits & 0x1:
            raise CannotRead(LOCKED)
        if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise CannotRead(METHOD)
    if sum(entry.file_size for entry in entries) > limits.unpacked:
        raise CannotRead(LARGE, {"limit": limits.unpacked // 1024**2})


def is_safe_name(name: str) -> bool:
    """A relative path that stays inside the archive on every system."""
    parts = name.split("/")
    return not (
        not name
        or name.startswith("/")
        or "\\" in name
        or ".." in parts
        or re.match(r"[A-Za-z]:", name)
        or re.search(r"[\x00-\x1f\x7f]", name)
    )


def _score_in(archive: zipfile.ZipFile, entries: list[zipfile.ZipInfo], limits: Limits) -> bytes:
    by_name = {entry.filename: entry for entry in entries if not entry.is_dir()}
    if "[Content_Types].xml" in by_name or "content.xml" in by_name:
        raise CannotRead(DOCUMENT)
    name = _root_file(archive, by_name, limits)
    if name not in by_name:
        raise CannotRead(NO_SCORE)
    score = _stream(archive, by_name[name], limits.unpacked)
    if score.startswith((b"PK\x03\x04", b"\x1f\x8b")):
        raise CannotRead(NESTED)
    return score


def _root_file(archive: zipfile.ZipFile, by_name: dict[str, zipfile.ZipInfo], limits: Limits) -> str:
    """The container's first root file that is MusicXML (MusicXML 4.0, "Compressed .mxl files")."""
    if "META-INF/container.xml" in by_name:
        container = parse_xml(_stream(archive, by_name["META-INF/container.xml"], 1 << 20), limits)
        for root in container.iter("{*}rootfile"):
            if root.get("media-type", "xml").endswith("xml"):
                return root.get("full-path", "")
    scores = [name for name in by_name if re.search(r"\.(musicxml|xml)$", name, re.I) and not _is_beside(name)]
    return scores[0] if scores else ""


def _is_beside(name: str) -> bool:
    return name.startswith(("META-INF/", "__MACOSX/")) or name.rsplit("/", 1)[-1].startswith(".")


def _stream(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, most: int) -> bytes:
    """Unpacks one entry, and stops as soon as it grows beyond `most` bytes, whatever size it declared."""
    found = io.BytesIO()
    with archive.open(entry) as packed:
        while piece := packed.read(CHUNK):
            if found.tell() + len(piece) > most:
                raise CannotRead(LARGE, {"limit": most // 1024**2})
            found.write(piece)
    return found.getvalue()
