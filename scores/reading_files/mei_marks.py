"""What stands beside MEI's layers: ties, slurs, ornaments, fingerings, tempos, dynamics. Each finds its note by id, or
by staff and beat."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction

from lxml import etree

from scores.reading_files.draft import TYPES, Bar, Event, Head, Mark, Sign
from scores.reading_files.elements import all_text, number_in, whole_number
from scores.reading_files.mei_layer import ACCIDENTALS, DURATIONS, Layers, Place, fingers_in

Element = etree._Element
Where = tuple[int, Fraction, int]  # bar, onset in it, staff


class Marks:
    """Applies the control events of one measure after another, once all layers are read."""

    def __init__(self, bars: list[Bar], metres: list[tuple[int, int]], layers: Layers) -> None:
        self.bars, self.metres, self.layers = bars, metres, layers
        self.places, self.staves = layers.places, layers.staves
        self.slurs = 0
        self.readers: dict[str, Callable[[Element, int], None]] = {
            "tie": self.tie,
            "lv": lambda element, bar: None,
            "slur": self.slur,
            "phrase": self.slur,
            "trill": self.trill,
            "mordent": self.mordent,
            "turn": self.turn,
            "arpeg": self.arpeggio,
            "fing": self.fingering,
            "fingGrp": self.finger_group,
            "fermata": self.fermata,
            "tempo": self.tempo,
            "dynam": self.dynamics,
            "hairpin": self.hairpin,
            "dir": self.words,
            "pedal": self.pedal,
            "octave": self.octave,
        }

    def apply(self, measure: Element, bar: int) -> None:
        for element in measure:
            reader = self.readers.get(str(element.tag))
            if reader:
                reader(element, bar)

    # Finding the note

    def place(self, reference: str | None) -> Place | None:
        return self.places.get((reference or "").lstrip("#"))

    def target(self, element: Element, bar: int) -> Place | None:
        """The event that a sign belongs to: by startid, or the first one at its beat on its staff."""
        found = self.place(element.get("startid"))
        if found is not None or element.get("tstamp") is None:
            return found
        where = self.where(element, bar)
        for _, events in self.bars[bar].voices:
            onset = Fraction(0)
            for event in events:
                if event.heads and not event.grace and onset == where[1] and event.staff == where[2]:
                    return Place(bar, onset, event)
                onset += event.length
        return None

    def where(self, element: Element, bar: int) -> Where:
        staff = self.staves.get((element.get("staff") or "").split(" ")[0], 1)
        found = self.place(element.get("startid"))
        if found:
            return found.bar, found.onset, staff if element.get("staff") else found.event.staff
        return bar, self.beat(element.get("tstamp"), bar), staff

    def end(self, element: Element, bar: int) -> tuple[int, Fraction] | None:
        """Where an endid or tstamp2 ("1m+2.5": the next measure's beat 2.5) points."""
        found = self.place(element.get("endid"))
        if found:
            return found.bar, found.onset
        match = re.fullmatch(r"\s*(?:(\d{1,4})m\s*\+\s*)?(\d{1,4}(?:\.\d{1,9})?)\s*", element.get("tstamp2") or "")
        if not match:
            return None
        last = min(bar + int(match.group(1) or 0), len(self.bars) - 1)
        return last, self.beat(match.group(2), last)

    def beat(self, text: str | None, bar: int) -> Fraction:
        number = number_in(text)
        return max(Fraction(0), (number - 1) * 4 / self.metres[bar][1]) if number is not None else Fraction(0)

    # Signs on notes

    def tie(self, element: Element, bar: int) -> None:
        start, stop = self.place(element.get("startid")), self.place(element.get("endid"))
        if start:
            for head in heads_of(start):
                head.tie_start = True
        if stop:
            pitches = {(head.step, head.octave) for head in heads_of(start)} if start else None
            for head in heads_of(stop):
                if pitches is None or stop.head or (head.step, head.octave) in pitches:
                    head.tie_stop = True

    def slur(self, element: Element, bar: int) -> None:
        start, stop = self.place(element.get("startid")), self.place(element.get("endid"))
        if start and stop and start.event is not stop.event:
            self.slurs += 1
            start.event.slurs.append((self.slurs, "start"))
            stop.event.slurs.insert(0, (self.slurs, "stop"))

    def sign(self, element: Element, bar: int, kind: str, **options: str) -> None:
        place = self.target(element, bar)
        if place is None:
            return
        sign = Sign(kind, {name: value for name, value in options.items() if value})
        if element.get("place") in ("above", "below"):
            sign.options["placement"] = str(element.get("place"))
        for name, side in (("accidupper", "above"), ("accidlower", "below")):
            accidental = ACCIDENTALS.get(element.get(name, ""))
            if accidental:
                sign.accidentals.append((side, accidental[1]))
        place.event.signs.append(sign)

    def trill(self, element: Element, bar: int) -> None:
        self.sign(element, bar, "trill-mark")

    def mordent(self, element: Element, bar: int) -> None:
        """form="lower" is the sign with the stroke, which MusicXML calls mordent."""
        kind = "mordent" if element.get("form") == "lower" else "inverted-mordent"
        self.sign(element, bar, kind, long="yes" if element.get("long") == "true" else "")

    def turn(self, element: Element, bar: int) -> None:
        kind = "inverted-turn" if element.get("form") == "lower" else "turn"
        self.sign(element, bar, f"delayed-{kind}" if element.get("delayed") == "true" else kind)

    def arpeggio(self, element: Element, bar: int) -> None:
        places = [self.place(name) for name in (element.get("plist") or "").split()]
        found = [place for place in (*places, self.target(element, bar)) if place]
        order = element.get("order")
        for place in found:
            if order == "nonarp":
                place.event.arpeggio = ("non-arpeggiate", {"type": "bottom"})
            else:
                place.event.arpeggio = ("arpeggiate", {"direction": order} if order in ("up", "down") else {})

    def fermata(self, element: Element, bar: int) -> None:
        place = self.target(element, bar)
        if place:
            place.event.fermata = True

    def fingering(self, element: Element, bar: int) -> None:
        self.add_fingers(element, bar, all_text(element))

    def add_fingers(
        self, element: Element, bar: int, text: str, *, substitution: bool = False, alternate: bool = False
    ) -> None:
        place = self.target(element, bar)
        if place is None or not place.event.heads or not text:
            return
        head = place.head or next_free(place.event, substitution or alternate)
        head.fingers += fingers_in(text, substitution=substitution, alternate=alternate)

    def finger_group(self, element: Element, bar: int) -> None:
        """form="subst": one finger after another on one note; "alter": a choice of fingers; otherwise a chord's."""
        form = element.get("form", "")
        for place, child in enumerate(element.iter("fing")):
            for name in ("startid", "tstamp", "staff"):
                if child.get(name) is None and element.get(name) is not None:
                    child.set(name, str(element.get(name)))
            again = place > 0
            text = all_text(child)
            self.add_fingers(
                child, bar, text, substitution=again and form == "subst", alternate=again and form == "alter"
            )

    # Directions

    def mark(self, where: Where, kind: str, text: str = "", **more: object) -> None:
        bar, onset, staff = where
        self.bars[bar].marks.append(Mark(onset, staff, kind, text, **more))  # type: ignore[arg-type]

    def tempo(self, element: Element, bar: int) -> None:
        number = number_in(element.get("mm"))
        bpm = number_in(element.get("midi.bpm"))
        words = all_text(element)[:80]  # with "=", it is the metronome mark spelled out
        unit = TYPES.get(DURATIONS.get(element.get("mm.unit", "4"), Fraction(1)), "quarter")
        self.mark(
            self.where(element, bar),
            "tempo",
            words if not number or "=" not in words else "",
            place="above",
            unit=unit,
            dots=min(3, whole_number(element.get("mm.dots"), 0)),
            number=(element.get("mm") or "").strip() if number else "",
            sound=bpm,
        )

    def dynamics(self, element: Element, bar: int) -> None:
        self.mark(self.where(element, bar), "dynamics", all_text(element)[:40], place="below")

    def words(self, element: Element, bar: int) -> None:
        place = element.get("place") or "above"
        self.mark(self.where(element, bar), "words", all_text(element)[:80], place=place)

    def hairpin(self, element: Element, bar: int) -> None:
        end = self.end(element, bar)
        start = self.where(element, bar)
        if end and end > start[:2]:
            kind = "diminuendo" if element.get("form") == "dim" else "crescendo"
            self.mark(start, "wedge", kind, place="below")
            self.mark((*end, start[2]), "wedge", "stop", place="below")

    def octave(self, element: Element, bar: int) -> None:
        """An octave line: MEI's octaves are as written, MusicXML's as sounding. The line itself is not kept, so that
        the notes are engraved where they sound."""
        octaves = {"8": 1, "15": 2, "22": 3}.get(element.get("dis", "8"), 1)
        octaves = -octaves if element.get("dis.place") == "below" else octaves
        first, onset, staff = self.where(element, bar)
        end = self.end(element, bar) or (first, Fraction(10**6))
        for index in range(first, end[0] + 1):
            for place in self.layers.as_written.get(index, ()):
                inside = (first, onset) <= (index, place.onset) <= end
                if inside and place.head and not place.head.sounds and (place.head.staff or place.event.staff) == staff:
                    place.head.octave += octaves
                    place.head.sounds = True

    def pedal(self, element: Element, bar: int) -> None:
        kinds = {"down": "start", "up": "stop", "bounce": "change"}
        if element.get("dir") in kinds:
            self.mark(self.where(element, bar), "pedal", kinds[element.get("dir", "")], place="below")


def heads_of(place: Place) -> list[Head]:
    return [place.head] if place.head else place.event.heads


def next_free(event: Event, again: bool) -> Head:
    """The head that a fingering on a whole chord means: digits stand from the top note down, one to each head."""
    heads = sorted(event.heads, key=lambda head: (-head.octave, -"CDEFGAB".index(head.step)))
    marked = [head for head in heads if head.fingers]
    if again and marked:
        return marked[-1]
    return next((head for head in heads if not head.fingers), heads[-1])
