"""Canonical MusicXML to `notation.Score`: one walk over the tree, nothing else."""

from __future__ import annotations

from fractions import Fraction
from typing import Any, NamedTuple

from lxml import etree

from scores.music.notation import (
    Change,
    Grace,
    Measure,
    Note,
    Rest,
    Score,
    Tempo,
    Words,
    reading_order,
)
from scores.reading_files.elements import (
    UNITS,
    common_divisions,
    free_metre,
    jumps_in,
    marks_on,
    metre_in,
    metronome_in,
    number_in,
    one_line,
    pitch_in,
    sides_of_staves,
    text_in,
    title_and_composer,
    tuplet_in,
    whole_number,
)

FASTEST = 1000  # quarters a minute; what is written beyond is a slip
MOST_LETTERS = 120  # of the words at one place
MOST_TIMES = 20  # that a repeat is played; what is written beyond is a slip


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
        self.words: list[tuple[int, str]] = []
        self.changes: list[Change] = []
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
            words=tuple(Words(self.quarters(at), text) for at, text in sorted(dict.fromkeys(self.words))),
            changes=tuple(self.changes),
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
        marks: dict[str, Any] = {"start": False, "end": False, "ending": self.ending, "times": 2, "signs": set()}
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
                before = (self.beats, self.beat_type, self.fifths, self.has_metre)
                self.read_attributes(child)
                if self.position == 0:
                    frame = (self.beats, self.beat_type, self.fifths, self.has_metre)
                else:
                    self.note_changes(before)
            elif tag == "barline":
                self.read_barline(child, marks)
            elif tag in ("direction", "sound"):
                self.read_tempo(child)
                self.read_words(child)
                marks["signs"].update(jumps_in(child))
        self.close_measure(index, measure, frame, marks)

    def close_measure(
        self, index: int, measure: etree._Element, frame: tuple[int, int, int, bool], marks: dict[str, Any]
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
                times=marks["times"],
                marks=tuple(sorted(marks["signs"])),
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

    def note_changes(self, before: tuple[int, int, int, bool]) -> None:
        """Keeps what changes inside a measure; its own metre and key are those that it begins with."""
        beats, beat_type, fifths, has_metre = before
        at = self.quarters(self.start + self.position)
        if has_metre and self.has_metre and (beats, beat_type) != (self.beats, self.beat_type):
            self.changes.append(Change(at, "metre", f"{beats}/{beat_type}", f"{self.beats}/{self.beat_type}"))
        if fifths != self.fifths:
            self.changes.append(Change(at, "key", str(fifths), str(self.fifths)))

    def read_barline(self, barline: etree._Element, marks: dict[str, Any]) -> None:
        for repeat in barline.iterfind("repeat"):
            marks["start" if repeat.get("direction") == "forward" else "end"] = True
            marks["times"] = min(MOST_TIMES, max(2, whole_number(repeat.get("times"), 2)))
        marks["signs"].update(child.tag for child in barline if child.tag in ("segno", "coda"))
        for ending in barline.iterfind("ending"):
            if ending.get("type") == "start":
                self.ending = ending.get("number") or "1"
                marks["ending"] = self.ending
            else:
                self.ending = ""

    def read_words(self, direction: etree._Element) -> None:
        """The words of a direction, its pieces joined."""
        pieces = [one_line(words.text) for words in direction.iterfind("direction-type/words")]
        text = " ".join(filter(None, pieces))[:MOST_LETTERS].strip()
        if text:
            self.words.append((self.place_of(direction), text))

    def place_of(self, direction: etree._Element) -> int:
        """Where a direction stands, in ticks from the piece's start."""
        offset = direction.findtext("offset")
        return max(0, self.start + self.position + (self.in_ticks(offset) if offset else 0))

    def read_tempo(self, element: etree._Element) -> None:
        """A metronome mark, or else the tempo that stands for playing only."""
        sound = element if element.tag == "sound" else element.find("sound")
        tempo = metronome_in(element)
        written = tempo is not None
        if tempo is None and sound is not None:
            tempo = number_in(sound.get("tempo"))
        if tempo is None or not 0 < tempo <= FASTEST:
            return
        at = self.place_of(element)
        if at not in self.tempos or (written and not self.tempos[at][0]):
            self.tempos[at] = (written, tempo)
