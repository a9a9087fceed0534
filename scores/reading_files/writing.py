"""A draft written out as a MusicXML tree."""

from __future__ import annotations

import math
from fractions import Fraction

from lxml import etree

from scores.reading_files.draft import FLAGS, Bar, Clef, Draft, Event, Head, Mark, Sign

Element = etree._Element

DYNAMICS = {
    *("p", "pp", "ppp", "pppp", "f", "ff", "fff", "ffff", "mp", "mf", "sf", "sfp", "sfpp", "fp", "rf", "rfz", "sfz"),
    *("sffz", "fz", "n", "pf", "sfzp"),
}


def tree_of(draft: Draft) -> Element:
    """The draft as score-partwise with one part."""
    root = etree.Element("score-partwise", version="4.0")
    if draft.title:
        add(add(root, "work"), "work-title", draft.title)
    if draft.composer:
        add(add(root, "identification"), "creator", draft.composer, type="composer")
    entry = add(add(root, "part-list"), "score-part", id="P1")
    add(entry, "part-name", "Piano")
    part = add(root, "part", id="P1")
    writer = Writer(draft)
    for place, bar in enumerate(draft.bars):
        writer.write_bar(part, bar, first=place == 0)
    return root


def add(parent: Element, tag: str, text: str | int | None = None, **attributes: str) -> Element:
    element = etree.SubElement(parent, tag, attributes)
    if text is not None:
        element.text = clean(str(text))
    return element


def clean(text: str) -> str:
    """Without the control characters that XML does not allow."""
    return "".join(letter for letter in text if letter >= " " or letter in "\t\n")


class Writer:
    def __init__(self, draft: Draft) -> None:
        self.staves = draft.staves
        self.divisions = divisions_for(draft)
        self.slurs: dict[int, int] = {}

    def ticks(self, length: Fraction) -> int:
        return round(length * self.divisions)

    def write_bar(self, part: Element, bar: Bar, *, first: bool) -> None:
        measure = add(part, "measure", number=bar.number)
        if bar.implicit:
            measure.set("implicit", "yes")
        if bar.repeat_start or bar.ending_start:
            barline = add(measure, "barline", location="left")
            if bar.ending_start:
                add(barline, "ending", number=bar.ending_start, type="start")
            if bar.repeat_start:
                add(barline, "repeat", direction="forward")
        self.write_attributes(measure, bar, first=first)
        self.write_voices(measure, bar)
        if bar.repeat_end or bar.ending_stop or bar.style:
            self.write_right_barline(measure, bar)

    def write_right_barline(self, measure: Element, bar: Bar) -> None:
        barline = add(measure, "barline", location="right")
        style = "light-heavy" if bar.repeat_end else bar.style
        if style:
            add(barline, "bar-style", style)
        if bar.ending_stop:
            add(barline, "ending", number=bar.ending_stop, type="discontinue" if bar.ending_open else "stop")
        if bar.repeat_end:
            add(barline, "repeat", direction="backward")

    def write_attributes(self, measure: Element, bar: Bar, *, first: bool) -> None:
        if not (first or bar.metre or bar.symbol or bar.fifths is not None or bar.clefs):
            return
        attributes = add(measure, "attributes")
        if first:
            add(attributes, "divisions", self.divisions)
        if bar.fifths is not None:
            add(add(attributes, "key"), "fifths", bar.fifths)
        if bar.symbol == "none":
            add(add(attributes, "time"), "senza-misura")
        elif bar.metre:
            time = add(attributes, "time", **({"symbol": bar.symbol} if bar.symbol else {}))
            add(time, "beats", bar.metre[0])
            add(time, "beat-type", bar.metre[1])
        if first and self.staves > 1:
            add(attributes, "staves", self.staves)
        for staff, clef in sorted(bar.clefs.items()):
            self.write_clef(attributes, staff, clef)

    def write_clef(self, attributes: Element, staff: int, clef: Clef) -> None:
        element = add(attributes, "clef", **({"number": str(staff)} if self.staves > 1 else {}))
        add(element, "sign", clef.sign)
        add(element, "line", clef.line)
        if clef.octaves:
            add(element, "clef-octave-change", clef.octaves)

    def write_voices(self, measure: Element, bar: Bar) -> None:
        marks = sorted(bar.marks, key=lambda mark: mark.onset)
        position = 0
        for number, events in bar.voices:
            if position:
                add(add(measure, "backup"), "duration", position)
            position = self.write_voice(measure, number, events, marks)
        for mark in marks:  # Those that no note was found for.
            self.write_mark(measure, mark, position)

    def write_voice(self, measure: Element, voice: int, events: list[Event], marks: list[Mark]) -> int:
        """Writes one voice from the start of the measure, and on the way the marks of its staff; returns its end."""
        onset, position = Fraction(0), 0
        beams = beams_of(events)
        home = next((event.staff for event in events), 1)
        for event, beam in zip(events, beams, strict=True):
            for mark in [mark for mark in marks if mark.staff == home and mark.onset <= onset]:
                self.write_mark(measure, mark, position)
                marks.remove(mark)
            if event.clef:
                self.write_clef(add(measure, "attributes"), event.staff, event.clef)
            end = self.ticks(onset + event.length)
            duration = end - position
            if event.hidden:
                if duration:
                    forward = add(measure, "forward")
                    add(forward, "duration", duration)
                    add(forward, "voice", voice)
            else:
                self.write_event(measure, event, voice, duration, beam)
            if not event.grace:
                onset, position = onset + event.length, end
        return position

    def write_event(self, measure: Element, event: Event, voice: int, duration: int, beam: list[str]) -> None:
        for place, head in enumerate(event.heads or [None]):
            note = add(measure, "note")
            name = head.id if head else event.id
            if name:
                note.set("id", name)
            if event.grace:
                grace = add(note, "grace", **({"slash": "yes"} if event.grace == "slash" else {}))
                if event.steal:
                    grace.set(*event.steal)
            if event.cue:
                add(note, "cue")
            if place:
                add(note, "chord")
            self.write_pitch(note, event, head)
            if not event.grace:
                add(note, "duration", duration)
            if head:
                for tie in ties_of(head):
                    add(note, "tie", type=tie)
            add(note, "voice", voice)
            self.write_look(note, event, head, beam if place == 0 else [])
            self.write_notations(note, event, head, leading=place == 0)

    def write_pitch(self, note: Element, event: Event, head: Head | None) -> None:
        if head is None:
            add(note, "rest", **({"measure": "yes"} if event.whole_measure else {}))
            return
        pitch = add(note, "pitch")
        add(pitch, "step", head.step)
        if head.alter:
            add(pitch, "alter", head.alter)
        add(pitch, "octave", head.octave)

    def write_look(self, note: Element, event: Event, head: Head | None, beam: list[str]) -> None:
        if event.type:
            add(note, "type", event.type)
        for _ in range(event.dots):
            add(note, "dot")
        if head and head.accidental:
            add(note, "accidental", head.accidental)
        if event.tuplet:
            modification = add(note, "time-modification")
            add(modification, "actual-notes", event.tuplet[0])
            add(modification, "normal-notes", event.tuplet[1])
        if event.stem and head:
            add(note, "stem", event.stem)
        if self.staves > 1:
            add(note, "staff", head.staff if head and head.staff else event.staff)
        for level, mark in enumerate(beam, start=1):
            if mark:
                add(note, "beam", mark, number=str(level))

    def write_notations(self, note: Element, event: Event, head: Head | None, *, leading: bool) -> None:
        notations = etree.Element("notations")
        for tie in ties_of(head) if head else ():
            add(notations, "tied", type=tie)
        if leading:
            for key, kind in event.slurs:
                add(notations, "slur", type=kind, number=self.slur_number(key, kind))
            for number, kind, actual, normal in event.brackets:
                tuplet = add(notations, "tuplet", type=kind, number=str(number))
                if kind == "start":
                    add(add(tuplet, "tuplet-actual"), "tuplet-number", actual)
                    add(add(tuplet, "tuplet-normal"), "tuplet-number", normal)
            if event.signs:
                ornaments = add(notations, "ornaments")
                for sign in event.signs:
                    write_sign(ornaments, sign)
        if head and head.fingers:
            technical = add(notations, "technical")
            for finger in head.fingers:
                element = add(technical, "fingering", finger.text)
                for name in ("substitution", "alternate"):
                    if getattr(finger, name):
                        element.set(name, "yes")
        if leading and event.articulations:
            articulations = add(notations, "articulations")
            for name in event.articulations:
                add(articulations, name)
        if leading and event.fermata:
            add(notations, "fermata")
        if head and event.arpeggio:
            kind, options = event.arpeggio
            add(notations, kind, **options)
        if len(notations):
            note.append(notations)

    def slur_number(self, key: int, kind: str) -> str:
        """The lowest number that no open slur has; a slur keeps its own until it ends."""
        if key in self.slurs:
            return str(self.slurs.pop(key) if kind == "stop" else self.slurs[key])
        free = next((number for number in range(1, 17) if number not in self.slurs.values()), 16)
        self.slurs[key] = free
        return str(free)

    def write_mark(self, measure: Element, mark: Mark, position: int) -> None:
        direction = etree.Element("direction", {"placement": mark.place} if mark.place in ("above", "below") else {})
        if mark.kind == "tempo" and mark.text:
            add(add(direction, "direction-type"), "words", mark.text)
        if mark.number:
            metronome = add(add(direction, "direction-type"), "metronome")
            add(metronome, "beat-unit", mark.unit or "quarter")
            for _ in range(mark.dots):
                add(metronome, "beat-unit-dot")
            add(metronome, "per-minute", mark.number)
        elif mark.kind == "dynamics" and mark.text in DYNAMICS:
            add(add(add(direction, "direction-type"), "dynamics"), mark.text)
        elif mark.kind in ("words", "dynamics") and mark.text:
            add(add(direction, "direction-type"), "words", mark.text)
        elif mark.kind in ("wedge", "pedal"):
            add(add(direction, "direction-type"), mark.kind, type=mark.text)
        if not len(direction) and mark.sound is not None:
            add(measure, "sound", tempo=decimal(mark.sound))
            return
        if not len(direction):
            return
        offset = self.ticks(mark.onset) - position
        if offset:
            add(direction, "offset", offset)
        if self.staves > 1:
            add(direction, "staff", mark.staff)
        if mark.sound is not None:
            add(direction, "sound", tempo=decimal(mark.sound))
        measure.append(direction)


def divisions_for(draft: Draft) -> int:
    """The fewest divisions of a quarter in which all lengths are whole, up to a bound that keeps numbers short."""
    lengths = {event.length for bar in draft.bars for _, events in bar.voices for event in events}
    lengths |= {mark.onset for bar in draft.bars for mark in bar.marks}
    found = 1
    for length in sorted(lengths):
        wider = math.lcm(found, length.denominator)
        found = wider if wider <= 2_000_000 else found
    return found


def ties_of(head: Head) -> list[str]:
    return ["stop"] * head.tie_stop + ["start"] * head.tie_start


def write_sign(ornaments: Element, sign: Sign) -> None:
    add(ornaments, sign.kind, sign.text or None, **sign.options)
    for place, name in sign.accidentals:
        add(ornaments, "accidental-mark", name, **({"placement": place} if place else {}))


def beams_of(events: list[Event]) -> list[list[str]]:
    """The <beam> values of each event, by level. Graces have beams of their own and do not break the main ones."""
    found: list[list[str]] = [[] for _ in events]
    groups: dict[tuple[int, bool], list[int]] = {}
    for place, event in enumerate(events):
        if event.beam and event.heads and event.type in FLAGS:
            groups.setdefault((event.beam, bool(event.grace)), []).append(place)
    for places in groups.values():
        if len(places) < 2:
            continue
        flags = [FLAGS[events[place].type] for place in places]
        for at, place in enumerate(places):
            found[place] = [beam_at(flags, at, level) for level in range(1, flags[at] + 1)]
    return found


def beam_at(flags: list[int], at: int, level: int) -> str:
    before = at > 0 and flags[at - 1] >= level
    after = at + 1 < len(flags) and flags[at + 1] >= level
    if before and after:
        return "continue"
    if before or after:
        return "end" if before else "begin"
    return "backward hook" if at > 0 else "forward hook"


def decimal(value: Fraction) -> str:
    return str(value.numerator) if value.denominator == 1 else f"{float(value):.6f}".rstrip("0").rstrip(".")
