"""An edition with the choices made for a student, as MusicXML that other programs read.

MusicXML keeps the edition's own tree: only fingerings and the time of grace notes are written into it.
"""

from __future__ import annotations

from collections.abc import Mapping

from lxml import etree

from scores.engraving import cutting
from scores.fingering_marks import fingers_on, put_fingers, take_fingers, take_fingers_of
from scores.music.notation import Placement

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
STEAL = "50"  # percent of the neighbour that a grace takes when the edition does not say


def with_choices(
    music: bytes,
    fingers: Mapping[str, str],
    *,
    keep_printed: bool = False,
    placements: Mapping[str, Placement] | None = None,
) -> bytes:
    """The MusicXML with these fingers (note id -> "3", "4-5"; a substitution is written as one) and with the time of
    grace notes written as taken from the note before ("before") or after ("on").

    Printed fingerings go, unless `keep_printed`: then they stay on the notes that have no other.
    """
    root = cutting.read(music)
    if keep_printed:
        take_fingers_of(root, {note for note, text in fingers.items() if text})
    else:
        take_fingers(root)
    put_fingers(root, fingers)
    place_graces(root, placements or {})
    return written(root)


def excerpt(music: bytes, first: int, last: int) -> bytes:
    """Measures `first` to `last` (indexes, both included) as MusicXML of their own. Raises `IndexError`."""
    root = cutting.read(music)
    cutting.cut(root, first, last)
    return written(root)


def written(root: etree._Element) -> bytes:
    mend(root)
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", doctype=DOCTYPE)


def mend(root: etree._Element) -> None:
    """Takes out what some programs write and the schema forbids: a loudness or a tempo below nothing."""
    for element in root.iter("sound", "note"):
        for name in ("dynamics", "end-dynamics", "tempo"):
            if element.get(name, "").startswith("-"):
                del element.attrib[name]


def fingers_of(music: bytes) -> dict[str, str]:
    """The fingerings that stand in a file: note id -> text."""
    found = {note.get("id", ""): fingers_on(note) for note in cutting.read(music).iter("note")}
    return {note: text for note, text in found.items() if note and text}


def place_graces(root: etree._Element, placements: Mapping[str, Placement]) -> None:
    """Before the beat, a grace takes its time from the note before it; on the beat, from the note that follows."""
    for note in root.iter("note"):
        grace, placement = note.find("grace"), placements.get(note.get("id", ""))
        if grace is None or placement is None:
            continue
        names = ("steal-time-previous", "steal-time-following")
        wanted, other = names if placement == "before" else names[::-1]
        share = grace.get(wanted) or grace.get(other) or STEAL
        for name in (*names, "make-time"):
            grace.attrib.pop(name, None)
        grace.set(wanted, share)
