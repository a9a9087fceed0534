"""Accidentals that a file leaves to its reader: a note that sounds otherwise than the staff would say gets its sign.

Common practice: the key signature holds for every octave; an accidental for its own line or space to the end of the
measure; a tie carries a note over the bar line without a new sign.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from lxml import etree

from scores.engraving.cutting import number_in, parts_of

SIGNS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
SHARPS = "FCGDAEB"  # in the order in which key signatures take them
BEFORE = ("pitch", "duration", "tie", "instrument", "voice", "type", "dot")  # what an <accidental> stands after

Keys = dict[str, dict[str, int]]  # staff number ("" for all) -> step -> alteration


def supply_accidentals(root: etree._Element) -> None:
    """Adds the accidentals that are missing in the tree. Those that are there stay."""
    for part in parts_of(root):
        keys: Keys = {}
        divisions = Fraction(1)
        for measure in part.iterfind("measure"):
            divisions = number_in(measure, "attributes/divisions") or divisions
            said: dict[tuple[str, str, str], int] = {}
            for element in in_time(measure, divisions):
                if element.tag == "key":
                    staff = element.get("number", "")
                    keys = (keys if staff else {}) | {staff: alters_of(element)}
                else:
                    supply(element, keys, said)


def in_time(measure: etree._Element, divisions: Fraction) -> Iterator[etree._Element]:
    """The keys and the pitched notes of a measure, in the order in which they hold and sound. Of two voices that
    strike one key the one that bears the sign comes first: it speaks for both."""
    now, struck = Fraction(0), Fraction(0)
    found: list[tuple[Fraction, etree._Element]] = []
    for element in measure:
        if element.tag == "attributes":
            found += [(now, key) for key in element.iterfind("key")]
        elif element.tag in ("backup", "forward"):
            now += number_in(element, "duration") / divisions * (1 if element.tag == "forward" else -1)
        elif element.tag == "note":
            if element.find("chord") is None:
                struck = now
                now += number_in(element, "duration") / divisions
            if element.find("pitch") is not None:
                found.append((struck, element))
    return (element for _, element in sorted(found, key=lambda pair: (pair[0], rank(pair[1]))))


def rank(element: etree._Element) -> int:
    """Who speaks first at one moment: a key, then graces, then the notes that bear a sign."""
    if element.tag == "key":
        return 0
    if element.find("grace") is not None:
        return 1
    return 2 if element.find("accidental") is not None else 3


def alters_of(key: etree._Element) -> dict[str, int]:
    """What a key signature does to each step that it alters."""
    fifths = int(number_in(key, "fifths"))
    if key.find("key-step") is not None:
        steps = [step.text or "" for step in key.iterfind("key-step")]
        return dict(zip(steps, [int(float(alter.text or 0)) for alter in key.iterfind("key-alter")], strict=False))
    steps = SHARPS[:fifths] if fifths >= 0 else SHARPS[fifths:]
    return dict.fromkeys(steps, 1 if fifths > 0 else -1)


def supply(note: etree._Element, keys: Keys, said: dict[tuple[str, str, str], int]) -> None:
    """Gives a note its sign where one is missing; `said` is what the signs of this measure have said so far."""
    step, octave, staff = (
        note.findtext("pitch/step", ""),
        note.findtext("pitch/octave", ""),
        note.findtext("staff", "1"),
    )
    alter = number_in(note, "pitch/alter")
    place = (staff, step, octave)
    held = any(tie.get("type") == "stop" for tie in note.iterfind("tie"))
    signed = note.find("accidental") is not None
    key = keys.get(staff, keys.get("", {}))
    if not signed and (held or said.get(place, key.get(step, 0)) == alter or alter not in SIGNS):
        return
    said[place] = int(alter)
    if not signed and note.get("print-object") != "no":
        sign = etree.Element("accidental")
        sign.text = SIGNS[int(alter)]
        note.insert(max(note.index(child) for child in note if child.tag in BEFORE) + 1, sign)
