"""Two parts of one staff each, made into one part of two staves."""

from __future__ import annotations

import math
from fractions import Fraction

from lxml import etree

from scores.reading_files.elements import attributes_of, number_in, one_line

# Marks that are told apart by a number within their part: those of the lower staff get numbers of their own.
NUMBERED = (
    "slur",
    "tied",
    "tuplet",
    "wedge",
    "octave-shift",
    "bracket",
    "dashes",
    "pedal",
    "glissando",
    "slide",
    "wavy-line",
    "arpeggiate",
    "non-arpeggiate",
)
APART = 8  # MusicXML counts such marks from 1 to 16
LOWER_VOICES = 4  # the lower staff's voices come after these, as is the custom in piano parts
AFTER_STAFF = ("notehead", "beam", "notations", "lyric", "play", "listen")
AFTER_STAFF_NUMBER = ("offset", "sound", "listening")


def joined(upper: etree._Element, lower: etree._Element) -> etree._Element:
    """One part: `upper` on staff 1, `lower` on staff 2, with nothing of either lost but bar lines that both have. The
    shorter part is filled with empty measures."""
    part = etree.Element("part", attributes_of(upper))
    ours, theirs = Scale(upper, lower), Scale(lower, upper)
    voices: dict[str, str] = {}
    uppers, lowers = upper.findall("measure"), lower.findall("measure")
    for place in range(max(len(uppers), len(lowers))):
        above = uppers[place] if place < len(uppers) else etree.Element("measure", attributes_of(lowers[place]))
        below = lowers[place] if place < len(lowers) else etree.Element("measure")
        if place == 0:
            declare(above)
        filled = ours.rescale(above)
        reach, length = span(above)
        mark_staff(above, "1")
        lower_filled = theirs.rescale(below)
        _, lower_length = span(below)
        if place == 0:
            add_staves(above)
        join_attributes(above, below, at_start=place == 0)
        renumber(below, voices)
        mark_staff(below, "2")
        trailing = [child for child in above if child.tag == "barline" and child.get("location", "right") == "right"]
        if filled or lower_filled:
            fold(above, below, reach, max(length, lower_length))
        for barline in trailing:
            above.append(barline)
        part.append(above)
    return part


def declare(measure: etree._Element) -> None:
    """Sees to it that the first measure says what its durations count in: 1, where the file does not."""
    attributes = measure.find("attributes")
    if attributes is None:
        attributes = etree.Element("attributes")
        measure.insert(0, attributes)
    if attributes.find("divisions") is None:
        element = etree.Element("divisions")
        element.text = "1"
        attributes.insert(0, element)


class Scale:
    """Brings one part's durations to divisions that both parts share."""

    def __init__(self, part: etree._Element, other: etree._Element) -> None:
        self.common = shared_divisions(part, other)
        self.divisions = 1

    def rescale(self, measure: etree._Element) -> bool:
        """Scales everything counted in divisions; says whether the measure has anything of a length."""
        filled = False
        for child in measure:
            if child.tag == "attributes":
                found = child.find("divisions")
                value = number_in(found.text) if found is not None else None
                if found is not None and value and value > 0 and value.denominator == 1:
                    self.divisions = int(value)
                    found.text = str(self.common)
                continue
            filled = filled or child.tag in ("note", "forward")
            for element in child.iter("duration", "offset"):
                value = number_in(element.text)
                if value is not None:
                    element.text = plain_number(value * self.common / self.divisions)
        return filled


def shared_divisions(*parts: etree._Element) -> int:
    found = 1
    for part in parts:
        for element in part.iter("divisions"):
            value = number_in(element.text)
            if value and value > 0 and value.denominator == 1:
                found = math.lcm(found, int(value))
    return min(found, 10**9)


def plain_number(value: Fraction) -> str:
    return str(value.numerator) if value.denominator == 1 else f"{float(value):.6f}".rstrip("0").rstrip(".")


def span(measure: etree._Element) -> tuple[Fraction, Fraction]:
    """Where the measure's reading ends, and how far it ever came."""
    position = furthest = Fraction(0)
    for child in measure:
        length = number_in(child.findtext("duration")) or Fraction(0)
        if child.tag == "backup":
            position = max(Fraction(0), position - length)
        elif child.tag == "forward" or (child.tag == "note" and child.find("chord") is None):
            position += length
        furthest = max(furthest, position)
    return position, furthest


def fold(above: etree._Element, below: etree._Element, reach: Fraction, length: Fraction) -> None:
    """Goes back to the start of the measure and appends the lower staff's content."""
    if reach:
        go(above, "backup", reach)
    for child in list(below):
        if child.tag not in ("barline", "print"):
            above.append(child)
    reached, _ = span(above)
    if reached < length:
        go(above, "forward", length - reached)


def go(measure: etree._Element, tag: str, length: Fraction) -> None:
    etree.SubElement(etree.SubElement(measure, tag), "duration").text = plain_number(length)


def add_staves(above: etree._Element) -> None:
    """Declares two staves, each with its clef, at the head of the first measure."""
    attributes = above.find("attributes")
    assert attributes is not None
    for old in attributes.findall("staves"):
        attributes.remove(old)
    staves = etree.Element("staves")
    staves.text = "2"
    before = [child for child in attributes if child.tag in ("footnote", "level", "divisions", "key", "time")]
    attributes.insert(len(before), staves)


def join_attributes(above: etree._Element, below: etree._Element, *, at_start: bool) -> None:
    """Numbers clefs by staff. Keys and metres stand for both staves and are kept from the upper; the lower staff's
    opening clef moves up beside the upper's."""
    for attributes in above.findall("attributes"):
        for clef in attributes.findall("clef"):
            clef.set("number", "1")
    opening = above.find("attributes")
    for place, attributes in enumerate(below.findall("attributes")):
        for clef in attributes.findall("clef"):
            clef.set("number", "2")
            if at_start and place == 0 and opening is not None and precedes_notes(attributes):
                clefs = opening.findall("clef")
                opening.insert(opening.index(clefs[-1]) + 1 if clefs else clef_place(opening), clef)
        for child in list(attributes):
            if child.tag != "clef":
                attributes.remove(child)
        if not len(attributes):
            below.remove(attributes)


def precedes_notes(attributes: etree._Element) -> bool:
    return not any(element.tag in ("note", "forward") for element in attributes.itersiblings(preceding=True))


def clef_place(attributes: etree._Element) -> int:
    earlier = ("footnote", "level", "divisions", "key", "time", "staves", "part-symbol", "instruments")
    return len([child for child in attributes if child.tag in earlier])


def renumber(measure: etree._Element, voices: dict[str, str]) -> None:
    """Voices and numbered marks of the lower staff get numbers that the upper does not use."""
    for voice in measure.iter("voice"):
        old = one_line(voice.text) or "1"
        voice.text = voices.setdefault(old, str(LOWER_VOICES + 1 + len(voices)))
    for note in measure.findall("note"):
        if note.find("voice") is None:
            voice = etree.Element("voice")
            voice.text = voices.setdefault("1", str(LOWER_VOICES + 1 + len(voices)))
            earlier = ("grace", "chord", "pitch", "rest", "unpitched", "cue", "duration", "tie", "instrument")
            note.insert(len([child for child in note if child.tag in (*earlier, "footnote", "level")]), voice)
    for mark in measure.iter(*NUMBERED):
        number = number_in(mark.get("number"))
        if number is None and mark.tag in ("tied", "arpeggiate", "non-arpeggiate"):
            continue
        mark.set("number", str(min(16, int(number or 1) + APART)))


def mark_staff(measure: etree._Element, staff: str) -> None:
    """Writes the staff on everything that may bear one, where the schema wants it."""
    for child in measure:
        later = {"note": AFTER_STAFF, "direction": AFTER_STAFF_NUMBER, "forward": (), "harmony": ("offset",)}.get(
            str(child.tag)
        )
        if later is None:
            continue
        for old in child.findall("staff"):
            child.remove(old)
        element = etree.Element("staff")
        element.text = staff
        places = [index for index, grandchild in enumerate(child) if grandchild.tag in later]
        child.insert(places[0] if places else len(child), element)
