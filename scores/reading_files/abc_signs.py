"""ABC's decorations (ABC 2.1, section 4.14) and what they are in MusicXML."""

from __future__ import annotations

import re

from scores.reading_files.draft import Finger

PRINTED = {"^": "sharp", "_": "flat", "=": "natural", "^^": "double-sharp", "__": "flat-flat"}

ORNAMENTS = {
    "trill": "trill-mark",
    "turn": "turn",
    "invertedturn": "inverted-turn",
    "turnx": "turn",
    "invertedturnx": "inverted-turn",
    "mordent": "mordent",
    "lowermordent": "mordent",
    "pralltriller": "inverted-mordent",
    "uppermordent": "inverted-mordent",
    "slide": "schleifer",
    # Irish roll: a turn is how it is commonly engraved (section 4.14 leaves it to the program).
    "roll": "turn",
}
ARTICULATIONS = {
    ">": "accent",
    "accent": "accent",
    "emphasis": "accent",
    "tenuto": "tenuto",
    "staccato": "staccato",
    "wedge": "staccatissimo",
    "marcato": "strong-accent",
    "^": "strong-accent",
    "breath": "breath-mark",
}
SHORT = {".": "staccato", "~": "roll", "H": "fermata", "L": "accent", "M": "lowermordent", "P": "uppermordent"} | {
    "T": "trill",
    "O": "coda",
    "S": "segno",
    "u": "upbow",
    "v": "downbow",
}
DYNAMICS = {"pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff", "sfz"}
WEDGES = {
    "crescendo(": "crescendo",
    "<(": "crescendo",
    "crescendo)": "stop",
    "<)": "stop",
    "diminuendo(": "diminuendo",
    ">(": "diminuendo",
    "diminuendo)": "stop",
    ">)": "stop",
}


def fingers_of(name: str) -> list[Finger]:
    """!1! to !5! (section 4.14); !0! is other instruments' open string, no finger. Beyond the standard, "4-5" is a
    substitution, typed as it is printed."""
    if not re.fullmatch(r"[1-5](-[1-5])?", name):
        return []
    return [Finger(digit, substitution=place > 0) for place, digit in enumerate(name.split("-"))]
