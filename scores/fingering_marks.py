"""Fingerings in a MusicXML tree."""

from __future__ import annotations

from collections.abc import Container, Mapping

from lxml import etree

# <notations> stands before these children of a <note>; <technical> may stand anywhere in <notations>.
AFTER_NOTATIONS = ("lyric", "play", "listen")


def take_fingers(root: etree._Element) -> None:
    """Removes every printed fingering, and the groups that it leaves empty."""
    for fingering in list(root.iter("fingering")):
        element: etree._Element | None = fingering
        while element is not None and len(element) == 0 and element.tag in ("fingering", "technical", "notations"):
            parent = element.getparent()
            parent.remove(element)
            element = parent


def take_fingers_of(root: etree._Element, notes: Container[str]) -> None:
    """Removes the printed fingerings of the notes with these ids."""
    for note in root.iter("note"):
        if note.get("id", "") in notes:
            take_fingers(note)


def put_fingers(root: etree._Element, fingers: Mapping[str, str]) -> None:
    """Writes fingers on notes: "4-5" is 4, then a substitution by 5. Notes that are not in the tree are left out."""
    for note in root.iter("note"):
        text = fingers.get(note.get("id", ""), "")
        if text:
            technical = technical_of(note)
            for place, digit in enumerate(text.split("-")):
                fingering = etree.SubElement(technical, "fingering")
                fingering.text = digit
                if place:
                    fingering.set("substitution", "yes")


def technical_of(note: etree._Element) -> etree._Element:
    """The note's first <technical>, made where the schema wants it."""
    notations = note.find("notations")
    if notations is None:
        notations = etree.Element("notations")
        later = [index for index, child in enumerate(note) if child.tag in AFTER_NOTATIONS]
        note.insert(later[0] if later else len(note), notations)
    technical = notations.find("technical")
    return technical if technical is not None else etree.SubElement(notations, "technical")


def fingers_on(note: etree._Element) -> str:
    """The fingering that stands on a note, as text: a substitution after a dash ("4-5"). Alternatives are left out."""
    found = [
        fingering
        for fingering in note.iterfind("notations/technical/fingering")
        if fingering.get("alternate") != "yes" and (fingering.text or "").strip()
    ]
    text = ""
    for fingering in found:
        digit = (fingering.text or "").strip()
        if not text:
            text = digit
        elif fingering.get("substitution") == "yes":
            text += f"-{digit}"
    return text


def join_substitutions(root: etree._Element) -> None:
    """For engraving only: a finger and its substitution as the one text "4-5", where the engraver would stack two."""
    for fingering in list(root.iter("fingering")):
        before = fingering.getprevious()
        if fingering.get("substitution") == "yes" and before is not None and before.tag == "fingering":
            before.text = f"{before.text or ''}-{fingering.text or ''}"
            fingering.getparent().remove(fingering)
