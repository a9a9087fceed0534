"""One voice of an ABC tune: its music code, sign by sign, into measures of events (ABC 2.1, section 4)."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction

from scores.reading_files.abc_fields import ALTERS, Header, key_of, metre_of, tempo_of, unit_of
from scores.reading_files.abc_signs import ARTICULATIONS, DYNAMICS, ORNAMENTS, PRINTED, SHORT, WEDGES, fingers_of
from scores.reading_files.draft import Clef, Event, Head, Mark, Sign, type_of
from scores.reading_files.terms import CannotRead, Limits
from scores.reading_files.tidying import MANY_MEASURES

TOKEN = re.compile(
    r"""(?P<space>[ \t`]+|\\$)
    |(?P<comment>%.*)
    |(?P<field>\[[A-Za-z]:[^\]\n]*\])
    |(?P<bar>:*\[?\|+\]?:*(?:\[?\d[\d,-]*)?|::+(?:\[?\d[\d,-]*)?|\[\d[\d,-]*)
    |(?P<decoration>![^!\n]{1,40}!|\+[a-z0-9.()<>]{1,40}\+)
    |(?P<text>"[^"\n]*")
    |(?P<grace>\{/?[^}\n]*\})
    |(?P<tuplet>\(\d+(?::\d*){0,2})
    |(?P<chord>\[[^\]\n]*\](?:\d+)?(?:/+\d*)?)
    |(?P<note>(?:\^\^?|__?|=)?[A-Ga-g][,']*(?:\d+)?(?:/+\d*)?)
    |(?P<rest>[zxZX](?:\d+)?(?:/+\d*)?)
    |(?P<broken>>+|<+)
    |(?P<tie>-)
    |(?P<slur>[()])
    |(?P<overlay>&)
    |(?P<short>[.~HLMOPSTuv])
    |(?P<other>.)""",
    re.VERBOSE,
)
NOTE = re.compile(r"(\^\^?|__?|=)?([A-Ga-g])([,']*)(\d+)?(/+\d*)?(-?)")
LENGTH = re.compile(r"(\d+)?(/+)?(\d+)?$")


@dataclass
class VoiceBar:
    """A measure of one voice, with what its bar lines say."""

    layers: list[list[Event]] = field(default_factory=lambda: [[]])
    marks: list[Mark] = field(default_factory=list)
    metre: tuple[int, int] | None = None
    symbol: str = ""
    fifths: int | None = None
    clef: Clef | None = None
    repeat_start: bool = False
    repeat_end: bool = False
    ending: str = ""
    style: str = ""
    count: int = 1  # measures of rest

    @property
    def is_empty(self) -> bool:
        return not any(self.layers)


class Voice:
    """Reads the music of one voice, line after line, and keeps its measures in `bars`."""

    def __init__(self, header: Header, beams: list[int], limits: Limits) -> None:
        self.header, self.limits = header, limits
        self.key, self.metre, self.unit = header.key, header.metre, header.length
        self.beams = beams
        self.bars: list[VoiceBar] = [VoiceBar()]
        self.accidentals: dict[tuple[str, int], int] = {}
        self.onset = Fraction(0)
        self.last: Event | None = None
        self.before_break: Event | None = None
        self.stretch: Fraction | None = None
        self.decorations: list[str] = []
        self.open_ties: list[Head] = []
        self.slurs: list[int] = []
        self.starting_slurs: list[int] = []
        self.tuplet: tuple[int, int, int] | None = None
        self.tuplet_start = False
        self.beam_open = False
        self.unread: set[str] = set()

    @property
    def bar(self) -> VoiceBar:
        return self.bars[-1]

    def read(self, line: str) -> None:
        for match in TOKEN.finditer(line):
            kind = match.lastgroup or "other"
            reader: Callable[[str], None] = getattr(self, f"read_{kind}")
            reader(match.group())

    def read_space(self, token: str) -> None:
        if "`" not in token:
            self.beam_open = False

    def read_comment(self, token: str) -> None:
        """Remarks are not music."""

    def read_other(self, token: str) -> None:
        # Spacers, and letters to which each program gives a meaning of its own (section 4.16), are passed over.
        if token not in "\\*$;?@xy\r\n" and not re.match(r"[H-Wh-w]", token):
            self.unread.add(token)

    def read_field(self, token: str) -> None:
        self.set_field(token[1], token[3:-1])

    def set_field(self, letter: str, value: str) -> None:
        """A field within the tune: K, M, L, Q change what follows."""
        if letter == "K":
            self.key = key_of(value)
            self.bar.fifths = self.key.fifths
            self.bar.clef = self.key.clef or self.bar.clef
        elif letter == "M":
            self.metre, self.bar.symbol = metre_of(value)
            self.bar.metre = self.metre
        elif letter == "L":
            self.unit = unit_of(value) or self.unit
        elif letter == "Q":
            mark = tempo_of(value, self.unit)
            if mark:
                mark.onset = self.onset
                self.bar.marks.append(mark)

    def read_bar(self, token: str) -> None:
        """A bar line: it ends the measure, if there is anything in it."""
        ending = re.search(r"\[?(\d[\d,-]*)$", token)
        signs = token[: ending.start()] if ending else token
        starts, stops = signs.endswith(":") and signs != ":", signs.startswith(":")
        if set(signs) == {":"} and len(signs) > 1:
            starts = stops = True
        if not self.bar.is_empty:
            self.bar.repeat_end = stops
            self.bar.style = (
                "" if stops else {"||": "light-light", "|]": "light-heavy", "[|": "heavy-light"}.get(signs, "")
            )
            self.next_bar()
        elif stops and len(self.bars) > 1:
            self.bars[-2].repeat_end = True
        self.bar.repeat_start = self.bar.repeat_start or starts
        if ending:
            self.bar.ending = ending.group(1).strip(",-")

    def next_bar(self) -> None:
        if len(self.bars) > self.limits.measures:
            raise CannotRead(MANY_MEASURES, {"count": len(self.bars), "limit": self.limits.measures})
        self.bars.append(VoiceBar())
        self.accidentals.clear()
        self.onset = Fraction(0)
        self.beam_open = False

    def read_decoration(self, token: str) -> None:
        name = token[1:-1].strip()
        if name in DYNAMICS:
            self.bar.marks.append(Mark(self.onset, 1, "dynamics", name, place="below"))
        elif name in WEDGES:
            self.bar.marks.append(Mark(self.onset, 1, "wedge", WEDGES[name], place="below"))
        else:
            self.decorations.append(name)

    def read_short(self, token: str) -> None:
        self.decorations.append(SHORT[token])

    def read_text(self, token: str) -> None:
        """An annotation ("^text") is kept as words; a chord symbol is not for two hands at the piano."""
        if token[1:2] in "^_<>@" and len(token) > 3:
            place = "below" if token[1] == "_" else "above"
            self.bar.marks.append(Mark(self.onset, 1, "words", token[2:-1][:80], place=place))

    def read_grace(self, token: str) -> None:
        slash = token.startswith("{/")
        events = []
        for match in re.finditer(rf"\[([^\]]*)\]|{NOTE.pattern}|!([0-5])!", token.strip("{}/")):
            if match.group().startswith("!"):
                self.decorations.append(match.group(8))
                continue
            inside = match.group(1) or match.group()
            heads = [self.head(found) for found in NOTE.finditer(inside)]
            if heads:
                event = Event(heads=heads, grace="slash" if slash else "plain", type="eighth")
                self.decorate(event)
                events.append(event)
        if len(events) > 1:
            self.beams[0] += 1
            for event in events:
                event.type, event.beam = "16th", self.beams[0]
        self.bar.layers[-1] += events

    def read_tuplet(self, token: str) -> None:
        """(p:q:r, p notes in the time of q for the next r (section 4.13)."""
        numbers = [int(part[:3]) if part else 0 for part in token[1:].split(":")] + [0, 0]
        actual = numbers[0]
        compound = self.metre is not None and self.metre[0] % 3 == 0 and self.metre[0] > 3
        usual = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}.get(actual, 3 if compound else 2)
        normal = numbers[1] or usual
        if actual > 0:
            self.tuplet = (actual, normal, numbers[2] or actual)
            self.tuplet_start = True

    def read_broken(self, token: str) -> None:
        """a>b: the first is dotted, the second halved; a<b the other way round; a>>b double-dotted (section 4.4)."""
        if self.last is None or not self.last.heads or len(token) > 3:
            return
        short = Fraction(1, 2 ** len(token))
        first, second = (2 - short, short) if token[0] == ">" else (short, 2 - short)
        self.onset += self.last.length * (first - 1)
        self.set_length(self.last, self.last.length * first)
        self.stretch = second

    def read_tie(self, token: str) -> None:
        if self.last is not None:
            for head in self.last.heads:
                self.tie(head)

    def tie(self, head: Head) -> None:
        if not head.tie_start:
            head.tie_start = True
            self.open_ties.append(head)

    def read_slur(self, token: str) -> None:
        if token == "(":
            self.beams[0] += 1
            self.slurs.append(self.beams[0])
            self.starting_slurs.append(self.beams[0])
        elif self.slurs and self.last is not None:
            key = self.slurs.pop()
            if key not in self.starting_slurs and (key, "start") not in self.last.slurs:
                self.last.slurs.insert(0, (key, "stop"))
            elif (key, "start") in self.last.slurs:
                self.last.slurs.remove((key, "start"))
            else:
                self.starting_slurs.remove(key)

    def read_overlay(self, token: str) -> None:
        """& goes back to the start of the measure, for another voice on the staff (section 7.4)."""
        self.bar.layers.append([])
        self.onset = Fraction(0)
        self.beam_open = False

    def read_rest(self, token: str) -> None:
        if token[0] in "ZX":
            count = int(token[1:]) if token[1:].isdigit() and len(token) < 6 else 1
            length = Fraction(4 * self.metre[0], self.metre[1]) if self.metre else Fraction(4)
            for place in range(max(1, count)):
                if place:
                    self.next_bar()
                self.add(Event(length=length, whole_measure=True, hidden=token[0] == "X"))
            return
        event = Event(hidden=token[0] == "x")
        self.set_length(event, self.unit * length_of(token[1:]))
        self.time(event)

    def read_note(self, token: str) -> None:
        match = NOTE.match(token)
        assert match is not None
        event = Event(heads=[self.head(match)])
        self.set_length(event, self.unit * length_of(token[match.start(4) if match.group(4) else match.end(3) :]))
        self.time(event)

    def read_chord(self, token: str) -> None:
        inside, _, after = token[1:].rpartition("]")
        fingers: list[str] = []
        heads, lengths = [], []
        # Decorations inside a chord stand before the head they belong to.
        for match in re.finditer(rf"!([^!]*)!|{NOTE.pattern}", inside):
            if match.group().startswith("!"):
                fingers.append(match.group(1))
                continue
            head = self.head(NOTE.match(match.group()))
            for name in fingers:
                head.fingers += fingers_of(name)
            self.decorations += [name for name in fingers if not fingers_of(name)]
            fingers = []
            if match.group().endswith("-"):
                self.tie(head)
            heads.append(head)
            lengths.append(length_of((match.group(5) or "") + (match.group(6) or "")))
        if not heads:
            return
        event = Event(heads=heads)
        self.set_length(event, self.unit * lengths[0] * length_of(after))
        self.time(event)

    def head(self, match: re.Match[str] | None) -> Head:
        assert match is not None
        sign, letter, marks = match.group(1, 2, 3)
        step = letter.upper()
        octave = (5 if letter.islower() else 4) + marks.count("'") - marks.count(",")
        place = (step, octave if self.header.everywhere == "octave" else 0)
        if sign:
            alter = ALTERS[sign]
            if self.header.everywhere != "not":
                self.accidentals[place] = alter
        else:
            alter = self.accidentals.get(place, self.key.alters.get(step, 0))
        head = Head(step, alter, octave, accidental=PRINTED.get(sign or "", ""))
        if not sign:
            self.carry_tie(head)
        return head

    def carry_tie(self, head: Head) -> None:
        """A tie over the bar line carries its accidental along."""
        for tied in self.open_ties:
            if (tied.step, tied.octave) == (head.step, head.octave):
                head.alter = tied.alter

    def time(self, event: Event) -> None:
        """Adds a sounding event or rest: broken rhythm, tuplet, ties, slurs, beam, decorations."""
        if self.stretch is not None:
            self.set_length(event, event.length * self.stretch)
            self.stretch = None
        if self.tuplet:
            self.count_tuplet(event)
        for head in event.heads:
            for tied in [tied for tied in self.open_ties if not any(tied is other for other in event.heads)]:
                if (tied.step, tied.octave, tied.alter) == (head.step, head.octave, head.alter):
                    head.tie_stop = True
                    self.open_ties.remove(tied)
                    break
        if event.heads:
            # What was not taken up by the next notes is no tie.
            self.open_ties = [tied for tied in self.open_ties if any(tied is head for head in event.heads)]
            event.slurs += [(key, "start") for key in self.starting_slurs]
            self.starting_slurs = []
            self.decorate(event)
        self.join_beam(event)
        self.add(event)

    def count_tuplet(self, event: Event) -> None:
        assert self.tuplet is not None
        actual, normal, left = self.tuplet
        event.length = event.length * normal / actual
        event.tuplet = (actual, normal)
        if self.tuplet_start:
            event.brackets.append((1, "start", actual, normal))
            self.tuplet_start = False
        if left <= 1:
            event.brackets.append((1, "stop", actual, normal))
        self.tuplet = (actual, normal, left - 1) if left > 1 else None

    def join_beam(self, event: Event) -> None:
        if event.heads and event.type in ("eighth", "16th", "32nd", "64th", "128th"):
            if not self.beam_open:
                self.beams[0] += 1
            event.beam, self.beam_open = self.beams[0], True
        else:
            self.beam_open = False

    def add(self, event: Event) -> None:
        self.bar.layers[-1].append(event)
        self.onset += event.length
        self.last = event

    def set_length(self, event: Event, length: Fraction) -> None:
        """Sets the sounding length, and the head that a length outside tuplets is written with."""
        share = Fraction(event.tuplet[0], event.tuplet[1]) if event.tuplet else Fraction(1)
        event.length = length
        kind = type_of(length * share)
        event.type, event.dots = kind or ("", 0)

    def decorate(self, event: Event) -> None:
        """Gives the event what stood before it. Digits are fingers, on a chord for the heads as they are typed."""
        names, self.decorations = self.decorations, []
        heads = [head for head in event.heads if not head.fingers]
        for name in names:
            if fingers_of(name):
                head = heads.pop(0) if heads else event.heads[-1]
                head.fingers += fingers_of(name)
            elif name in ORNAMENTS:
                event.signs.append(Sign(ORNAMENTS[name]))
            elif name in ARTICULATIONS:
                event.articulations.append(ARTICULATIONS[name])
            elif name == "fermata":
                event.fermata = True
            elif name == "arpeggio":
                event.arpeggio = ("arpeggiate", {})


def length_of(text: str) -> Fraction:
    """ "3/2", "/", "//", "2": a multiple of the unit."""
    match = LENGTH.match(text.rstrip("-")[:12])
    if not match:
        return Fraction(1)
    times, slashes, divisor = match.groups()
    below = int(divisor) if divisor else 2 ** len(slashes or "")
    return Fraction(int(times or 1) or 1, below or 1)
