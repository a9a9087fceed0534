"""Which part is the pianist's, and which staff which hand: afterwards the tree has one part of one or two staves, the
upper the right hand's.

Decided so: a part of two staves is the piano. Two parts of one staff each are its two hands and become one part. One
part of one staff is one hand, the left where it begins with a bass clef. Beside other instruments, the part named for a
keyboard is taken. Everything else is left to the teacher, with a message that names the parts.
"""

from __future__ import annotations

import re

from lxml import etree

from scores.reading_files.elements import one_line, sides_of_staves, staves_used, whole_number
from scores.reading_files.joining import joined
from scores.reading_files.terms import CannotRead, Notice
from scores.reading_files.terms import marked as _

LEFT_OUT = _("Only the part “%(taken)s” was taken; left out: %(others)s.")
TWO_PARTS = _(
    "The file has two parts of one staff each: “%(upper)s” was taken as the right hand, “%(lower)s” as the left."
)
ONE_STAFF_RIGHT = _("The file has one staff; it was taken as the right hand.")
ONE_STAFF_LEFT = _("The file has one staff with a bass clef; it was taken as the left hand.")
MANY_STAVES = _(
    "The part “%(part)s” has notes on %(count)s staves; a pianist's part has one or two. Put the notes on two "
    "staves in the notation program, or send the two alone."
)
SEVERAL_PIANOS = _("The score has several parts for a keyboard: %(parts)s. Send it with one of them only.")
NO_PIANO = _(
    "The score has %(count)s parts and none is known as a piano: %(parts)s. Send the piano part alone, on two staves."
)

# Keyboards as their players name them, in a number of languages and usual short forms.
KEYBOARD = re.compile(
    r"piano|pno|\bpf\b|\bkl(av)?\.|klav|clav|keyb|harpsi|cembal|virginal|spinet|celesta|organ|orgel|orgue|órgano|"
    r"harmoni|teclado|tangent|zongora|flygel|fortepian|рояль|форте|клав|орган|πιάνο|פסנתר|بيانو|ピアノ|鋼琴|钢琴|피아노",
    re.IGNORECASE,
)


def pianist(root: etree._Element) -> list[Notice]:
    """Reduces the tree to the pianist's part. Raises `CannotRead` when it is not plain which that is."""
    names = part_names(root)
    parts = [part for part in root.findall("part") if next(part.iterfind("measure/note/pitch"), None) is not None]
    if not parts:
        parts = root.findall("part")
    taken = choose(parts, names)
    notices: list[Notice] = []
    if len(taken) == 2:
        part = joined(*taken)
        notices.append((TWO_PARTS, {"upper": names[taken[0]], "lower": names[taken[1]]}))
    else:
        part = taken[0]
    others = [names[part] for part in parts if part not in taken]
    if others:
        notices.append((LEFT_OUT, {"taken": names[taken[0]], "others": ", ".join(others)[:300]}))
    check_staves(part, names[taken[0]])
    if not others and not any(whole_number(element.text, 1) > 1 for element in part.iter("staves")):
        side = sides_of_staves(part)[1]
        notices.append((ONE_STAFF_LEFT if side == "left" else ONE_STAFF_RIGHT, {}))
    keep_only(root, part, taken)
    return notices


def part_names(root: etree._Element) -> dict[etree._Element, str]:
    """What each part is called on the page, or else by its instrument, or else its number."""
    listed = {element.get("id"): element for element in root.iterfind("part-list/score-part")}
    names = {}
    for place, part in enumerate(root.findall("part"), start=1):
        entry = listed.get(part.get("id"))
        found = "" if entry is None else one_line(entry.findtext("part-name"))
        if not found and entry is not None:
            found = one_line(entry.findtext("score-instrument/instrument-name"))
        names[part] = found[:60] or str(place)
    return names


def choose(parts: list[etree._Element], names: dict[etree._Element, str]) -> list[etree._Element]:
    """The pianist's part, or the two that make it."""
    if len(parts) == 1:
        return parts
    wide = [part for part in parts if staves_declared(part) > 1]
    keyboards = [part for part in parts if KEYBOARD.search(names[part])]
    if len(wide) == 1:
        return wide
    if wide:
        named = [part for part in wide if part in keyboards]
        if len(named) == 1:
            return named
        raise CannotRead(SEVERAL_PIANOS, {"parts": ", ".join(names[part] for part in named or wide)[:300]})
    if len(parts) == 2 and len(keyboards) != 1:
        return parts
    if len(keyboards) in (1, 2):
        return keyboards
    raise CannotRead(NO_PIANO, {"count": len(parts), "parts": ", ".join(names[part] for part in parts)[:300]})


def staves_declared(part: etree._Element) -> int:
    return max([whole_number(element.text, 1) for element in part.iter("staves")] + [len(staves_used(part))])


def check_staves(part: etree._Element, name: str) -> None:
    used = staves_used(part)
    if len(used) > 2:
        raise CannotRead(MANY_STAVES, {"part": name, "count": len(used)})


def keep_only(root: etree._Element, part: etree._Element, taken: list[etree._Element]) -> None:
    """Takes every other part out of the tree and out of its list."""
    place = root.index(taken[0])
    for other in root.findall("part"):
        root.remove(other)
    root.insert(min(place, len(root)), part)
    part_list = root.find("part-list")
    if part_list is None:
        part_list = etree.Element("part-list")
        root.insert(root.index(part), part_list)
    entries = part_list.findall("score-part")
    kept = next((entry for entry in entries if entry.get("id") == part.get("id")), None)
    if kept is None:
        kept = etree.Element("score-part", {"id": part.get("id") or "P1"})
        etree.SubElement(kept, "part-name").text = ""
    for child in list(part_list):
        part_list.remove(child)
    part.set("id", kept.get("id") or "P1")
    part_list.append(kept)
