"""MEI to a draft: score and staff definitions, sections, endings, measures."""

from __future__ import annotations

from fractions import Fraction

from lxml import etree

from scores.reading_files.draft import Bar, Clef, Draft, Event, Mark
from scores.reading_files.elements import all_text, number_in, one_line, whole_number
from scores.reading_files.hands import KEYBOARD, LEFT_OUT, MANY_STAVES, NO_PIANO
from scores.reading_files.mei_layer import Element, Lane, Layers, clef_of
from scores.reading_files.mei_marks import Marks
from scores.reading_files.terms import CannotRead, Limits
from scores.reading_files.terms import marked as _
from scores.reading_files.tidying import MANY_MEASURES, NO_PARTS

SEVERAL = _("The file holds %(count)s movements; the first was taken.")
UNREAD = _("Signs for repeated beats were left out as rests; fill them in before fingering: %(signs)s.")
SKIPPED = ("orig", "sic", "abbr", "del", "ossia", "expansion")
COMMON = {"common": (4, 4), "cut": (2, 2)}
STYLES = {"dbl": "light-light", "end": "light-heavy", "dashed": "dashed", "dotted": "dotted", "invis": "none"}


def is_mei(root: Element) -> bool:
    return etree.QName(root).localname in ("mei", "music") and "score-partwise" not in str(root.tag)


def draft_of_mei(root: Element, limits: Limits) -> Draft:
    """The first movement of an MEI file. Raises `CannotRead`."""
    for element in root.iter(etree.Element):
        element.tag = etree.QName(element).localname
    movements = root.findall(".//mdiv")
    score = root.find(".//score")
    if score is None:
        raise CannotRead(NO_PARTS)
    count = sum(1 for _ in score.iter("measure"))
    if not count:
        raise CannotRead(NO_PARTS)
    if count > limits.measures:
        raise CannotRead(MANY_MEASURES, {"count": count, "limit": limits.measures})
    draft = Reader(root, score).read()
    scores = [movement for movement in movements if movement.find("score") is not None]
    if len(scores) > 1:
        draft.notices.append((SEVERAL, {"count": len(scores)}))
    return draft


class Reader:
    def __init__(self, root: Element, score: Element) -> None:
        self.root, self.score = root, score
        self.draft = Draft(*title_of(root))
        self.staves = self.choose_staves()
        self.draft.staves = len(self.staves)
        self.lanes = {staff: Lane(staff) for staff in self.staves.values()}
        gestural = any(element.get("accid.ges") for element in score.iter("note", "accid"))
        self.layers = Layers(gestural=gestural, staves=self.staves)
        self.metre, self.symbol = (4, 4), ""
        self.metres: list[tuple[int, int]] = []
        self.measures: list[Element] = []
        self.changed: set[str] = {"metre", "fifths"}
        self.clefs: dict[int, Clef] = {}
        self.bpm: Fraction | None = None
        self.repeat_next = False

    def choose_staves(self) -> dict[str, int]:
        """MEI's staff numbers that are the pianist's, to 1 and 2."""
        definitions = self.score.find(".//scoreDef")
        found = [] if definitions is None else list(definitions.iter("staffDef"))
        names = list(dict.fromkeys(element.get("n") or str(place) for place, element in enumerate(found, start=1)))
        used = list(dict.fromkeys(element.get("n") or "1" for element in self.score.iter("staff")))
        names = [name for name in names if name in used] or used
        if len(names) <= 2:
            return {name: place for place, name in enumerate(names, start=1)}
        groups = [] if definitions is None else list(definitions.iter("staffGrp"))
        braces = [group for group in groups if len(group.findall("staffDef")) == 2 and is_keyboard(group)]
        if len(braces) == 1:
            taken = [element.get("n") or "" for element in braces[0].findall("staffDef")]
            others = [label_of(element) or f"{element.get('n')}" for element in found if element.get("n") not in taken]
            label = label_of(braces[0]) or "Piano"
            self.draft.notices.append((LEFT_OUT, {"taken": label, "others": ", ".join(others)[:300]}))
            return {name: place for place, name in enumerate(taken, start=1)}
        if any(len(group.findall("staffDef")) > 2 and is_keyboard(group) for group in groups) or len(names) == 3:
            raise CannotRead(MANY_STAVES, {"part": label_of(groups[0]) if groups else "1", "count": len(names)})
        labels = [label_of(element) or str(element.get("n")) for element in found]
        raise CannotRead(NO_PIANO, {"count": len(names), "parts": ", ".join(labels)[:300]})

    def read(self) -> Draft:
        self.walk(self.score, "")
        marks = Marks(self.draft.bars, self.metres, self.layers)
        for bar, measure in enumerate(self.measures):
            marks.apply(measure, bar)
        if self.bpm and self.draft.bars and not any(mark.number for mark in self.draft.bars[0].marks):
            self.draft.bars[0].marks.append(Mark(Fraction(0), 1, "tempo", sound=self.bpm))
        if self.layers.unread:
            self.draft.notices.append((UNREAD, {"signs": ", ".join(sorted(self.layers.unread))}))
        return self.draft

    def walk(self, element: Element, ending: str) -> None:
        for child in element:
            tag = str(child.tag)
            if tag == "measure":
                self.read_measure(child, ending)
            elif tag in ("scoreDef", "staffDef", "staffGrp"):
                self.define(child)
            elif tag == "ending":
                self.walk_ending(child)
            elif tag == "choice" or tag == "app":
                chosen = next(
                    (child.find(name) for name in ("lem", "reg", "corr") if child.find(name) is not None), None
                )
                self.walk(chosen if chosen is not None else child, ending)
            elif tag not in SKIPPED:
                self.walk(child, ending)

    def walk_ending(self, element: Element) -> None:
        first = len(self.draft.bars)
        self.walk(element, element.get("n") or "1")
        bars = self.draft.bars[first:]
        number = "".join(sign for sign in (element.get("n") or "1") if sign.isdigit() or sign in ", ") or "1"
        if bars:
            bars[0].ending_start = bars[-1].ending_stop = number.strip(", ") or "1"
            bars[-1].ending_open = not (bars[-1].repeat_end or bars[-1].style)

    def define(self, element: Element) -> None:
        """A scoreDef or staffDef: keys, metres, clefs, defaults from here on."""
        lanes = list(self.lanes.values())
        if element.tag == "staffDef":
            staff = self.staves.get(element.get("n") or "1")
            if staff is None:
                return
            lanes = [self.lanes[staff]]
        self.define_metre(element)
        fifths = key_of(element)
        for lane in lanes:
            if fifths is not None and fifths != lane.fifths:
                lane.fifths = fifths
                self.changed.add("fifths")
            lane.duration = element.get("dur.default") or lane.duration
            lane.octave = whole_number(element.get("oct.default") or element.get("octave.default"), lane.octave)
        child = element.find("clef")
        clef = clef_of(child if child is not None else element)
        if clef and element.tag == "staffDef":
            self.clefs[lanes[0].staff] = clef
        self.bpm = self.bpm or number_in(element.get("midi.bpm"))
        for inner in element:
            if inner.tag in ("staffGrp", "staffDef"):
                self.define(inner)

    def define_metre(self, element: Element) -> None:
        found = element.find("meterSig")
        source, prefix = (found, "") if found is not None else (element, "meter.")
        symbol = source.get(f"{prefix}sym") or ""
        count, unit = source.get(f"{prefix}count"), whole_number(source.get(f"{prefix}unit"), 0)
        beats = sum(whole_number(part, 0) for part in (count or "").split("+"))
        metre = (beats, unit) if 0 < beats <= 128 and 0 < unit <= 256 else COMMON.get(symbol)
        if metre:
            self.metre, self.symbol = metre, symbol if symbol in COMMON else ""
            self.changed.add("metre")

    def read_measure(self, element: Element, ending: str) -> None:
        index = len(self.draft.bars)
        bar = Bar(number=element.get("n") or str(index + 1), implicit=element.get("metcon") == "false")
        if "metre" in self.changed:
            bar.metre, bar.symbol = self.metre, self.symbol
        if "fifths" in self.changed:
            bar.fifths = next(iter(self.lanes.values())).fifths
        bar.clefs, self.clefs = self.clefs, {}
        self.changed.clear()
        self.metres.append(self.metre)
        self.measures.append(element)
        self.draft.bars.append(bar)
        self.read_barlines(element, bar)
        self.layers.spans = spans_in(element)
        whole = Fraction(4 * self.metre[0], self.metre[1])
        for name, staff in self.staves.items():
            for holder in element.iterfind("staff"):
                if (holder.get("n") or "1") == name:
                    self.read_staff(holder, self.lanes[staff], bar, index, whole)
        if bar.implicit:
            fit_rests(bar)
        length = max((length_of(events) for _, events in bar.voices), default=whole)
        if index == 0 and length < whole:
            bar.implicit = True
            bar.number = element.get("n") or "0"

    def read_staff(self, holder: Element, lane: Lane, bar: Bar, index: int, whole: Fraction) -> None:
        lane.accidentals.clear()
        for place, layer in enumerate(holder.iterfind("layer"), start=1):
            voice = 4 * (lane.staff - 1) + place
            bar.voices.append((voice, self.layers.read(layer, lane, index, whole, place)))

    def read_barlines(self, element: Element, bar: Bar) -> None:
        left, right = element.get("left", ""), element.get("right", "")
        bar.repeat_start = left in ("rptstart", "rptboth") or self.repeat_next
        bar.repeat_end = right in ("rptend", "rptboth")
        self.repeat_next = right in ("rptstart", "rptboth")
        bar.style = STYLES.get(right, "")
        if left == "rptend" and len(self.draft.bars) > 1:
            self.draft.bars[-2].repeat_end = True


def length_of(events: list[Event]) -> Fraction:
    return sum((event.length for event in events), Fraction(0))


def fit_rests(bar: Bar) -> None:
    """In a measure that does not have its metre's length, a measure's rest lasts as long as the notes beside it."""
    timed = [length_of(events) for _, events in bar.voices if not any(event.whole_measure for event in events)]
    for _voice, events in bar.voices:
        for event in events:
            if event.whole_measure and timed:
                event.length = max(timed)


def spans_in(measure: Element) -> dict[str, tuple[int, int, str]]:
    """Tuplets written beside the layers: id of the first note -> actual, normal, id of the last."""
    spans = {}
    for span in measure.iterfind("tupletSpan"):
        actual, normal = whole_number(span.get("num"), 3), whole_number(span.get("numbase"), 2)
        start, end = (span.get("startid") or "").lstrip("#"), (span.get("endid") or "").lstrip("#")
        if start and end and 0 < actual < 1000 and 0 < normal < 1000:
            spans[start] = (actual, normal, end)
    return spans


def is_keyboard(group: Element) -> bool:
    return group.get("symbol") == "brace" or bool(KEYBOARD.search(label_of(group)))


def label_of(element: Element) -> str:
    child = element.find("label")
    return one_line(element.get("label") or (all_text(child) if child is not None else ""))[:60]


def key_of(element: Element) -> int | None:
    """ "3f" is three flats, "0" none; None where nothing, or no ordinary signature, is said."""
    child = element.find("keySig")
    text = (
        (child.get("sig") if child is not None else None)
        or element.get("keysig")
        or element.get("key.sig")
        or (child.get("keysig") if child is not None else None)
        or ""
    )
    count = whole_number(text.rstrip("sf"), -1)
    if text == "0":
        return 0
    if not 0 <= count <= 14 or text[-1:] not in ("s", "f"):
        return None
    return count if text.endswith("s") else -count


def title_of(root: Element) -> tuple[str, str]:
    # What came from Humdrum has its title in parts, of which the header's one line makes too much.
    work = "meiHead//work"
    paths = (f"{work}//titlePart[@type='main']", "meiHead//titleStmt/title", f"{work}/title")
    titles = (all_text(element) for path in paths for element in root.iterfind(path))
    title = next(filter(None, titles), "")
    composers = [
        all_text(element)
        for element in root.iterfind("meiHead//*")
        if element.tag == "composer" or (element.tag == "persName" and element.get("role") == "composer")
    ]
    return title[:300], ", ".join(dict.fromkeys(filter(None, composers)))[:300]
