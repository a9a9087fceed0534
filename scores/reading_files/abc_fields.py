"""ABC's information fields (ABC 2.1, section 3; section numbers from memory): keys, metres, lengths, tempos, voices."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

from scores.reading_files.draft import Clef, Mark, type_of

MAJORS = {"C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5, "F#": 6, "C#": 7} | {
    "F": -1,
    "Bb": -2,
    "Eb": -3,
    "Ab": -4,
    "Db": -5,
    "Gb": -6,
    "Cb": -7,
}
MODES = {"maj": 0, "ion": 0, "min": -3, "m": -3, "aeo": -3, "mix": -1, "dor": -2, "phr": -4, "lyd": 1, "loc": -5}
CLEFS = {
    "treble": Clef("G", 2),
    "bass": Clef("F", 4),
    "alto": Clef("C", 3),
    "tenor": Clef("C", 4),
    "treble-8": Clef("G", 2, -1),
    "treble+8": Clef("G", 2, 1),
    "bass-8": Clef("F", 4, -1),
    "bass+8": Clef("F", 4, 1),
    "G": Clef("G", 2),
    "F": Clef("F", 4),
    "C": Clef("C", 3),
}
ALTERS = {"^": 1, "_": -1, "=": 0, "^^": 2, "__": -2}


@dataclass
class Key:
    """`fifths` as printed, and the alterations that hold, which explicit accidentals (K:D =c) may change."""

    fifths: int = 0
    alters: dict[str, int] = field(default_factory=dict)
    clef: Clef | None = None


@dataclass
class Header:
    """What the fields before the music say, and what inline fields change later."""

    title: str = ""
    composer: str = ""
    metre: tuple[int, int] | None = None
    symbol: str = "none"
    unit: Fraction | None = None
    tempo: Mark | None = None
    key: Key = field(default_factory=Key)
    voices: dict[str, Clef | None] = field(default_factory=dict)
    staves: list[list[str]] = field(default_factory=list)
    everywhere: str = "octave"

    @property
    def length(self) -> Fraction:
        """The unit note length in quarters: L:, or by the metre (section 3.1.7: below 3/4 a sixteenth)."""
        if self.unit is not None:
            return self.unit
        if self.metre is None:
            return Fraction(1, 2)
        return Fraction(1, 4) if Fraction(*self.metre) < Fraction(3, 4) else Fraction(1, 2)


def key_of(text: str) -> Key:
    """ "Eb", "F#m", "D mix", "K:Em clef=bass", "HP", "none". What is not understood is C."""
    words = text.split("%")[0].split()
    key = Key(clef=clef_in(text))
    name = words[0] if words else ""
    match = re.match(r"([A-G][#b]?)(.*)", name)
    if match and name.lower() not in ("none", "clef"):
        mode = (match.group(2) or next((word for word in words[1:2] if word[:3].lower() in MODES or word == "m"), ""))[
            :3
        ]
        key.fifths = MAJORS.get(match.group(1), 0) + MODES.get(mode.lower(), 0)
        key.fifths = max(-7, min(7, key.fifths))
    order = "FCGDAEB"
    for step in order[: key.fifths] if key.fifths > 0 else order[key.fifths :] if key.fifths < 0 else "":
        key.alters[step] = 1 if key.fifths > 0 else -1
    for sign, step in re.findall(r"(?<!\S)(\^\^?|__?|=)([A-Ga-g])(?=\s|$)", text):
        key.alters[step.upper()] = ALTERS[sign]
    return key


def clef_in(text: str) -> Clef | None:
    match = re.search(r"clef\s*=\s*\"?([\w+-]+)", text) or re.search(
        r"(?<![\w=])(treble|bass|alto|tenor)([+-]8)?(?!\w)", text
    )
    if not match:
        return None
    return CLEFS.get("".join(filter(None, match.groups()))) or CLEFS.get(match.group(1).rstrip("0123456789+-"))


def metre_of(text: str) -> tuple[tuple[int, int] | None, str]:
    """ "6/8", "C", "C|", "2+3/8", each with its symbol; "none", and what is not understood, is no metre."""
    text = text.strip()
    if text.startswith("C|"):
        return (2, 2), "cut"
    if text.startswith("C"):
        return (4, 4), "common"
    match = re.match(r"\(?(\d+(?:\s*\+\s*\d+)*)\)?\s*/\s*(\d+)", text)
    if not match:
        return None, "none"
    beats, unit = sum(int(part[:6]) for part in match.group(1).split("+")), int(match.group(2)[:6])
    return ((beats, unit), "") if 0 < beats <= 128 and 0 < unit <= 128 else (None, "none")


def unit_of(text: str) -> Fraction | None:
    """ "1/8" -> half a quarter."""
    match = re.match(r"\s*(\d{1,3})(?:\s*/\s*(\d{1,3}))?", text)
    if not match or not int(match.group(2) or 1) or not int(match.group(1)):
        return None
    return Fraction(4 * int(match.group(1)), int(match.group(2) or 1))


def tempo_of(text: str, unit: Fraction) -> Mark | None:
    """ "1/4=120", "3/8=50 "Allegro"", "1/4 3/8=60" (lengths add up), or the older "120" in unit lengths."""
    words = " ".join(re.findall(r'"([^"]*)"', text))
    plain = re.sub(r'"[^"]*"', " ", text)
    # Digits after a length would be shared out between it and the next one in every way there is.
    match = re.search(r"((?:\d{1,3}/\d{1,3}(?!\d)\s*)*)(?:=\s*)?(\d{1,4}(?:\.\d{1,3})?)\s*$", plain.strip())
    mark = Mark(Fraction(0), 1, "tempo", words[:80], place="above")
    if match and float(match.group(2)):
        lengths = [Fraction(4 * int(a), int(b)) for a, b in re.findall(r"(\d+)/(\d+)", match.group(1)) if int(b)]
        beat = sum(lengths, Fraction(0)) or unit
        mark.sound = beat * Fraction(match.group(2))
        kind = type_of(beat)
        if kind:
            mark.unit, mark.dots, mark.number = *kind, match.group(2)
    return mark if words or mark.sound else None


def staves_of(text: str) -> list[list[str]]:
    """%%score {(1 2) | 3}: the voices of each staff, from the top."""
    staves: list[list[str]] = []
    group: list[str] | None = None
    for token in re.findall(r"[(){}\[\]|*]|[^\s(){}\[\]|*]+", text):
        if token == "(":
            group = []
            staves.append(group)
        elif token == ")":
            group = None
        elif token not in "{}[]|*":
            if group is None:
                staves.append([token])
            else:
                group.append(token)
    return [staff for staff in staves if staff]
