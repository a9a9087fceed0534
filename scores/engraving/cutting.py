"""A stretch of a MusicXML part as a score of its own: the right clef, key and metre, and nothing left hanging.

Measures are counted by their position in the part, from 0, whatever their printed numbers say.
"""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from fractions import Fraction

from lxml import etree

from scores.music.notation import Hands, Side

PARSER = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False, remove_comments=True, huge_tree=False)

ATTRIBUTE_ORDER = ("divisions", "key", "time", "staves", "part-symbol", "instruments", "clef", "transpose")
CLEFS = {True: ("G", "2"), False: ("F", "4")}  # of a part's upper staff and of those under it

# Signs that need two ends. (element, names of the types that begin, that go on, that end it)
PAIRED = {
    "slur": ("start", "continue", "stop"),
    "tied": ("start", "continue", "stop"),
    "tuplet": ("start", "", "stop"),
    "glissando": ("start", "", "stop"),
    "slide": ("start", "", "stop"),
    "wavy-line": ("start", "continue", "stop"),
    "wedge": ("crescendo diminuendo", "continue", "stop"),
    "dashes": ("start", "continue", "stop"),
    "bracket": ("start", "continue", "stop"),
    "octave-shift": ("up down", "continue", "stop"),
    "pedal": ("start sostenuto", "continue change resume discontinue", "stop"),
    "ending": ("start", "", "stop discontinue"),
}


def read(music: bytes) -> etree._Element:
    return etree.fromstring(music, PARSER)


def parts_of(root: etree._Element) -> list[etree._Element]:
    return root.findall("part")


def measure_count(root: etree._Element) -> int:
    return max((len(part.findall("measure")) for part in parts_of(root)), default=0)


def supply_attributes(root: etree._Element) -> None:
    """Gives a part that begins without divisions, staves or clefs what the engraver cannot do without: one division to
    a quarter, the staves that are used, treble above bass."""
    for part in parts_of(root):
        measure = part.find("measure")
        if measure is None:
            continue
        attributes = measure.find("attributes")
        if attributes is None:
            attributes = etree.Element("attributes")
            measure.insert(0, attributes)
        if attributes.find("divisions") is None:
            etree.SubElement(attributes, "divisions").text = "1"
        staves = staves_used(part) or ["1"]
        if len(staves) > 1 and attributes.find("staves") is None:
            etree.SubElement(attributes, "staves").text = staves[-1]
        given = {clef.get("number", "1") for clef in measure.iterfind("attributes/clef")}
        for number in staves:
            if number not in given:
                clef = etree.SubElement(attributes, "clef", number=number)
                for tag, text in zip(("sign", "line"), CLEFS[number == "1"], strict=True):
                    etree.SubElement(clef, tag).text = text
        attributes[:] = sorted(attributes, key=attribute_place)


def attribute_place(element: etree._Element) -> int:
    """Where an element stands in <attributes>, for sorting."""
    return ATTRIBUTE_ORDER.index(element.tag) if element.tag in ATTRIBUTE_ORDER else len(ATTRIBUTE_ORDER)


def cut(root: etree._Element, first: int, last: int, *, continues: bool = False) -> list[str]:
    """Leaves only the measures `first` to `last` (positions, both included) in the tree.

    Music that `continues` what the reader has before her eyes begins like any line: with clef and key, and with the
    metre only where it changes. Returns the ids of notes that are tied to one before the cut. A tie that goes on after
    it is let ring. Raises `IndexError`.
    """
    if not 0 <= first <= last < measure_count(root):
        raise IndexError(f"no measures {first} to {last}")
    held: list[str] = []
    for part in parts_of(root):
        measures = part.findall("measure")
        kept = range(first, min(last + 1, len(measures)))
        for element in parted_signs(measures, kept):
            if element.tag == "tied" and element.get("type") == "start":
                element.set("type", "let-ring")
                continue
            if element.tag == "tied" and element.get("type") == "stop":
                held.append(element.getparent().getparent().get("id", ""))
            drop(element)
        if first and kept:
            begin_with(measures[first], state_before(measures[:first]), continues)
        for position, measure in enumerate(measures):
            if position not in kept:
                part.remove(measure)
        tidy_ties(part)
    return held


def state_before(measures: list[etree._Element]) -> dict[tuple[str, str], etree._Element]:
    """The attributes in force after these measures: (element, staff number) -> the element."""
    state: dict[tuple[str, str], etree._Element] = {}
    for measure in measures:
        for attributes in measure.findall("attributes"):
            remember(attributes, state)
    return state


def remember(attributes: etree._Element, state: dict[tuple[str, str], etree._Element]) -> None:
    for element in attributes:
        if element.tag not in ATTRIBUTE_ORDER:
            continue
        number = element.get("number", "")
        if element.tag in ("key", "time", "transpose") and not number:
            for key in [key for key in state if key[0] == element.tag]:
                del state[key]
        state[element.tag, number or ("1" if element.tag == "clef" else "")] = element


def begin_with(measure: etree._Element, state: dict[tuple[str, str], etree._Element], continues: bool) -> None:
    """Puts the state at the head of the measure, joined with what the measure itself begins with. Where the music
    `continues`, a metre from before stays in force unseen."""
    leading = []
    for element in measure:
        if element.tag == "attributes":
            leading.append(element)
        elif element.tag not in ("print", "direction", "sound", "barline", "harmony"):
            break
    if continues:
        state |= {key: unseen(element) for key, element in state.items() if key[0] == "time"}
    for attributes in leading:
        remember(attributes, state)
    merged = etree.Element("attributes")
    for tag in ATTRIBUTE_ORDER:
        for key in sorted(key for key in state if key[0] == tag):
            merged.append(deepcopy(state[key]))
    for attributes in leading:
        measure.remove(attributes)
    place = 1 if len(measure) and measure[0].tag == "print" else 0
    measure.insert(place, merged)


def unseen(element: etree._Element) -> etree._Element:
    """A copy that is not to be drawn."""
    copy = deepcopy(element)
    copy.set("print-object", "no")
    return copy


def parted_signs(measures: list[etree._Element], kept: range) -> list[etree._Element]:
    """The signs with two ends of which only one lies in the kept measures, as elements in these measures."""
    open_signs: dict[tuple[str, str], list[tuple[int, etree._Element]]] = {}
    parted: list[etree._Element] = []

    def close(key: tuple[str, str]) -> None:
        group = open_signs.pop(key, [])
        inside = [element for position, element in group if position in kept]
        if len(inside) < len(group):
            parted.extend(inside)

    for position, measure in enumerate(measures):
        for element in in_order_of_ends(measure):
            begins, _, ends = PAIRED[element.tag]
            kind, key = element.get("type", ""), (element.tag, lane_of(element))
            if kind in begins.split():
                close(key)
                open_signs[key] = []
            if key in open_signs:
                open_signs[key].append((position, element))
            if kind in ends.split():
                close(key)
    return parted


def in_order_of_ends(measure: etree._Element) -> list[etree._Element]:
    """The signs with two ends in a measure; where one note has both, what ends there comes before what begins."""
    found = list(measure.iter(*PAIRED))
    place: dict[etree._Element, int] = {}
    for index, element in enumerate(found):
        place.setdefault(element.getparent(), index)

    def key(element: etree._Element) -> tuple[int, bool]:
        return place[element.getparent()], element.get("type", "") in PAIRED[element.tag][0].split()

    return sorted(found, key=key)


def lane_of(element: etree._Element) -> str:
    """What tells two signs of one name apart. A tie goes by its pitch, everything else by its number."""
    name, number = element.tag, element.get("number", "1")
    note = element.getparent()
    while note is not None and note.tag not in ("note", "direction", "barline"):
        note = note.getparent()
    if note is None or note.tag != "note":
        return number
    if name == "tied":
        return f"{pitch_of(note)} {note.findtext('voice', '1')}"
    if name in ("tuplet", "wavy-line"):
        return f"{number} {note.findtext('voice', '1')} {note.findtext('staff', '1')}"
    return number


def pitch_of(note: etree._Element) -> str:
    return "".join(note.findtext(f"pitch/{tag}", "") for tag in ("step", "alter", "octave"))


def drop(element: etree._Element) -> None:
    """Removes an element, and its parents that are left empty."""
    parent = element.getparent()
    if parent is None:
        return
    parent.remove(element)
    if len(parent) == 0 and parent.tag in ("notations", "direction-type", "direction", "ornaments", "technical"):
        drop(parent)


def tidy_ties(part: etree._Element) -> None:
    """<tie> (what sounds) says what <tied> (what is drawn) says, where the cut took one end of a tie away."""
    for note in part.iter("note"):
        drawn = {tied.get("type") for tied in note.iterfind("notations/tied")}
        for tie in note.findall("tie"):
            if tie.get("type") not in drawn:
                note.remove(tie)


def hands_of_staves(root: etree._Element) -> dict[tuple[int, str], Side]:
    """(part's position, staff number) -> the hand that plays it. Of several staves the uppermost is the right hand's;
    a single staff with a bass clef is the left hand's."""
    staves = [
        (position, staff)
        for position, part in enumerate(parts_of(root))
        for staff in sorted(
            {note.findtext("staff", "1") for note in part.iter("note") if note.find("pitch") is not None}
        )
    ]
    if len(staves) > 1:
        return {place: "left" if index else "right" for index, place in enumerate(staves)}
    sign = (root.findtext("part/measure/attributes/clef/sign") or "").strip()
    return dict.fromkeys(staves or [(0, "1")], "left" if sign == "F" else "right")


def staves_used(part: etree._Element) -> list[str]:
    """The numbers of the staves on which pitched notes stand, from top to bottom."""
    found = {note.findtext("staff", "1") for note in part.iter("note") if note.find("pitch") is not None}
    return sorted(found, key=lambda number: (len(number), number))


def keep_hands(root: etree._Element, hands: Hands, sides: Mapping[tuple[int, str], Side]) -> None:
    """Leaves the staves of one hand. A score that has only one hand's staves is left as it is."""
    kept = {place for place, side in sides.items() if side == hands}
    if hands == "both" or not kept or len(kept) == len(sides):
        return
    part_list = root.find("part-list")
    for position, part in enumerate(parts_of(root)):
        staves = sorted(staff for index, staff in kept if index == position)
        if staves:
            numbers = {staff: str(number) for number, staff in enumerate(staves, 1)}
            for measure in part.iter("measure"):
                keep_staves_of_measure(measure, numbers)
            continue
        root.remove(part)
        for entry in list(part_list) if part_list is not None else ():
            if entry.get("id") == part.get("id") or entry.tag == "part-group":
                part_list.remove(entry)


def keep_staves_of_measure(measure: etree._Element, numbers: Mapping[str, str]) -> None:
    """Leaves these staves (old number -> new number) of a part."""
    for element in list(measure):
        if element.tag == "note" and element.findtext("staff", "1") not in numbers:
            replace_by_time(element)
        elif element.tag in ("direction", "harmony") and element.findtext("staff", "1") not in numbers:
            measure.remove(element)
        elif element.tag == "attributes":
            keep_attributes(element, numbers)
    for staff in measure.iter("staff"):
        staff.text = numbers.get(staff.text or "1", "1")


def keep_attributes(attributes: etree._Element, numbers: Mapping[str, str]) -> None:
    for child in list(attributes):
        number = child.get("number")
        if child.tag == "staves":
            child.text = str(len(numbers))
        elif child.tag == "part-symbol" or ((number or child.tag == "clef") and (number or "1") not in numbers):
            attributes.remove(child)
        elif number:
            child.set("number", numbers[number])


def replace_by_time(note: etree._Element) -> None:
    """A note that goes leaves its time, so that what follows in the same voice stays where it was."""
    parent = note.getparent()
    duration = note.findtext("duration")
    if duration and note.find("chord") is None:
        forward = etree.Element("forward")
        etree.SubElement(forward, "duration").text = duration
        parent.replace(note, forward)
    else:
        parent.remove(note)


def moments_of(root: etree._Element) -> dict[str, tuple[int, Fraction, int]]:
    """When each note is struck: note id -> (measure position, quarters from its start, place among the graces)."""
    found: dict[str, tuple[int, Fraction, int]] = {}
    for part in parts_of(root):
        divisions = Fraction(1)
        for position, measure in enumerate(part.findall("measure")):
            now, struck, graces = Fraction(0), Fraction(0), 0
            for element in measure:
                if element.tag == "attributes":
                    divisions = number_in(element, "divisions") or divisions
                elif element.tag in ("backup", "forward"):
                    step = number_in(element, "duration") / divisions
                    now += step if element.tag == "forward" else -step
                elif element.tag == "note":
                    chord = element.find("chord") is not None
                    if element.find("grace") is not None:
                        graces += 0 if chord else 1
                        key = (position, now, graces)
                    else:
                        if not chord:
                            struck, graces = now, 0
                            now += number_in(element, "duration") / divisions
                        key = (position, struck, 10_000)
                    if element.get("id"):
                        found[element.get("id")] = key
    return found


def plain(root: etree._Element) -> None:
    """Takes out what belongs to another page: layout, part names, rests counted over several measures."""
    for element in list(root.iter("print", "measure-style", "credit", "defaults", "part-name", "part-abbreviation")):
        if element.tag in ("part-name", "part-abbreviation"):
            element.text = None
        else:
            drop(element)


def sides_of_notes(root: etree._Element, sides: Mapping[tuple[int, str], Side]) -> dict[str, Side]:
    """The hand of each note, by the staff on which it stands."""
    return {
        note.get("id", ""): sides.get((position, note.findtext("staff", "1")), "right")
        for position, part in enumerate(parts_of(root))
        for note in part.iter("note")
    }


def number_in(element: etree._Element, name: str) -> Fraction:
    """A number in a child element; 0 where there is none that can be read."""
    try:
        return Fraction((element.findtext(name) or "0").strip())
    except (ValueError, ZeroDivisionError):
        return Fraction(0)
