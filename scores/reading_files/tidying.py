"""A MusicXML tree from outside, brought into the one form that the rest relies on: score-partwise 4.0, without links
and pictures, without notes that no key can play."""

from __future__ import annotations

from lxml import etree

from scores.reading_files.elements import attributes_of
from scores.reading_files.terms import CannotRead, Limits, Notice
from scores.reading_files.terms import marked as _

NO_SCORE_XML = _("This XML file is not a score: its outermost element is <%(tag)s>.")
COLLECTION = _("This file is a list of scores, not a score. Send the scores one by one.")
NO_PARTS = _("The score has no parts with measures.")
MANY_MEASURES = _("The score has %(count)s measures; at most %(limit)s are allowed. Send a part of it.")
MANY_NOTES = _("The score has %(count)s notes; at most %(limit)s are allowed. Send a part of it.")
UNPITCHED = _("Notes without pitch (percussion) were left out: %(count)s.")
ONLY_UNPITCHED = _("The score has percussion only. A part with pitched notes is needed.")
NO_NOTES = _("The score has no notes.")

LINKS = ("credit-image", "image", "link", "bookmark", "opus")


def plain(root: etree._Element, limits: Limits) -> etree._Element:
    """The tree as score-partwise with its parts counted against the limits. Raises `CannotRead`."""
    strip_namespaces(root)
    if root.tag == "score-timewise":
        root = partwise(root)
    if root.tag == "opus":
        raise CannotRead(COLLECTION)
    if root.tag != "score-partwise":
        raise CannotRead(NO_SCORE_XML, {"tag": str(root.tag)[:60]})
    parts = root.findall("part")
    if not any(part.find("measure") is not None for part in parts):
        raise CannotRead(NO_PARTS)
    most = max(len(part.findall("measure")) for part in parts)
    if most > limits.measures:
        raise CannotRead(MANY_MEASURES, {"count": most, "limit": limits.measures})
    root.set("version", "4.0")
    for name in [name for name in root.attrib if name != "version"]:
        del root.attrib[name]
    drop_links(root)
    return root


def strip_namespaces(root: etree._Element) -> None:
    """MusicXML has no namespace of its own; what bears one (links, foreign additions) goes, unless the whole score
    does."""
    home = etree.QName(root).namespace
    for element in found(root, "//*[namespace-uri()]"):
        name = etree.QName(element)
        if name.namespace == home:
            element.tag = name.localname
        else:
            remove(element)
    for element in found(root, "//*[@*[namespace-uri()]]"):
        for attribute in [key for key in element.attrib if str(key).startswith("{")]:
            del element.attrib[attribute]
    # What is no element any more: references to entities that the file has not declared.
    for entity in list(root.iter(etree.Entity)):
        remove(entity)
    etree.cleanup_namespaces(root)


def found(root: etree._Element, path: str) -> list[etree._Element]:
    """The elements of an XPath expression, in document order."""
    elements = root.xpath(path)
    assert isinstance(elements, list)
    return [element for element in elements if isinstance(element, etree._Element)]


def remove(element: etree._Element) -> None:
    """Takes an element out and leaves the text behind it."""
    parent = element.getparent()
    if parent is None:
        return
    if element.tail and element.tail.strip():
        before = element.getprevious()
        if before is None:
            parent.text = (parent.text or "") + element.tail
        else:
            before.tail = (before.tail or "") + element.tail
    parent.remove(element)


def drop_links(root: etree._Element) -> None:
    """Takes out links and pictures, and the groups that they leave empty."""
    for element in list(root.iter(*LINKS)):
        parent = element.getparent()
        if parent is None:
            continue
        remove(element)
        while parent is not None and len(parent) == 0 and parent.tag in ("credit", "direction-type", "direction"):
            above = parent.getparent()
            if above is None:
                break
            above.remove(parent)
            parent = above
    for credit in list(root.iter("credit")):
        if not any(child.tag in ("credit-words", "credit-symbol") for child in credit):
            remove(credit)
    for direction in list(root.iter("direction")):
        if direction.find("direction-type") is None:
            remove(direction)


def partwise(timewise: etree._Element) -> etree._Element:
    """score-timewise (measures that hold parts) turned about into score-partwise."""
    root = etree.Element("score-partwise")
    parts: dict[str, etree._Element] = {}
    for child in list(timewise):
        if child.tag != "measure":
            root.append(child)
            continue
        for part in child.findall("part"):
            name = part.get("id", "")
            if name not in parts:
                parts[name] = etree.Element("part", {"id": name})
            measure = etree.SubElement(parts[name], "measure", attributes_of(child))
            measure.extend(list(part))
    root.extend(parts.values())
    return root


def count_notes(part: etree._Element, limits: Limits) -> None:
    """Raises `CannotRead` for a part without notes or with too many."""
    pitched = len(found(part, "measure/note/pitch"))
    if pitched > limits.notes:
        raise CannotRead(MANY_NOTES, {"count": pitched, "limit": limits.notes})
    if not pitched:
        only_drums = next(part.iter("unpitched"), None) is not None
        raise CannotRead(ONLY_UNPITCHED if only_drums else NO_NOTES)


def drop_unpitched(part: etree._Element) -> list[Notice]:
    """Turns notes without pitch into rests of their length, so that everything else stays in time."""
    count = 0
    for unpitched in found(part, "measure/note/unpitched"):
        note = unpitched.getparent()
        measure = note.getparent() if note is not None else None
        if note is None or measure is None:
            continue
        count += 1
        if note.find("chord") is not None or note.find("grace") is not None:
            measure.remove(note)
            continue
        note.replace(unpitched, etree.Element("rest"))
        for child in list(note):
            if child.tag in ("tie", "stem", "notehead", "beam", "notations", "lyric", "instrument"):
                note.remove(child)
    return [(UNPITCHED, {"count": count})] if count else []
