"""From bytes to an edition: tell the kind, convert what is not MusicXML, tidy, name the notes, walk."""

from __future__ import annotations

import re
from fractions import Fraction

from lxml import etree

from scores.reading_files import kinds
from scores.reading_files.abc_tune import draft_of_abc
from scores.reading_files.hands import pianist
from scores.reading_files.humdrum import mei_of_humdrum
from scores.reading_files.idle_signs import ON_RESTS, measures_with_idle_signs
from scores.reading_files.mei import draft_of_mei, is_mei
from scores.reading_files.midi_notes import draft_of_midi
from scores.reading_files.naming import name_notes
from scores.reading_files.terms import CannotRead, Limits, Notice, ReadEdition, Report
from scores.reading_files.terms import marked as _
from scores.reading_files.tidying import count_notes, drop_unpitched, plain
from scores.reading_files.unpacking import unpack
from scores.reading_files.walking import Bar, Walk
from scores.reading_files.writing import tree_of
from scores.reading_files.xml_text import TOO_DEEP, parse_xml

TOO_LARGE = _("The file has %(size)s MB; at most %(limit)s MB are allowed.")
UNEVEN = _("These measures are longer or shorter than their time signature says: %(measures)s.")
BAD_PITCH = _("A note in measure %(measure)s has no readable pitch. Export the score again.")
HIDDEN = _("Notes that the file keeps from the page were left out: %(count)s.")
STRANGE = _("The file cannot be read as %(format)s: something in it is not as the format has it. Export it again.")

LOOKING, CONVERTING, NAMING, LISTENING, DONE = (
    _("Looking at the file"),
    _("Converting the music"),
    _("Naming the notes"),
    _("Reading the notes"),
    _("Read"),
)

FORMATS = {kinds.ZIP: "Compressed MusicXML", kinds.MIDI: "MIDI", kinds.HUMDRUM: "Humdrum", kinds.ABC: "ABC"}
NAMED_MEASURES = 8  # how many measure numbers a notice lists


def silent(step: str, percent: int) -> None:
    """Reports to nobody."""


def read(name: str, data: bytes, limits: Limits = Limits(), report: Report | None = None) -> ReadEdition:  # noqa: B008
    """Reads a score of any kind that is known here.

    `name` is the file's name, a hint only. `report(step, percent)` is told how far the work is; the step is an English
    message. Raises `CannotRead` and nothing else, whatever the bytes are.
    """
    report = report or silent
    report(LOOKING, 0)
    if len(data) > limits.bytes:
        size = -(-len(data) // 1024**2)
        raise CannotRead(TOO_LARGE, {"size": size, "limit": limits.bytes // 1024**2})
    kind = kinds.kind_of(name, data)
    form = FORMATS.get(kind, "XML")
    try:
        form, root, notices = to_tree(kind, data, limits, report)
        return finish(root, form, notices, limits, report)
    except RecursionError as error:
        raise CannotRead(TOO_DEEP) from error
    except (ValueError, TypeError, LookupError, AttributeError, ArithmeticError, etree.LxmlError) as error:
        # The last net under hostile input. What it caught is a case that a reader should have named.
        raise CannotRead(STRANGE, {"format": form}) from error


def read_abc(text: str, limits: Limits = Limits(), report: Report | None = None) -> ReadEdition:  # noqa: B008
    """Reads a passage typed by hand as ABC, two voices as two hands. Empty lines do not end it, and without a K: line
    it is in C. Raises `CannotRead`."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if not any(line.startswith("K:") for line in lines):
        head = next((place for place, line in enumerate(lines) if not re.match(r"[A-Z]:|%", line)), len(lines))
        lines.insert(head, "K:C")
    return read("passage.abc", "\n".join(lines).encode("utf-8", "replace"), limits, report)


def to_tree(kind: str, data: bytes, limits: Limits, report: Report) -> tuple[str, etree._Element, list[Notice]]:
    """The format's name, a score-partwise tree, and what was to be said on the way there."""
    form = FORMATS.get(kind, "MusicXML")
    if kind in (kinds.XML, kinds.ZIP):
        root = parse_xml(unpack(data, limits) if kind == kinds.ZIP else data, limits)
        if not is_mei(root):
            return form, plain(root, limits), []
        form = "MEI"
        report(CONVERTING, 20)
        draft = draft_of_mei(root, limits)
    else:
        report(CONVERTING, 20)
        if kind == kinds.HUMDRUM:
            draft = draft_of_mei(parse_xml(mei_of_humdrum(data), limits), limits)
        elif kind == kinds.ABC:
            draft = draft_of_abc(data, limits)
        else:
            draft = draft_of_midi(data, limits)
    return form, plain(tree_of(draft), limits), draft.notices


def finish(root: etree._Element, form: str, notices: list[Notice], limits: Limits, report: Report) -> ReadEdition:
    """One part with named notes, and what the engines make of it."""
    report(NAMING, 50)
    notices = [*notices, *pianist(root)]
    part = root.find("part")
    assert part is not None
    count_notes(part, limits)
    notices += drop_unpitched(part)
    name_notes(root)
    report(LISTENING, 70)
    walk = Walk(root)
    score = walk.score()
    if walk.unreadable:
        raise CannotRead(BAD_PITCH, {"measure": walk.unreadable})
    uneven = uneven_measures(walk.bars)
    if uneven:
        notices.append((UNEVEN, {"measures": listed(uneven)}))
    if walk.hidden:
        notices.append((HIDDEN, {"count": walk.hidden}))
    idle = measures_with_idle_signs(part)
    if idle:
        notices.append((ON_RESTS, {"measures": listed(idle)}))
    music = etree.tostring(root, encoding="UTF-8", xml_declaration=True)
    report(DONE, 100)
    return ReadEdition(music=music, score=score, format=form, notices=tuple(notices))


def uneven_measures(bars: list[Bar]) -> list[str]:
    """Numbers of the measures that do not add up. A pick-up is free to be short; so is a measure that its neighbour, or
    the pick-up, completes (common practice at repeats)."""
    pickup = bars[0].length if bars and bars[0].length < bars[0].nominal else Fraction(0)
    uneven = []
    for place, bar in enumerate(bars):
        if bar.length == bar.nominal or bar.free or (place == 0 and pickup):
            continue
        neighbours = [bars[near].length for near in (place - 1, place + 1) if 0 <= near < len(bars)]
        if any(bar.length + other == bar.nominal for other in [*neighbours, pickup]):
            continue
        uneven.append(bar.number)
    return uneven


def listed(numbers: list[str]) -> str:
    shown = ", ".join(number[:12] for number in numbers[:NAMED_MEASURES])
    return f"{shown} …" if len(numbers) > NAMED_MEASURES else shown
