"""An edition with the choices made for a student, as MusicXML that other programs read.

MusicXML keeps the edition's own tree: only fingerings and how ornaments are played are written into it.
"""

from __future__ import annotations

from collections.abc import Mapping

from lxml import etree

from scores.engraving import cutting
from scores.fingering_marks import fingers_on, put_fingers, take_fingers, take_fingers_of
from scores.music.notation import Score
from scores.music.ornaments import Choice, realise
from scores.music.ornaments.attributes import SHARES, file_attributes
from scores.music.tempo import Number

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)


def with_choices(
    music: bytes,
    fingers: Mapping[str, str],
    *,
    keep_printed: bool = False,
    score: Score | None = None,
    choices: Mapping[str, Choice] | None = None,
    tempo: Number | None = None,
) -> bytes:
    """The MusicXML with these fingers (note id -> "3", "4-5"; a substitution is written as one) and with what was
    chosen for its ornaments: whose time a grace takes, and how a sign sounds.

    Printed fingerings go, unless `keep_printed`: then they stay on the notes that have no other. `choices` (see
    `music.ornaments`) want the `score` of this music; graces are as quick as they are at `tempo` (quarters a minute;
    None: the score's own marks). Raises `BadTempo`.
    """
    root = cutting.read(music)
    if keep_printed:
        take_fingers_of(root, {note for note, text in fingers.items() if text})
    else:
        take_fingers(root)
    put_fingers(root, fingers)
    if score and choices:
        write_ornaments(root, file_attributes(score, realise(score, choices, tempo=tempo), choices))
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


def write_ornaments(root: etree._Element, attributes: Mapping[tuple[str, str], Mapping[str, str]]) -> None:
    """Writes how ornaments are played on their elements (see `file_attributes`). What a grace said of its time before
    goes: it is said anew."""
    named = {name for name, _ in attributes}
    for note in root.iter("note"):
        name = note.get("id", "")
        if name not in named:
            continue
        for element in (note.find("grace"), *note.iterfind("notations/ornaments/*")):
            wanted = attributes.get((name, element.tag)) if element is not None else None
            if element is None or wanted is None:
                continue
            for share in SHARES if element.tag == "grace" else ():
                element.attrib.pop(share, None)
            element.attrib.update(wanted)
