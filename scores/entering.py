"""A passage typed from a printed book: one hand's text or both, put together as an ABC tune."""

import re
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

KEYS = {
    "C": (0, gettext_lazy("C major / A minor")),
    "G": (1, gettext_lazy("G major / E minor, 1 sharp")),
    "D": (2, gettext_lazy("D major / B minor, 2 sharps")),
    "A": (3, gettext_lazy("A major / F♯ minor, 3 sharps")),
    "E": (4, gettext_lazy("E major / C♯ minor, 4 sharps")),
    "B": (5, gettext_lazy("B major / G♯ minor, 5 sharps")),
    "F#": (6, gettext_lazy("F♯ major / D♯ minor, 6 sharps")),
    "C#": (7, gettext_lazy("C♯ major / A♯ minor, 7 sharps")),
    "F": (-1, gettext_lazy("F major / D minor, 1 flat")),
    "Bb": (-2, gettext_lazy("B♭ major / G minor, 2 flats")),
    "Eb": (-3, gettext_lazy("E♭ major / C minor, 3 flats")),
    "Ab": (-4, gettext_lazy("A♭ major / F minor, 4 flats")),
    "Db": (-5, gettext_lazy("D♭ major / B♭ minor, 5 flats")),
    "Gb": (-6, gettext_lazy("G♭ major / E♭ minor, 6 flats")),
    "Cb": (-7, gettext_lazy("C♭ major / A♭ minor, 7 flats")),
}
METRE = re.compile(r"(C\|?|[1-9]\d?/(?:1|2|4|8|16|32))\Z")
HANDS = (("right", "1", "treble"), ("left", "2", "bass"))


@dataclass(frozen=True)
class Typed:
    """What was typed: `right` and `left` are the notes in ABC, in eighths where no length is written."""

    right: str
    left: str
    metre: str
    key: str
    title: str = ""


def lines_of(text: str) -> list[str]:
    return [line.strip() for line in text.replace("\r\n", "\n").replace("\r", "\n").split("\n")]


def compose(typed: Typed) -> str:
    """The tune as ABC: a header, then each hand as a voice of its own, the right one first."""
    voices = [(hand, voice, clef) for hand, voice, clef in HANDS if getattr(typed, hand).strip()]
    lines = ["X:1", f"T:{' '.join(typed.title.split())}", f"M:{typed.metre}", "L:1/8"]
    if len(voices) > 1:
        lines.append("%%score {1 2}")
    lines += [f"V:{voice} clef={clef}" for _hand, voice, clef in voices]
    lines.append(f"K:{typed.key}")
    for hand, voice, _clef in voices:
        lines += [f"V:{voice}", *filter(None, lines_of(getattr(typed, hand)))]
    return "\n".join(lines) + "\n"


# What an ABC line may hold (abc standard 2.1, chapter 4), so that a slip can be shown where it is. Inside a repetition
# spaces stand in one place only: in two, a chord that is never closed would be tried in every way to share them out.
LENGTH = r"\d*(?:/+\d*)?"
NOTE = rf"(?:\^\^?|__?|=)?[A-Ga-g][,']*{LENGTH}"
TOKENS = re.compile(
    rf"""
    \s+ | %.*                                   # space, remark
    | \[[A-Za-z]:[^\]]*\]                       # a field in the line
    | ![^!\s]+! | "[^"]*"                       # decoration, words
    | \{{/?\s*(?:{NOTE}\s*)+\}}                 # graces
    | \[\s*(?:(?:![^!\s]+!)*{NOTE}-?\s*)+\]{LENGTH}     # chord
    | {NOTE} | [zxZX]{LENGTH}                   # note, rest
    | \(\d(?::\d*){{0,2}} | [()]                # tuplet, slur
    | \[\d[\d,\-]* | [:|]+\]?\d* | \|\] | \[\|      # bar lines, endings
    | [-<>.~HLMOPSTuvy&`\\$*]                  # tie, dotted pairs, signs
    """,
    re.VERBOSE,
)
FIELD = re.compile(r"[A-Za-z]:|%%")
OWN_FIELDS = "XTVK"
CLOSED_BY = {"[": "]", "{": "}", "!": "!", '"': '"'}


@dataclass(frozen=True)
class Mistake:
    """`line` and `sign` count from 1."""

    line: int
    sign: int
    words: str


def mistakes_in(text: str) -> list[Mistake]:
    """The places of one hand's text that cannot be read, in order, one a line."""
    found = []
    for number, line in enumerate(lines_of(text), 1):
        mistake = field_mistake(number, line) if FIELD.match(line) else token_mistake(number, line)
        if mistake:
            found.append(mistake)
    return found


def field_mistake(number: int, line: str) -> Mistake | None:
    if line[0] not in OWN_FIELDS:
        return None
    where = {"line": number, "field": line[:2]}
    words = _("Line %(line)s: leave out “%(field)s”, the fields above say it. Type the notes alone.") % where
    return Mistake(number, 1, words)


def token_mistake(number: int, line: str) -> Mistake | None:
    place = 0
    while place < len(line):
        token = TOKENS.match(line, place)
        if not token:
            break
        place = token.end()
    else:
        return None
    sign = line[place]
    where = {"line": number, "place": place + 1, "sign": sign, "closing": CLOSED_BY.get(sign, "")}
    if sign in CLOSED_BY and CLOSED_BY[sign] not in line[place + 1 :]:
        words = _("Line %(line)s, sign %(place)s: “%(sign)s” is opened and never closed with “%(closing)s”.") % where
    elif sign in CLOSED_BY:
        words = _(
            "Line %(line)s, sign %(place)s: between “%(sign)s” and “%(closing)s” stands something else than notes."
        )
        words = words % where
    elif sign.isalpha():
        words = _("Line %(line)s, sign %(place)s: “%(sign)s” is no note. Notes go from A to G.") % where
    else:
        words = _("Line %(line)s, sign %(place)s: “%(sign)s” has no meaning here.") % where
    return Mistake(number, place + 1, words)
