"""Canonical MusicXML to `notation.Score`: one walk over the tree, nothing else."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from functools import lru_cache
from typing import Any, NamedTuple

from lxml import etree

from scores.fingering_marks import fingers_on
from scores.music.notation import (
    SEMITONES,
    Grace,
    Measure,
    Note,
    Ornament,
    Pitch,
    Rest,
    Score,
    Side,
    Tempo,
    Tuplet,
    reading_order,
)

UNITS = {
    "long": Fraction(16),
    "breve": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4),
    "32nd": Fraction(1, 8),
    "64th": Fraction(1, 16),
    "128th": Fraction(1, 32),
}
# How a sign looks or where on the page it stands is no part of what it asks for.
LOOKS = re.compile(r"(default|relative)-[xy]$|font-|color$|id$|justify|halign|valign|bezier|\{")
FASTEST = 1000  # quarters a minute; what is written beyond is a slip


class Bar(NamedTuple):
    """What the walk of one measure keeps apart from `notation.Measure`: for the notices."""

    number: str
    length: Fraction
    nominal: Fraction
    free: bool  # without metre, or marked as not counted


def score_of(music: bytes) -> Score:
    """The notes of canonical MusicXML (as `read` gives it). Raises `lxml.etree.XMLSyntaxError` on anything else."""
    parser = etree.XMLParser(resolve_entities=False, load_dtd=False, no_network=True)
    return Walk(etree.fromstring(music, parser)).score()


class Walk:
    """One pass through a partwise tree of one part. Positions are whole ticks, `ticks` to a quarter, so that the inner
    loop adds integers; each fraction is made once."""

    def __init__(self, root: etree._Element) -> None:
        self.root = root
        part = root.find("part")
        self.part: etree._Element = part if part is not None else etree.Element("part")
        self.divisions = 1
        self.ticks = common_divisions(self.part)
        self.fractions: dict[int, Fraction] = {0: Fraction(0)}
        self.sides = sides_of_staves(self.part)
        self.beats, self.beat_type, self.fifths, self.has_metre = 4, 4, 0, True
        self.position = self.furthest = self.start = self.chord_onset = 0
        self.ending = ""
        self.graces: dict[tuple[int, str, int], int] = {}
        self.measures: list[Measure] = []
        self.bars: list[Bar] = []
        self.notes: list[Note] = []
        self.rests: list[Rest] = []
        self.tempos: dict[int, tuple[bool, Fraction]] = {}
        self.hidden = 0
        self.unreadable = ""  # the first measure with a pitch that makes no sense

    def score(self) -> Score:
        for index, measure in enumerate(self.part.iterfind("measure")):
            self.walk_measure(index, measure)
        title, composer = title_and_composer(self.root)
        return Score(
            measures=tuple(self.measures),
            notes=tuple(sorted(self.notes, key=reading_order)),
            rests=tuple(sorted(self.rests, key=lambda rest: rest.onset)),
            tempos=tuple(Tempo(self.quarters(at), tempo) for at, (_, tempo) in sorted(self.tempos.items())),
            title=title,
            composer=composer,
        )

    def quarters(self, ticks: int) -> Fraction:
        found = self.fractions.get(ticks)
        if found is None:
            found = self.fractions[ticks] = Fraction(ticks, self.ticks)
        return found

    def duration(self, element: etree._Element) -> int:
        return max(0, self.in_ticks(element.findtext("duration") or ""))

    def in_ticks(self, text: str) -> int:
        """A number of divisions, as written, in ticks; 0 for what is no number."""
        if text.isdecimal() and len(text) < 12:
            return int(text) * self.ticks // self.divisions
        number = number_in(text)
        return round(number * self.ticks / self.divisions) if number is not None else 0

    def note_ticks(self, parts: dict[str, etree._Element], element: etree._Element) -> int:
        """A note's duration; where the file has none, what its head and dots say."""
        ticks = self.in_ticks(text_in(parts, "duration") or "")
        unit = UNITS.get((text_in(parts, "type") or "").strip()) if ticks <= 0 else None
        if unit is not None:
            length = unit * (2 - Fraction(1, 2 ** min(4, len(element.findall("dot")))))
            tuplet = tuplet_in(parts.get("time-modification"))
            ticks = round(length * self.ticks * (Fraction(tuplet.normal, tuplet.actual) if tuplet else 1))
        return max(0, ticks)

    def walk_measure(self, index: int, measure: etree._Element) -> None:
        self.position = self.furthest = self.chord_onset = 0
        marks = {"start": False, "end": False, "ending": self.ending}
        frame = (self.beats, self.beat_type, self.fifths, self.has_metre)
        for child in measure:
            tag = child.tag
            if tag == "note":
                self.walk_note(index, child)
            elif tag == "backup":
                self.position = max(0, self.position - self.duration(child))
            elif tag == "forward":
                self.move(self.duration(child))
            elif tag == "attributes":
                self.read_attributes(child)
                if self.position == 0:
                    frame = (self.beats, self.beat_type, self.fifths, self.has_metre)
            elif tag == "barline":
                self.read_barline(child, marks)
            elif tag in ("direction", "sound"):
                self.read_tempo(child)
        self.close_measure(index, measure, frame, marks)

    def close_measure(
        self, index: int, measure: etree._Element, frame: tuple[int, int, int, bool], marks: dict[str, object]
    ) -> None:
        beats, beat_type, fifths, has_metre = frame
        length = self.quarters(self.furthest) if self.furthest else Fraction(4 * beats, beat_type)
        if not has_metre:
            beats, beat_type = free_metre(length)
        number = measure.get("number") or str(index + 1)
        self.measures.append(
            Measure(
                index=index,
                number=number,
                start=self.quarters(self.start),
                length=length,
                beats=beats,
                beat_type=beat_type,
                fifths=fifths,
                repeat_start=bool(marks["start"]),
                repeat_end=bool(marks["end"]),
                ending=str(marks["ending"]),
            )
        )
        free = not has_metre or measure.get("implicit") == "yes"
        self.bars.append(Bar(number, length, Fraction(4 * beats, beat_type), free))
        self.start += round(length * self.ticks)

    def move(self, ticks: int) -> None:
        self.position = max(0, self.position + ticks)
        self.furthest = max(self.furthest, self.position)

    def walk_note(self, index: int, element: etree._Element) -> None:
        parts = {child.tag: child for child in element}
        grace = parts.get("grace")
        ticks = 0 if grace is not None else self.note_ticks(parts, element)
        onset = self.chord_onset if "chord" in parts else self.position
        staff, voice = whole_number(text_in(parts, "staff"), 1), (text_in(parts, "voice") or "1").strip()
        side = self.sides.get(staff, "left")
        pitch = pitch_in(parts.get("pitch"))
        if pitch is not None and self.is_played(element, parts):
            at = self.start + onset
            self.notes.append(
                Note(
                    id=element.get("id", ""),
                    pitch=pitch,
                    onset=self.quarters(at),
                    length=self.quarters(ticks),
                    measure=index,
                    side=side,
                    staff=staff,
                    voice=voice,
                    type=(text_in(parts, "type") or "").strip(),
                    dots=sum(1 for child in element if child.tag == "dot") if "dot" in parts else 0,
                    tuplet=tuplet_in(parts.get("time-modification")),
                    grace=None if grace is None else self.read_grace(grace, (staff, voice, at), "chord" in parts),
                    **marks_on(element, parts),
                )
            )
        elif pitch is None and "pitch" in parts:
            self.unreadable = self.unreadable or str(element.xpath("string(../@number)")) or "?"
        elif "rest" in parts and ticks:
            self.rests.append(
                Rest(self.quarters(self.start + onset), self.quarters(ticks), index, side, voice),
            )
        if "chord" not in parts:
            self.chord_onset = self.position
            self.move(ticks)
        elif onset + ticks > self.furthest:
            self.furthest = onset + ticks

    def is_played(self, element: etree._Element, parts: dict[str, etree._Element]) -> bool:
        """Not a cue, which shows another's music, and not a note that is kept from the page."""
        if element.get("print-object") == "no":
            self.hidden += 1
            return False
        return "cue" not in parts

    def read_grace(self, grace: etree._Element, place: tuple[int, str, int], in_chord: bool) -> Grace:
        order = self.graces.get(place, -1)
        order = max(0, order if in_chord else order + 1)
        self.graces[place] = order
        make_time = number_in(grace.get("make-time"))
        return Grace(
            order=order,
            slash=grace.get("slash") == "yes",
            steal_previous=number_in(grace.get("steal-time-previous")),
            steal_following=number_in(grace.get("steal-time-following")),
            make_time=make_time / self.divisions if make_time is not None else None,
        )

    def read_attributes(self, attributes: etree._Element) -> None:
        divisions = number_in(attributes.findtext("divisions"))
        if divisions and divisions > 0 and divisions.denominator == 1:
            self.divisions = int(divisions)
        fifths = number_in(attributes.findtext("key/fifths"))
        if fifths is not None and fifths.denominator == 1 and abs(fifths) <= 14:
            self.fifths = int(fifths)
        time = attributes.find("time")
        if time is not None:
            self.has_metre = time.find("senza-misura") is None
            self.beats, self.beat_type = metre_in(time) or (self.beats, self.beat_type)

    def read_barline(self, barline: etree._Element, marks: dict[str, object]) -> None:
        for repeat in barline.iterfind("repeat"):
            marks["start" if repeat.get("direction") == "forward" else "end"] = True
        for ending in barline.iterfind("ending"):
            if ending.get("type") == "start":
                self.ending = ending.get("number") or "1"
                marks["ending"] = self.ending
            else:
                self.ending = ""

    def read_tempo(self, element: etree._Element) -> None:
        """A metronome mark, or else the tempo that stands for playing only."""
        sound = element if element.tag == "sound" else element.find("sound")
        tempo = metronome_in(element)
        written = tempo is not None
        if tempo is None and sound is not None:
            tempo = number_in(sound.get("tempo"))
        if tempo is None or not 0 < tempo <= FASTEST:
            return
        offset = element.findtext("offset")
        at = max(0, self.start + self.position + (self.in_ticks(offset) if offset else 0))
        if at not in self.tempos or (written and not self.tempos[at][0]):
            self.tempos[at] = (written, tempo)


# What single elements say


def common_divisions(part: etree._Element) -> int:
    """The least number of ticks to a quarter in which every duration is whole."""
    found = 1
    for element in part.iter("divisions", "beat-type"):
        value = number_in(element.text)
        if value and value > 0 and value.denominator == 1:
            found = math.lcm(found, int(value))
            if found > 10**12:  # Nothing sounds that short: a broken file. Durations are rounded then.
                return 10**6
    return found


def sides_of_staves(part: etree._Element) -> dict[int, Side]:
    """The hand of each staff: of two the upper is the right hand's; one with a bass clef is the left's."""
    used = staves_used(part)
    declared = max([whole_number(element.text, 1) for element in part.iter("staves")] or [1])
    if declared > 1 or len(used) > 1:
        upper = min(used, default=1) if declared > 2 else 1
        return {staff: "right" if staff == upper else "left" for staff in used | {1, 2}}
    sign = part.findtext("measure/attributes/clef/sign")
    return {1: "left" if (sign or "").strip() == "F" else "right"}


def staves_used(part: etree._Element) -> set[int]:
    """The staves on which pitched notes stand."""
    written = part.xpath("measure/note[pitch]/staff/text()")
    assert isinstance(written, list)
    unwritten = part.xpath("boolean(measure/note[pitch][not(staff)])")
    return {whole_number(staff, 1) for staff in set(map(str, written))} | ({1} if unwritten else set())


def pitch_in(element: etree._Element | None) -> Pitch | None:
    """A <pitch>; an alteration between two keys goes to the nearer one of the note's own side. None if unreadable."""
    if element is None:
        return None
    found = {child.tag: child.text or "" for child in element}
    return pitch_named(found.get("step", ""), found.get("alter", ""), found.get("octave", ""))


@lru_cache(maxsize=2000)
def pitch_named(step: str, alter: str, octave: str) -> Pitch | None:
    height, number = number_in(octave), number_in(alter) or Fraction(0)
    if step.strip() not in SEMITONES or height is None or height.denominator != 1 or not -1 <= height <= 10:
        return None
    return Pitch(step.strip(), int(number), int(height)) if abs(number) <= 4 else None


def marks_on(element: etree._Element, parts: dict[str, etree._Element]) -> dict[str, Any]:
    """Ties, fingering and ornaments of a note, as arguments for `Note`."""
    marks: dict[str, Any] = {}
    notations = parts.get("notations")
    if "tie" in parts:
        for tie in element.iterfind("tie"):
            marks["tie_start" if tie.get("type") == "start" else "tie_stop"] = True
    if notations is None:
        return marks
    signs: list[Ornament] = []
    for group in element.iterfind("notations"):
        for child in group:
            if child.tag == "ornaments":
                signs += ornaments_in(child)
            elif child.tag in ("arpeggiate", "non-arpeggiate"):
                signs.append(Ornament(str(child.tag), options_of(child)))
            elif child.tag == "technical" and child.find("fingering") is not None:
                marks["printed"] = fingers_on(element)
            elif child.tag == "tied" and "tie" not in parts and child.get("type") in ("start", "stop"):
                marks[f"tie_{child.get('type')}"] = True
    if signs:
        marks["ornaments"] = tuple(signs)
    return marks


def ornaments_in(group: etree._Element) -> list[Ornament]:
    """The signs of one <ornaments>. An accidental-mark belongs to the sign before it and becomes its option
    "accidental-mark-above", "-below", or plain without a place. The strokes of a tremolo are its option "marks"."""
    signs: list[Ornament] = []
    for child in group:
        if child.tag == "accidental-mark" and signs:
            place = child.get("placement")
            name = f"accidental-mark-{place}" if place in ("above", "below") else "accidental-mark"
            options = dict(signs[-1].options) | {name: (child.text or "").strip()}
            signs[-1] = Ornament(signs[-1].kind, tuple(sorted(options.items())))
        else:
            signs.append(Ornament(str(child.tag), options_of(child)))
    return signs


def options_of(element: etree._Element) -> tuple[tuple[str, str], ...]:
    options = {str(name): str(value) for name, value in element.attrib.items() if not LOOKS.match(str(name))}
    if element.tag == "tremolo" and (element.text or "").strip():
        options["marks"] = (element.text or "").strip()
    return tuple(sorted(options.items()))


def tuplet_in(element: etree._Element | None) -> Tuplet | None:
    """<time-modification>, which holds the product of tuplets within tuplets."""
    if element is None:
        return None
    actual = whole_number(element.findtext("actual-notes"), 0)
    normal = whole_number(element.findtext("normal-notes"), 0)
    return Tuplet(actual, normal) if actual > 0 and normal > 0 else None


def metre_in(time: etree._Element) -> tuple[int, int] | None:
    """Beats and beat type; "3+2" and several pairs add up. None if it says neither."""
    total, finest = Fraction(0), 1
    for beats, beat_type in zip(time.iterfind("beats"), time.iterfind("beat-type"), strict=False):
        unit = whole_number(beat_type.text, 0)
        counts = [whole_number(count, 0) for count in (beats.text or "").split("+")]
        if not 0 < unit <= 256 or not all(0 < count <= 128 for count in counts):
            return None
        total, finest = total + Fraction(sum(counts), unit), max(finest, unit)
    count = total * finest
    return (int(count), finest) if total and count.denominator == 1 else None


def free_metre(length: Fraction) -> tuple[int, int]:
    """Beats and beat type that a measure without metre turns out to have."""
    share = length / 4
    factor = 1
    while share.denominator * factor < 4:
        factor *= 2
    return share.numerator * factor, share.denominator * factor


def metronome_in(element: etree._Element) -> Fraction | None:
    """Quarters a minute of a metronome mark with a number."""
    for metronome in element.iterfind("direction-type/metronome"):
        unit = UNITS.get((metronome.findtext("beat-unit") or "").strip())
        number = re.search(r"\d+(\.\d+)?", metronome.findtext("per-minute") or "")
        if unit and number and metronome.find("beat-unit[2]") is None:
            dots = len(metronome.findall("beat-unit-dot"))
            return Fraction(number.group()) * unit * (2 - Fraction(1, 2**dots)) if dots < 5 else None
    return None


def title_and_composer(root: etree._Element) -> tuple[str, str]:
    work, movement = (one_line(root.findtext(path)) for path in ("work/work-title", "movement-title"))
    title = f"{work}: {movement}" if work and movement and movement not in work else work or movement
    creators = root.findall("identification/creator")
    composers = [creator for creator in creators if creator.get("type") == "composer"] or creators[:1]
    composer = ", ".join(filter(None, (one_line(creator.text) for creator in composers)))
    return title or printed_at_head(root, "title"), composer or printed_at_head(root, "composer")


def printed_at_head(root: etree._Element, kind: str) -> str:
    """A title or composer that only stands on the page: what is said to be one, else the largest words at the middle,
    or the right, of the first page's head."""
    heads = []
    for credit in root.iterfind("credit"):
        words = credit.find("credit-words")
        if words is None or not one_line(words.text):
            continue
        if one_line(credit.findtext("credit-type")) == kind:
            return one_line(words.text)
        place = words.get("justify") or words.get("halign")
        at_head = credit.get("page", "1") == "1" and words.get("valign") == "top" and credit.find("credit-type") is None
        if at_head and place == ("center" if kind == "title" else "right"):
            heads.append((number_in(words.get("font-size")) or Fraction(0), one_line(words.text)))
    return max(heads, key=lambda head: head[0])[1] if heads else ""


def one_line(text: str | None) -> str:
    return " ".join((text or "").split())


def attributes_of(element: etree._Element) -> dict[str, str]:
    return {str(name): str(value) for name, value in element.attrib.items()}


def all_text(element: etree._Element) -> str:
    """All the words in an element, on one line."""
    return one_line("".join(str(text) for text in element.itertext()))


def text_in(parts: dict[str, etree._Element], tag: str) -> str | None:
    element = parts.get(tag)
    return element.text if element is not None else None


def whole_number(text: str | None, otherwise: int) -> int:
    try:
        return int(text) if text and len(text) < 20 else otherwise
    except ValueError:
        return otherwise


def number_in(text: str | None) -> Fraction | None:
    """A decimal number as XML writes it; None for anything else, and for numbers too long to mean anything."""
    if text and re.fullmatch(r"\s*[+-]?\d{1,12}(\.\d{0,9})?\s*", text):
        return Fraction(text.strip())
    return None
