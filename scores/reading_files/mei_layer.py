"""MEI layers to events: notes, chords, rests, tuplets, beams, graces (MEI 5, Common Music Notation)."""

from __future__ import annotations

import copy
import re
from dataclasses import dataclass, field
from fractions import Fraction

from lxml import etree

from scores.reading_files.draft import TYPES, Clef, Event, Finger, Head, Sign
from scores.reading_files.elements import number_in, whole_number
from scores.reading_files.naming import is_fit

Element = etree._Element
ID = "{http://www.w3.org/XML/1998/namespace}id"

DURATIONS = {"breve": Fraction(8), "long": Fraction(16)} | {str(2**power): Fraction(4, 2**power) for power in range(9)}
# data.ACCIDENTAL.WRITTEN and .GESTURAL: alteration, and the printed sign's MusicXML name.
ACCIDENTALS = {
    "s": (1, "sharp"),
    "f": (-1, "flat"),
    "n": (0, "natural"),
    "x": (2, "double-sharp"),
    "ss": (2, "sharp-sharp"),
    "ff": (-2, "flat-flat"),
    "ns": (1, "natural-sharp"),
    "nf": (-1, "natural-flat"),
    "xs": (3, "triple-sharp"),
    "ts": (3, "triple-sharp"),
    "tf": (-3, "triple-flat"),
}
ARTICULATIONS = {
    "stacc": "staccato",
    "acc": "accent",
    "ten": "tenuto",
    "marc": "strong-accent",
    "stacciss": "staccatissimo",
    "spicc": "spiccato",
    "stress": "stress",
    "unstress": "unstress",
}
SKIPPED = {"orig", "sic", "del", "abbr", "oStaff", "oLayer", "verse", "syl", "annot", "dot", "accid", "artic", "stem"}
STROKES = {"1slash": 1, "2slash": 2, "3slash": 3, "4slash": 4, "5slash": 5, "6slash": 6}


@dataclass
class Lane:
    """What holds for one staff at the moment of reading: its key, what durations and octaves default to, the
    accidentals of the measure."""

    staff: int
    fifths: int = 0
    duration: str = "4"
    octave: int = 4
    clef: Clef | None = None
    accidentals: dict[tuple[str, int], int] = field(default_factory=dict)


@dataclass
class Place:
    """Where an element came to stand."""

    bar: int
    onset: Fraction
    event: Event
    head: Head | None = None


class Layers:
    """Reads layers, one after the other, and remembers by id where each note came to stand."""

    def __init__(self, *, gestural: bool, staves: dict[str, int]) -> None:
        self.gestural = gestural  # whether the file writes sounding accidentals out
        self.staves = staves
        self.places: dict[str, Place] = {}
        self.as_written: dict[int, list[Place]] = {}  # by measure: heads of which the file gives no sounding octave
        self.beams = 0
        self.brackets = 0
        self.previous: dict[tuple[int, int], list[Event]] = {}
        self.unread: set[str] = set()
        self.spans: dict[str, tuple[int, int, str]] = {}

    def read(self, layer: Element, lane: Lane, bar: int, whole: Fraction, number: int) -> list[Event]:
        """The events of a layer. `whole` is the length of a measure in the metre that holds."""
        self.lane, self.bar, self.whole, self.onset = lane, bar, whole, Fraction(0)
        self.events: list[Event] = []
        self.factors: list[tuple[int, int]] = []
        self.beam, self.grace = 0, ""
        self.pending_clef: Clef | None = None
        self.layer_number = number
        self.children(layer)
        self.previous[lane.staff, number] = self.events
        return self.events

    def children(self, element: Element) -> None:
        for child in element:
            self.element(child)

    def element(self, element: Element) -> None:
        tag = str(element.tag)
        if tag in ("note", "chord", "rest", "space"):
            self.sound(element, tag)
        elif tag in ("mRest", "mSpace", "multiRest"):
            self.add(element, Event(length=self.whole, whole_measure=tag != "mSpace", hidden=tag == "mSpace"))
        elif tag == "mRpt" and not self.events:
            self.repeat_measure()
        elif tag == "beam":
            self.in_beam(element)
        elif tag == "tuplet":
            self.in_tuplet(element)
        elif tag == "graceGrp":
            before, self.grace = self.grace, grace_of(element) or "plain"
            self.children(element)
            self.grace = before
        elif tag in ("bTrem", "fTrem"):
            self.in_tremolo(element, tag)
        elif tag == "clef":
            self.pending_clef = clef_of(element)
        elif tag in ("app", "choice"):
            self.chosen(element)
        elif tag in ("beatRpt", "halfmRpt", "mRpt2", "multiRpt"):
            self.unread.add(tag)
        elif tag not in SKIPPED:
            self.children(element)

    def chosen(self, element: Element) -> None:
        """One reading of several: the edition's own (lem, reg, corr, expan), or the first."""
        for tag in ("lem", "reg", "corr", "expan"):
            if (found := element.find(tag)) is not None:
                return self.children(found)
        if len(element):
            self.children(element[0])
        return None

    def in_beam(self, element: Element) -> None:
        before = self.beam
        self.beams += 1
        self.beam = before or self.beams
        self.children(element)
        self.beam = before

    def in_tuplet(self, element: Element) -> None:
        actual, normal = whole_number(element.get("num"), 3), whole_number(element.get("numbase"), 2)
        if not (0 < actual < 1000 and 0 < normal < 1000):
            return self.children(element)
        start = len(self.events)
        self.factors.append((actual, normal))
        self.children(element)
        self.factors.pop()
        self.bracket([event for event in self.events[start:] if not event.grace], actual, normal)
        return None

    def bracket(self, events: list[Event], actual: int, normal: int) -> None:
        if len(events) > 1:
            number = len(self.factors) + 1
            events[0].brackets.insert(0, (number, "start", actual, normal))
            events[-1].brackets.append((number, "stop", actual, normal))

    def in_tremolo(self, element: Element, tag: str) -> None:
        start = len(self.events)
        if tag == "fTrem":
            self.factors.append((2, 1))
        self.children(element)
        if tag == "fTrem":
            self.factors.pop()
        events = [event for event in self.events[start:] if event.heads]
        unit = DURATIONS.get(element.get("unitdur", ""), Fraction(0))
        strokes = whole_number(element.get("beams"), 0) or next(
            (
                index
                for index, length in enumerate((Fraction(1, 2), Fraction(1, 4), Fraction(1, 8)), 1)
                if length == unit
            ),
            3,
        )
        kinds = ["single"] * len(events) if tag == "bTrem" else ["start", "stop"]
        for event, kind in zip(events, kinds, strict=False):
            if not any(sign.kind == "tremolo" for sign in event.signs):
                event.signs.append(Sign("tremolo", {"type": kind}, text=str(strokes)))

    def repeat_measure(self) -> None:
        events = copy.deepcopy(self.previous.get((self.lane.staff, self.layer_number), []))
        for event in events:
            event.id, event.slurs, event.brackets = "", [], event.brackets
            for head in event.heads:
                head.id, head.tie_start, head.tie_stop = "", False, False
        self.events += events
        self.onset += sum((event.length for event in events), Fraction(0))

    def sound(self, element: Element, tag: str) -> None:
        """A note, chord, rest or space."""
        grace = grace_of(element) or self.grace
        duration = element.get("dur") or next(
            (note.get("dur") for note in element.iter("note") if note.get("dur")), self.lane.duration
        )
        unit = DURATIONS.get(str(duration), Fraction(1))
        dots = min(4, max(whole_number(element.get("dots"), 0), len(element.findall("dot"))))
        span = self.spans.get(element.get(ID, ""))
        if span and tag != "space":
            self.factors.append(span[:2])
            self.span_start, self.span_end = len(self.events), span[2]
        length = unit * (2 - Fraction(1, 2**dots))
        actual = normal = 1
        for one, other in self.factors:
            actual, normal = actual * one, normal * other
        event = Event(
            length=Fraction(0) if grace else length * normal / actual,
            type=TYPES.get(unit, ""),
            dots=dots,
            tuplet=(actual, normal) if actual != normal and not grace else None,
            grace=grace,
            hidden=tag == "space",
            beam=self.beam,
            cue=element.get("cue") == "true",
            stem=element.get("stem.dir", "") if element.get("stem.dir") in ("up", "down") else "",
        )
        self.look(element, event)
        if grace and (share := number_in((element.get("grace.time") or "").rstrip("%"))) is not None:
            name = "steal-time-previous" if element.get("grace") == "unacc" else "steal-time-following"
            event.steal = (name, str(share))
        for note in [element] if tag == "note" else element.iter("note") if tag == "chord" else ():
            event.heads.append(self.head(note, event))
        self.add(element, event)
        self.end_span(element)

    def end_span(self, element: Element) -> None:
        """Closes a tupletSpan whose last note this is."""
        end = getattr(self, "span_end", "")
        if end and element.get(ID) == end and self.factors:
            actual, normal = self.factors.pop()
            self.bracket(self.events[self.span_start :], actual, normal)
            self.span_end = ""

    def look(self, element: Element, event: Event) -> None:
        """Articulation, fermata and strokes through the stem."""
        tokens = (element.get("artic") or "").split()
        for artic in element.iter("artic"):
            tokens += (artic.get("artic") or "").split()
        event.articulations = list(dict.fromkeys(ARTICULATIONS[token] for token in tokens if token in ARTICULATIONS))
        event.fermata = bool(element.get("fermata"))
        strokes = STROKES.get(element.get("stem.mod", ""))
        if strokes and not event.grace:
            event.signs.append(Sign("tremolo", {"type": "single"}, text=str(strokes)))

    def add(self, element: Element, event: Event) -> None:
        written = element.get("staff")
        event.staff = self.staves.get(written, self.lane.staff) if written else self.lane.staff
        event.clef, self.pending_clef = self.pending_clef, None
        name = element.get(ID, "")
        if name:
            self.places[name] = Place(self.bar, self.onset, event)
            if is_fit(name) and not event.heads:
                event.id = name
        for head in event.heads:
            if head.id:
                self.places[head.id] = Place(self.bar, self.onset, event, head)
                head.id = head.id if is_fit(head.id) else ""
            if not head.sounds:
                self.as_written.setdefault(self.bar, []).append(Place(self.bar, self.onset, event, head))
        self.events.append(event)
        self.onset += event.length

    def head(self, note: Element, event: Event) -> Head:
        step = (note.get("pname") or "c").upper()[:1]
        step = step if step in "CDEFGAB" else "C"
        written = whole_number(note.get("oct"), self.lane.octave)
        octave = whole_number(note.get("oct.ges"), written)
        alter, accidental = self.alteration(note, step, written)
        head = Head(step, alter, octave, id=note.get(ID, ""), accidental=accidental)
        head.sounds = note.get("oct.ges") is not None
        holder = note.getparent()
        chord = holder if holder is not None and holder.tag == "chord" else None
        tie = note.get("tie") or (chord.get("tie") if chord is not None else "") or ""
        head.tie_start, head.tie_stop = any(sign in tie for sign in "im"), any(sign in tie for sign in "mt")
        if note.get("staff"):
            head.staff = self.staves.get(note.get("staff", ""))
        if chord is not None:
            self.look_of_head(note, event)
        return head

    def look_of_head(self, note: Element, event: Event) -> None:
        for token in (note.get("artic") or "").split():
            if token in ARTICULATIONS and ARTICULATIONS[token] not in event.articulations:
                event.articulations.append(ARTICULATIONS[token])

    def alteration(self, note: Element, step: str, octave: int) -> tuple[int, str]:
        """Sounding alteration and printed accidental. A file that writes no sounding accidentals at all leaves them to
        the measure and the key."""
        signs = [note, *note.iter("accid")]
        printed = next((sign.get("accid") for sign in signs if sign.get("accid") in ACCIDENTALS), None)
        sounding = next((sign.get("accid.ges") for sign in signs if sign.get("accid.ges") in ACCIDENTALS), None)
        name = ACCIDENTALS[printed][1] if printed else ""
        place = (step, octave)
        if sounding or printed:
            alter = ACCIDENTALS[str(sounding or printed)][0]
            self.lane.accidentals[place] = alter
            return alter, name
        if place in self.lane.accidentals and not self.gestural:
            return self.lane.accidentals[place], name
        return (0 if self.gestural else in_key(step, self.lane.fifths)), name


def in_key(step: str, fifths: int) -> int:
    """How a key signature alters a step."""
    order = "FCGDAEB"
    if fifths >= 0:
        return 1 if step in order[:fifths] else 0
    return -1 if step in order[fifths:] else 0


def grace_of(element: Element) -> str:
    """An unaccented grace, or one with a stroke through its stem, is written with the stroke."""
    kind = element.get("grace")
    if kind is None:
        return ""
    return "slash" if kind == "unacc" or element.get("stem.mod") == "1slash" else "plain"


def clef_of(element: Element) -> Clef | None:
    """From a <clef> or from clef.* attributes."""
    shape = element.get("shape") or element.get("clef.shape")
    line = element.get("line") or element.get("clef.line")
    if shape not in ("G", "F", "C"):
        return None
    octaves = {"8": 1, "15": 2}.get(element.get("dis") or element.get("clef.dis") or "", 0)
    below = (element.get("dis.place") or element.get("clef.dis.place")) == "below"
    return Clef(shape, whole_number(line, {"G": 2, "F": 4}.get(shape, 3)), -octaves if below else octaves)


def fingers_in(text: str, *, substitution: bool = False, alternate: bool = False) -> list[Finger]:
    """A printed fingering: "4-5" is 4, then 5 as its substitution."""
    digits = [digit.strip() for digit in re.split(r"[-–—‿]", text.strip()[:12]) if digit.strip()]
    return [Finger(digit, place > 0 or substitution, alternate) for place, digit in enumerate(digits)]
