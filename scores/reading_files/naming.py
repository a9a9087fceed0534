"""An id for every note: the file's own where it is fit for use, else one made from the note's place."""

from __future__ import annotations

import re

from lxml import etree

# A stricter form of XML's names, safe in HTML, SVG and CSS selectors alike.
FIT = re.compile(r"[A-Za-z_][\w.-]{0,79}", re.ASCII)
# Elements whose ids are referred to from elsewhere in the file.
PART, INSTRUMENTS = ("score-part", "part"), ("score-instrument", "midi-instrument", "midi-device", "instrument")


def is_fit(name: str | None) -> bool:
    return bool(name and FIT.fullmatch(name))


def name_notes(root: etree._Element) -> None:
    """Gives every <note> an id that no other element has. The same file always gets the same ids."""
    taken = tidy_other_ids(root)
    notes = list(root.iterfind("part/measure/note"))
    nameless = []
    for note in notes:
        name = note.get("id")
        if is_fit(name) and name not in taken:
            taken.add(str(name))
        else:
            nameless.append(note)
    wanted = set(map(id, nameless))
    for bar, measure in enumerate(root.iterfind("part/measure"), start=1):
        for place, note in enumerate(measure.iterfind("note"), start=1):
            if id(note) in wanted:
                note.set("id", free_name(f"m{bar}-n{place}", taken))


def free_name(name: str, taken: set[str]) -> str:
    """`name`, or "name-2" and so on where it is taken; it is taken afterwards."""
    found, count = name, 1
    while found in taken:
        # After a few attempts by larger steps, so that thousands of one name are no long search.
        count += 1 if count < 9 else len(taken)
        found = f"{name}-{count}"
    taken.add(found)
    return found


def tidy_other_ids(root: etree._Element) -> set[str]:
    """Takes unfit and repeated ids off everything but notes; parts and instruments, which are referred to, get new
    ones. Returns the ids that remain."""
    taken: set[str] = set()
    renamed: dict[tuple[bool, str], str] = {}
    for element in root.iter(*PART, *INSTRUMENTS):
        old, is_part = element.get("id"), element.tag in PART
        if old is None:
            continue
        if (is_part, old) not in renamed:
            new = old if is_fit(old) and old not in taken else "P1" if is_part else "I1"
            renamed[is_part, old] = free_name(new, taken)
        element.set("id", renamed[is_part, old])
    for element in root.iter(etree.Element):
        own = element.get("id")
        if own is None or element.tag in ("note", *PART, *INSTRUMENTS):
            continue
        if is_fit(own) and own not in taken:
            taken.add(own)
        else:
            del element.attrib["id"]
    return taken
