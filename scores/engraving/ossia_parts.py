"""Ossias as parts of the score that is engraved, so that the engraver lines their notes up with both hands.

Each placement in each hand is a part of its own, under the music; the drawing lifts it to where it belongs. No part
leaves this room: what is exported has none of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from copy import deepcopy
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from math import lcm

from lxml import etree

from scores.engraving.cutting import number_in, parts_of
from scores.engraving.plan import Ossia
from scores.music.notation import SIDES, Placement, Side
from scores.music.ornaments.notated import Key, Written
from scores.music.ornaments.written import Strip

PLACEMENTS: tuple[Placement, Placement] = ("on", "before")  # from the music outwards
SIZE = 68  # percent of a full staff
FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5}
ZERO = Fraction(0)


@dataclass(frozen=True)
class Row:
    """The ossias that share a staff. `number` counts the staves of the whole score from 1."""

    side: Side
    placement: Placement
    ossias: tuple[Ossia, ...]
    number: int


@dataclass(frozen=True)
class Home:
    """Where a strip's music stands: its part, the number of its staff, and the clefs there in order of time."""

    part: etree._Element
    clefs: tuple[tuple[tuple[int, Fraction], etree._Element], ...]

    def clef_at(self, place: tuple[int, Fraction]) -> etree._Element:
        return next(clef for when, clef in reversed(self.clefs) if when <= place or when == self.clefs[0][0])


def rows_of(ossias: Sequence[Ossia], staves: int) -> tuple[Row, ...]:
    """The rows that these ossias make, under a score of so many staves."""
    found = []
    for side in SIDES:
        for placement in PLACEMENTS:
            here = tuple(one for one in ossias if one.strip.side == side and one.placement == placement)
            if here:
                found.append(Row(side, placement, here, staves + len(found) + 1))
    return tuple(found)


def staff_count(root: etree._Element) -> int:
    """How many staves the score has."""
    return sum(int(part.findtext("measure/attributes/staves") or 1) for part in parts_of(root))


def add_parts(root: etree._Element, rows: Sequence[Row], first: int) -> None:
    """Adds a part for each row under the others. `first` is the index of the tree's first measure in the edition."""
    part_list = root.find("part-list")
    if part_list is None:
        return
    measures = max(parts_of(root), key=lambda part: len(part.findall("measure")))
    for row in rows:
        name = f"ossia-{row.number}"
        etree.SubElement(etree.SubElement(part_list, "score-part", id=name), "part-name")
        root.append(part_for(root, row, name, measures.findall("measure"), first))


def part_for(
    root: etree._Element, row: Row, name: str, measures: Sequence[etree._Element], first: int
) -> etree._Element:
    part = etree.Element("part", id=name)
    strips = list(enumerate(one.strip for one in row.ossias))
    divisions = lcm(*(written.at.denominator for strip in row.ossias for written in all_written(strip.strip)))
    divisions = lcm(
        divisions, *(one.value.length.denominator for ossia in row.ossias for one in all_written(ossia.strip))
    )
    homes = [home_of(root, strip) for _, strip in strips]
    sign = None
    for position, model in enumerate(measures):
        measure = etree.SubElement(part, "measure", number=model.get("number", str(position + 1)))
        attributes = attributes_like(model, divisions, opening=position == 0)
        here = [
            (number, strip, home)
            for (number, strip), home in zip(strips, homes, strict=True)
            if any(one.measure == first + position for one in all_written(strip))
        ]
        clef = clef_for(here, first, position)
        if clef is None and position == 0:
            clef = default_clef(homes)
        if clef is not None and etree.tostring(clef) != sign:
            attributes.append(clef)
            sign = etree.tostring(clef)
        if len(attributes):
            measure.append(attributes)
        fill(measure, [(number, strip) for number, strip, _ in here], first + position, divisions)
    return part


def all_written(strip: Strip) -> Iterator[Written]:
    return (written for layer in strip.layers for written in layer)


def attributes_like(model: etree._Element, divisions: int, *, opening: bool) -> etree._Element:
    """The key and metre of a measure of the music, for a part of one staff."""
    attributes = etree.Element("attributes")
    if opening:
        etree.SubElement(attributes, "divisions").text = str(divisions)
    for tag in ("key", "time"):
        found = model.findall(f"attributes/{tag}")
        if found:
            copy = deepcopy(found[0])
            copy.attrib.pop("number", None)
            attributes.append(copy)
    if opening:
        details = etree.SubElement(attributes, "staff-details")
        etree.SubElement(details, "staff-size").text = str(SIZE)
    return attributes


def clef_for(here: Sequence[tuple[int, Strip, Home | None]], first: int, position: int) -> etree._Element | None:
    """The clef in which the strips of a measure are read: the one that is in force for the music they stand for."""
    for _, strip, home in here:
        if home is not None:
            at = min(one.at for one in all_written(strip) if one.measure == first + position)
            return plain_clef(home.clef_at((position, at)))
    return None


def default_clef(homes: Sequence[Home | None]) -> etree._Element | None:
    home = next((home for home in homes if home is not None), None)
    return None if home is None else plain_clef(home.clefs[0][1])


def plain_clef(clef: etree._Element) -> etree._Element:
    copy = deepcopy(clef)
    copy.attrib.pop("number", None)
    copy.attrib.pop("id", None)
    return copy


def home_of(root: etree._Element, strip: Strip) -> Home | None:
    """Where the written notes of a strip stand; None if the tree has none of them."""
    sources = {key.source for layer in strip.layers for one in layer for key in one.keys}
    for part in parts_of(root):
        note = next((note for note in part.iter("note") if note.get("id") in sources), None)
        if note is not None:
            return Home(part, tuple(clefs_of(part, note.findtext("staff", "1"))))
    return None


def clefs_of(part: etree._Element, staff: str) -> Iterator[tuple[tuple[int, Fraction], etree._Element]]:
    """The clefs of a staff: (measure's position, quarters from its start) and the element. Never none: a part without
    clefs was given them before."""
    divisions = Fraction(1)
    for position, measure in enumerate(part.findall("measure")):
        now = ZERO
        for element in measure:
            if element.tag == "attributes":
                divisions = number_in(element, "divisions") or divisions
                for clef in element.findall("clef"):
                    if clef.get("number", "1") == staff:
                        yield (position, now), clef
            elif element.tag in ("backup", "forward"):
                now += number_in(element, "duration") / divisions * (1 if element.tag == "forward" else -1)
            elif element.tag == "note" and element.find("chord") is None:
                now += number_in(element, "duration") / divisions


# Notes


def fill(measure: etree._Element, strips: Sequence[tuple[int, Strip]], index: int, divisions: int) -> None:
    """The values of the strips in one measure: a voice for each layer, strips of different voices apart."""
    lanes: dict[tuple[str, int], list[tuple[int, int, Strip]]] = {}
    for number, strip in strips:
        for layer, _ in enumerate(strip.layers):
            lanes.setdefault((strip.voice, layer), []).append((number, layer, strip))
    now = ZERO
    for voice, pieces in enumerate(lanes.values(), 1):
        step(measure, -now, divisions, voice)
        now = ZERO
        for number, layer, strip in pieces:
            written = [one for one in strip.layers[layer] if one.measure == index]
            if not written:
                continue
            step(measure, written[0].at - now, divisions, voice)
            if layer == 0 and strip.layers[0][0] == written[0]:
                add_early(measure, strip, number, voice)
            stem = stem_of(strip, layer)
            beams = beams_of(written, measure)
            for place, one in enumerate(written):
                name = f"{measure.getparent().get('id')}.{number}.{layer}.{index}.{place}"
                add_value(measure, one, name, voice, divisions, stem, beams[place])
            now = written[-1].at + written[-1].value.length


def step(measure: etree._Element, length: Fraction, divisions: int, voice: int) -> None:
    """Goes on without a sound, or back."""
    if length:
        element = etree.SubElement(measure, "forward" if length > 0 else "backup")
        etree.SubElement(element, "duration").text = str(abs(length) * divisions)
        if length > 0:
            etree.SubElement(element, "voice").text = str(voice)


def stem_of(strip: Strip, layer: int) -> str:
    """Stems part where layers share the staff: the higher one's upwards."""
    if len(strip.layers) == 1:
        return ""
    heights = [
        max((key.pitch.midi for one in each for key in one.keys if not key.from_before), default=0)
        for each in strip.layers
    ]
    return "up" if heights[layer] == max(heights) else "down"


def add_early(measure: etree._Element, strip: Strip, number: int, voice: int) -> None:
    """What sounds before the first measure stands there as small notes."""
    for place, keys in enumerate(strip.early):
        for head, key in enumerate(keys):
            note = etree.SubElement(measure, "note", id=f"{measure.getparent().get('id')}.{number}.e.{place}.{head}")
            etree.SubElement(note, "grace")
            if head:
                etree.SubElement(note, "chord")
            add_pitch(note, key)
            etree.SubElement(note, "voice").text = str(voice)
            etree.SubElement(note, "type").text = "16th"
            if len(strip.early) > 1:
                words = "begin" if place == 0 else "end" if place == len(strip.early) - 1 else "continue"
                etree.SubElement(note, "beam", number="1").text = words


def add_value(
    measure: etree._Element, written: Written, name: str, voice: int, divisions: int, stem: str, beam: str
) -> None:
    for head, key in enumerate(written.keys or (None,)):
        note = etree.SubElement(measure, "note", id=f"{name}.{head}")
        if head:
            etree.SubElement(note, "chord")
        if key is None:
            etree.SubElement(note, "rest")
        else:
            add_pitch(note, key)
        etree.SubElement(note, "duration").text = str(written.value.length * divisions)
        ties = [kind for kind, has in (("stop", key and key.from_before), ("start", key and key.goes_on)) if has]
        for kind in ties:
            etree.SubElement(note, "tie", type=kind)
        etree.SubElement(note, "voice").text = str(voice)
        etree.SubElement(note, "type").text = written.value.type
        for _ in range(written.value.dots):
            etree.SubElement(note, "dot")
        if written.value.tuplet:
            change = etree.SubElement(note, "time-modification")
            etree.SubElement(change, "actual-notes").text = str(written.value.tuplet.actual)
            etree.SubElement(change, "normal-notes").text = str(written.value.tuplet.normal)
        if stem and key is not None:
            etree.SubElement(note, "stem").text = stem
        if beam and not head:
            etree.SubElement(note, "beam", number="1").text = beam
        add_notations(note, ties, written if not head else None)


def add_pitch(note: etree._Element, key: Key) -> None:
    pitch = etree.SubElement(note, "pitch")
    etree.SubElement(pitch, "step").text = key.pitch.step
    if key.pitch.alter:
        etree.SubElement(pitch, "alter").text = str(key.pitch.alter)
    etree.SubElement(pitch, "octave").text = str(key.pitch.octave)


def add_notations(note: etree._Element, ties: Sequence[str], written: Written | None) -> None:
    brackets = [] if written is None else [("start", written.opens_tuplet), ("stop", written.closes_tuplet)]
    kinds = [kind for kind, has in brackets if has]
    if not ties and not kinds:
        return
    notations = etree.SubElement(note, "notations")
    for kind in ties:
        etree.SubElement(notations, "tied", type=kind)
    # A bracket around one value alone has no other end to go to.
    for kind in kinds if len(kinds) < 2 else ():
        etree.SubElement(notations, "tuplet", type=kind, number="1")


def beams_of(written: Sequence[Written], measure: etree._Element) -> list[str]:
    """For each value "begin", "continue", "end" or "": what has flags is beamed within a beat."""
    beat = beat_in(measure)
    words = [""] * len(written)

    def group_of(place: int) -> tuple[object, ...]:
        one = written[place]
        if one.value.type not in FLAGS or not one.keys:
            return ("alone", place)
        return ("beat", one.at // beat)

    for key, group in groupby(range(len(written)), key=group_of):
        places = list(group)
        if key[0] == "beat" and len(places) > 1:
            for place in places:
                words[place] = "continue"
            words[places[0]], words[places[-1]] = "begin", "end"
    return words


def beat_in(measure: etree._Element) -> Fraction:
    """The beat of a measure that is being made, in quarters: by the metre last written in its part."""
    times = [time for one in measure.getparent().iter("time") for time in [one]]
    try:
        beats, unit = int(times[-1].findtext("beats") or 4), int(times[-1].findtext("beat-type") or 4)
    except (IndexError, ValueError):
        return Fraction(1)
    compound = beats % 3 == 0 and beats > 3 and unit >= 8
    return Fraction(4 * (3 if compound else 1), max(1, unit))


def key_named(rows: Sequence[Row], name: str) -> tuple[Ossia, Key | None] | None:
    """Which ossia an element of the engraving belongs to, by its id, and which head it is (None: a rest)."""
    parts = name.split(".")
    if len(parts) < 5 or not parts[0].startswith("ossia-"):
        return None
    row = next((row for row in rows if parts[0] == f"ossia-{row.number}"), None)
    if row is None:
        return None
    ossia = row.ossias[int(parts[1])]
    if parts[2] == "e":
        return ossia, ossia.strip.early[int(parts[3])][int(parts[4])]
    layer = [one for one in ossia.strip.layers[int(parts[2])] if one.measure == int(parts[3])]
    written = layer[int(parts[4])]
    return ossia, written.keys[int(parts[5])] if written.keys else None
