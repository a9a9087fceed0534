"""The music that is measured with: piano pieces of the installed music21 package, and longer ones made of them."""

from __future__ import annotations

from copy import deepcopy
from functools import cache
from pathlib import Path

from lxml import etree

from lessons.demo import corpus
from scores.reading_files.terms import Limits
from scores.reading_files.unpacking import unpack

LIMITS = Limits()


def polonaise(number: int) -> Path:
    """Clara Schumann's Polonaises op. 1: two pages (no. 1) and three (no. 3) as verovio breaks them."""
    return corpus() / "schumann_clara" / f"polonaise_op1n{number}.mxl"


@cache
def longer(number: int, times: int) -> bytes:
    """A Polonaise played `times` times over, as one piece of MusicXML."""
    root = etree.fromstring(unpack(polonaise(number).read_bytes(), LIMITS))
    for part in root.findall("part"):
        measures = part.findall("measure")
        for turn in range(1, times):
            for place, measure in enumerate(measures):
                again = deepcopy(measure)
                again.set("number", str(turn * len(measures) + place + 1))
                part.append(again)
    return etree.tostring(root, encoding="UTF-8", xml_declaration=True)
