"""What each period mostly did, with the source named. A starting point for a teacher, never a rule."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scores.music.ornaments.figures import TRILLS
from scores.music.ornaments.words import Choice

Period = Literal["baroque", "classical", "romantic"]

GLOSSARY = (
    "Before the 19th century usually on the beat, later mostly before it; authorities differ (LilyPond glossary)."
)
UPPER = "Trills begin with the upper note (C. P. E. Bach, Marpurg, Türk; after Grove's Dictionary, 1879–89)."
MAIN = "Trills begin with the main note (Hummel, Czerny, Moscheles; after Grove's Dictionary, 1879–89)."
LONG = (
    "A small note without a stroke takes half of a note that halves, two thirds of a dotted one"
    " (Gehrkens, Music Notation and Terminology, section 74)."
)


@dataclass(frozen=True, slots=True)
class Style:
    """A period's default for one kind of ornament, and the sentences (message ids) that name the sources."""

    period: Period
    choice: Choice
    sources: tuple[str, ...]


def period_of(year: int) -> Period:
    """The period of a year of composition, by round numbers (common practice): to 1750, to 1820, later."""
    return "baroque" if year < 1750 else "classical" if year < 1820 else "romantic"


def default_style(period: Period, kind: str) -> Style:
    """What a period mostly did for an ornament of this kind ("grace" or a MusicXML element name)."""
    early = period != "romantic"
    if kind in TRILLS:
        return Style(
            period, Choice(placement="on", start="upper" if early else "main"), (UPPER if early else MAIN, GLOSSARY)
        )
    if kind == "grace":
        return Style(period, Choice(placement="on" if early else "before"), (GLOSSARY, LONG) if early else (GLOSSARY,))
    return Style(period, Choice(placement="on" if early else "before"), (GLOSSARY,))
