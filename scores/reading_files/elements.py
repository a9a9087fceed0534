"""What single elements of MusicXML say: pitches, signs, metres, tempos, titles, numbers."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from functools import lru_cache
from typing import Any

from lxml import etree

from scores.fingering_marks import fingers_on
from scores.music.notation import SEMITONES, Ornament, Pitch, Side, Tuplet

UNITS = {
    "long": Fraction(16),
    "breve": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4),
    "32nd": Fraction(1, 8),
    "64th": Fraction(1, 16),
    "128th": Fraction(1, 32),
}
# How a sign looks or where on the page it stands is no part of what it asks for.
LOOKS = re.compile(r"(default|relative)-[xy]$|font-|color$|id$|justify|halign|valign|bezier|\{")
# What sends the player elsewhere, as words (D.C., Dal segno, Fine, To Coda) and as what stands for playing.
JUMP_WORDS = (
    ("da capo", re.compile(r"\bd\.?\s*c\b|\bda\s+capo\b", re.IGNORECASE)),
    ("dal segno", re.compile(r"\bd\.?\s*s\b|\bdal\s+segno\b", re.IGNORECASE)),
    ("to coda", re.compile(r"^\W*to\s+coda\b", re.IGNORECASE)),
    ("fine", re.compile(r"^\W*fine\W*$", re.IGNORECASE)),
)
JUMP_SOUNDS = {
    "dacapo": "da capo",
    "dalsegno": "dal segno",
    "tocoda": "to coda",
    "coda": "coda",
    "segno": "segno",
    "fine": "fine",
}


def common_divisions(part: etree._Element) -> int:
    """The least number of ticks to a quarter in which every duration is whole."""
    found = 1
    for element in part.iter("divisions", "beat-type"):
        value = number_in(element.text)
        if value and value > 0 and value.denominator == 1:
            found = math.lcm(found, int(value))
            if found > 10**12:  # Nothing sounds that short: a broken file. Durations are rounded then.
                return 10**6
    return found


def sides_of_staves(part: etree._Element) -> dict[int, Side]:
    """The hand of each staff: of two the upper is the right hand's; one with a bass clef is the left's."""
    used = staves_used(part)
    declared = max([whole_number(element.text, 1) for element in part.iter("staves")] or [1])
    if declared > 1 or len(used) > 1:
        upper = min(used, default=1) if declared > 2 else 1
        return {staff: "right" if staff == upper else "left" for staff in used | {1, 2}}
    sign = part.findtext("measure/attributes/clef/sign")
    return {1: "left" if (sign or "").strip() == "F" else "right"}


def staves_used(part: etree._Element) -> set[int]:
    """The staves on which pitched notes stand."""
    written = part.xpath("measure/note[pitch]/staff/text()")
    assert isinstance(written, list)
    unwritten = part.xpath("boolean(measure/note[pitch][not(staff)])")
    return {whole_number(staff, 1) for staff in set(map(str, written))} | ({1} if unwritten else set())


def pitch_in(element: etree._Element | None) -> Pitch | None:
    """A <pitch>; an alteration between two keys goes to the nearer one of the note's own side. None if unreadable."""
    if element is None:
        return None
    found = {child.tag: child.text or "" for child in element}
    return pitch_named(found.get("step", ""), found.get("alter", ""), found.get("octave", ""))


@lru_cache(maxsize=2000)
def pitch_named(step: str, alter: str, octave: str) -> Pitch | None:
    height, number = number_in(octave), number_in(alter) or Fraction(0)
    if step.strip() not in SEMITONES or height is None or height.denominator != 1 or not -1 <= height <= 10:
        return None
    return Pitch(step.strip(), int(number), int(height)) if abs(number) <= 4 else None


def marks_on(element: etree._Element, parts: dict[str, etree._Element]) -> dict[str, Any]:
    """Ties, fingering and ornaments of a note, as arguments for `Note`."""
    marks: dict[str, Any] = {}
    notations = parts.get("notations")
    if "tie" in parts:
        for tie in element.iterfind("tie"):
            marks["tie_start" if tie.get("type") == "start" else "tie_stop"] = True
    if notations is None:
        return marks
    signs: list[Ornament] = []
    for group in element.iterfind("notations"):
        for child in group:
            if child.tag == "ornaments":
                signs += ornaments_in(child)
            elif child.tag in ("arpeggiate", "non-arpeggiate"):
                signs.append(Ornament(str(child.tag), options_of(child)))
            elif child.tag == "technical" and child.find("fingering") is not None:
                marks["printed"] = fingers_on(element)
            elif child.tag == "tied" and "tie" not in parts and child.get("type") in ("start", "stop"):
                marks[f"tie_{child.get('type')}"] = True
    if signs:
        marks["ornaments"] = tuple(signs)
    return marks


def ornaments_in(group: etree._Element) -> list[Ornament]:
    """The signs of one <ornaments>. An accidental-mark belongs to the sign before it and becomes its option
    "accidental-mark-above", "-below", or plain without a place. The strokes of a tremolo are its option "marks"."""
    signs: list[Ornament] = []
    for child in group:
        if child.tag == "accidental-mark" and signs:
            place = child.get("placement")
            name = f"accidental-mark-{place}" if place in ("above", "below") else "accidental-mark"
            options = dict(signs[-1].options) | {name: (child.text or "").strip()}
            signs[-1] = Ornament(signs[-1].kind, tuple(sorted(options.items())))
        else:
            signs.append(Ornament(str(child.tag), options_of(child)))
    return signs


def options_of(element: etree._Element) -> tuple[tuple[str, str], ...]:
    options = {str(name): str(value) for name, value in element.attrib.items() if not LOOKS.match(str(name))}
    if element.tag == "tremolo" and (element.text or "").strip():
        options["marks"] = (element.text or "").strip()
    return tuple(sorted(options.items()))


def tuplet_in(element: etree._Element | None) -> Tuplet | None:
    """<time-modification>, which holds the product of tuplets within tuplets."""
    if element is None:
        return None
    actual = whole_number(element.findtext("actual-notes"), 0)
    normal = whole_number(element.findtext("normal-notes"), 0)
    return Tuplet(actual, normal) if actual > 0 and normal > 0 else None


def metre_in(time: etree._Element) -> tuple[int, int] | None:
    """Beats and beat type; "3+2" and several pairs add up. None if it says neither."""
    total, finest = Fraction(0), 1
    for beats, beat_type in zip(time.iterfind("beats"), time.iterfind("beat-type"), strict=False):
        unit = whole_number(beat_type.text, 0)
        counts = [whole_number(count, 0) for count in (beats.text or "").split("+")]
        if not 0 < unit <= 256 or not all(0 < count <= 128 for count in counts):
            return None
        total, finest = total + Fraction(sum(counts), unit), max(finest, unit)
    count = total * finest
    return (int(count), finest) if total and count.denominator == 1 else None


def free_metre(length: Fraction) -> tuple[int, int]:
    """Beats and beat type that a measure without metre turns out to have."""
    share = length / 4
    factor = 1
    while share.denominator * factor < 4:
        factor *= 2
    return share.numerator * factor, share.denominator * factor


def metronome_in(element: etree._Element) -> Fraction | None:
    """Quarters a minute of a metronome mark with a number."""
    for metronome in element.iterfind("direction-type/metronome"):
        unit = UNITS.get((metronome.findtext("beat-unit") or "").strip())
        number = re.search(r"\d+(\.\d+)?", metronome.findtext("per-minute") or "")
        if unit and number and metronome.find("beat-unit[2]") is None:
            dots = len(metronome.findall("beat-unit-dot"))
            return Fraction(number.group()) * unit * (2 - Fraction(1, 2**dots)) if dots < 5 else None
    return None


def jumps_in(element: etree._Element) -> set[str]:
    """The marks of `notation.Measure.marks` that a direction, or a sound by itself, has. A sign for the coda counts as
    the way to it where the direction says so."""
    sound = element if element.tag == "sound" else element.find("sound")
    found = {mark for name, mark in JUMP_SOUNDS.items() if sound is not None and sound.get(name)}
    for child in element.iterfind("direction-type/*"):
        if child.tag == "words":
            found.update(mark for mark, words in JUMP_WORDS if words.search(one_line(child.text)))
        elif child.tag == "segno" or (child.tag == "coda" and "to coda" not in found):
            found.add(child.tag)
    return found


def title_and_composer(root: etree._Element) -> tuple[str, str]:
    work, movement = (one_line(root.findtext(path)) for path in ("work/work-title", "movement-title"))
    title = f"{work}: {movement}" if work and movement and movement not in work else work or movement
    creators = root.findall("identification/creator")
    composers = [creator for creator in creators if creator.get("type") == "composer"] or creators[:1]
    composer = ", ".join(filter(None, (one_line(creator.text) for creator in composers)))
    return title or printed_at_head(root, "title"), composer or printed_at_head(root, "composer")


def printed_at_head(root: etree._Element, kind: str) -> str:
    """A title or composer that only stands on the page: what is said to be one, else the largest words at the middle,
    or the right, of the first page's head."""
    heads = []
    for credit in root.iterfind("credit"):
        words = credit.find("credit-words")
        if words is None or not one_line(words.text):
            continue
        if one_line(credit.findtext("credit-type")) == kind:
            return one_line(words.text)
        place = words.get("justify") or words.get("halign")
        at_head = credit.get("page", "1") == "1" and words.get("valign") == "top" and credit.find("credit-type") is None
        if at_head and place == ("center" if kind == "title" else "right"):
            heads.append((number_in(words.get("font-size")) or Fraction(0), one_line(words.text)))
    return max(heads, key=lambda head: head[0])[1] if heads else ""


def one_line(text: str | None) -> str:
    return " ".join((text or "").split())


def attributes_of(element: etree._Element) -> dict[str, str]:
    return {str(name): str(value) for name, value in element.attrib.items()}


def all_text(element: etree._Element) -> str:
    """All the words in an element, on one line."""
    return one_line("".join(str(text) for text in element.itertext()))


def text_in(parts: dict[str, etree._Element], tag: str) -> str | None:
    element = parts.get(tag)
    return element.text if element is not None else None


def whole_number(text: str | None, otherwise: int) -> int:
    try:
        return int(text) if text and len(text) < 20 else otherwise
    except ValueError:
        return otherwise


def number_in(text: str | None) -> Fraction | None:
    """A decimal number as XML writes it; None for anything else, and for numbers too long to mean anything."""
    if text and re.fullmatch(r"\s*[+-]?\d{1,12}(\.\d{0,9})?\s*", text):
        return Fraction(text.strip())
    return None
