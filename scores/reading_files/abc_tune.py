"""ABC to a draft: the first tune of a file, one or two staves (ABC 2.1).

Decided here: an accidental holds for its own octave to the end of the measure, as printed music has it and as most
programs read ABC; a file that wants the standard's volatile other rule says so (%%propagate-accidentals).
"""

from __future__ import annotations

import re
from fractions import Fraction

from scores.reading_files.abc_fields import Header, clef_in, key_of, metre_of, staves_of, tempo_of, unit_of
from scores.reading_files.abc_voice import Voice, VoiceBar
from scores.reading_files.draft import Bar, Clef, Draft
from scores.reading_files.terms import CannotRead, Limits
from scores.reading_files.terms import marked as _
from scores.reading_files.tidying import NO_NOTES

MANY_VOICES = _(
    "The tune has %(count)s voices on more than two staves. Say with %%%%score {(1 2) | 3} which voices share a "
    "staff, or leave some out."
)
SEVERAL = _("The file holds several tunes; the first was taken.")
UNREAD = _("Some signs were not understood and left out: %(signs)s.")
NO_KEY = _("The ABC text has no K: line, so that it is not plain where the music begins.")

FIELD = re.compile(r"([A-Za-z]):(.*)")
INLINE_VOICE = re.compile(r"\[V:\s*([^\s\[\]]+)(\s[^\[\]]*|)\]")


def draft_of_abc(data: bytes, limits: Limits) -> Draft:
    """The first tune. Raises `CannotRead`."""
    text = decoded(data)
    lines, several = first_tune(text)
    header, body = read_header(lines)
    voices = read_body(header, body, limits)
    if not any(not bar.is_empty for voice in voices.values() for bar in voice.bars):
        raise CannotRead(NO_NOTES)
    staves = assign_staves(header, voices)
    draft = Draft(header.title, header.composer, len(staves))
    if several:
        draft.notices.append((SEVERAL, {}))
    unread = sorted({sign for voice in voices.values() for sign in voice.unread})
    if unread:
        draft.notices.append((UNREAD, {"signs": " ".join(unread)[:60]}))
    lay_out(draft, header, staves)
    return draft


def decoded(data: bytes) -> str:
    try:
        text = data.decode("utf-16" if data.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def first_tune(text: str) -> tuple[list[str], bool]:
    """The lines of the first tune, from its X: to the next empty line or X:, with the file header before it."""
    lines = text.split("\n")
    starts = [number for number, line in enumerate(lines) if line.startswith("X:")]
    first = starts[0] if starts else 0
    last = starts[1] if len(starts) > 1 else len(lines)
    tune = lines[first:last]
    key = next((number for number, line in enumerate(tune) if line.startswith("K:")), None)
    if key is None:
        raise CannotRead(NO_KEY)
    music = next((number for number, line in enumerate(tune) if number > key and line.strip()), len(tune))
    end = next((number for number in range(music, len(tune)) if not tune[number].strip()), len(tune))
    return lines[:first] + tune[:end], len(starts) > 1


def read_header(lines: list[str]) -> tuple[Header, list[str]]:
    header = Header()
    tempo = ""
    for number, line in enumerate(lines):
        if line.startswith(("%%score", "%%staves")):
            header.staves = staves_of(line.partition(" ")[2])
        elif "propagate-accidentals" in line:
            header.everywhere = next((word for word in ("not", "pitch") if word in line.split()), "octave")
        match = FIELD.match(line)
        if not match:
            continue
        letter, value = match.group(1), re.sub(r"(?<!\\)%.*", "", match.group(2)).strip()
        if letter == "T" and not header.title:
            header.title = value[:300]
        elif letter == "C":
            header.composer = ", ".join(filter(None, (header.composer, value)))[:300]
        elif letter == "M":
            header.metre, header.symbol = metre_of(value)
        elif letter == "L":
            header.unit = unit_of(value)
        elif letter == "Q":
            tempo = value
        elif letter == "V":
            add_voice(header, value)
        elif letter == "K":
            header.key = key_of(value)
            header.tempo = tempo_of(tempo, header.length) if tempo else None
            return header, lines[number + 1 :]
    raise CannotRead(NO_KEY)


def add_voice(header: Header, value: str) -> str:
    """Notes a voice and its clef; returns its name."""
    name = value.split()[0] if value.split() else "1"
    clef = clef_in(value[len(name) :])
    header.voices[name] = clef or header.voices.get(name)
    return name


def read_body(header: Header, lines: list[str], limits: Limits) -> dict[str, Voice]:
    beams = [0]
    voices: dict[str, Voice] = {}
    current = next(iter(header.voices), "1")
    for line in lines:
        if line.startswith(("%%score", "%%staves")):
            header.staves = staves_of(line.partition(" ")[2])
            continue
        field = FIELD.match(line)
        if field and not line.startswith("["):
            if field.group(1) == "V":
                current = add_voice(header, field.group(2).strip())
            elif field.group(1) in "KMLQ":
                voice_of(voices, current, header, beams, limits).set_field(
                    field.group(1), field.group(2).split("%")[0].strip()
                )
            continue
        if line.startswith("%"):
            continue
        pieces = INLINE_VOICE.split(line)
        for place in range(0, len(pieces), 3):
            if place:
                current = add_voice(header, pieces[place - 2] + pieces[place - 1])
            if pieces[place].strip():
                voice = voice_of(voices, current, header, beams, limits)
                voice.read(pieces[place])
    return voices


def voice_of(voices: dict[str, Voice], name: str, header: Header, beams: list[int], limits: Limits) -> Voice:
    if name not in voices:
        voices[name] = Voice(header, beams, limits)
    return voices[name]


def assign_staves(header: Header, voices: dict[str, Voice]) -> list[list[tuple[str, Voice]]]:
    """The voices of each staff: as %%score says, else each on a staff of its own."""
    order = header.staves or [[name] for name in header.voices if name in voices] or [[name] for name in voices]
    named = {name for staff in order for name in staff}
    order = [*order, *([name] for name in voices if name not in named)]
    staves = [[(name, voices[name]) for name in staff if name in voices] for staff in order]
    staves = [staff for staff in staves if staff]
    if len(staves) > 2:
        raise CannotRead(MANY_VOICES, {"count": len(voices)})
    return staves


def lay_out(draft: Draft, header: Header, staves: list[list[tuple[str, Voice]]]) -> None:
    """Puts the voices' measures side by side."""
    lines: list[tuple[int, int, list[VoiceBar]]] = []
    for staff, voices in enumerate(staves, start=1):
        for place, (_name, voice) in enumerate(voices):
            bars = voice.bars[:-1] if voice.bars[-1].is_empty else voice.bars
            lines.append((staff, 4 * (staff - 1) + 1 + 2 * place, bars))
    metre = header.metre
    for index in range(max(len(bars) for _staff, _voice, bars in lines)):
        here = [(staff, number, bars[index]) for staff, number, bars in lines if index < len(bars)]
        bar = Bar(number="")
        for staff, number, one in here:
            join(bar, staff, number, one)
        if index == 0 and not bar.symbol and not bar.metre:
            bar.metre, bar.symbol = header.metre, header.symbol
        metre = None if bar.symbol == "none" else bar.metre or metre
        if index == 0:
            bar.fifths = header.key.fifths if bar.fifths is None else bar.fifths
            bar.clefs = opening_clefs(header, staves) | bar.clefs
            if header.tempo:
                bar.marks.insert(0, header.tempo)
        number_bar(draft, bar, metre)
        draft.bars.append(bar)
    close_endings(draft.bars)


def join(bar: Bar, staff: int, voice: int, one: VoiceBar) -> None:
    for place, layer in enumerate(one.layers):
        for event in layer:
            event.staff = staff
        bar.voices.append((voice + place, layer))
    for mark in one.marks:
        mark.staff = staff
    bar.marks += one.marks
    bar.metre, bar.symbol = bar.metre or one.metre, bar.symbol or one.symbol
    bar.fifths = one.fifths if bar.fifths is None else bar.fifths
    if one.clef:
        bar.clefs[staff] = one.clef
    bar.repeat_start |= one.repeat_start
    bar.repeat_end |= one.repeat_end
    bar.ending_start = bar.ending_start or one.ending
    bar.style = bar.style or one.style


def opening_clefs(header: Header, staves: list[list[tuple[str, Voice]]]) -> dict[int, Clef]:
    """The clef each staff was given; else the lower of two has a bass clef, and so has a lone low one."""
    clefs = {}
    for staff, voices in enumerate(staves, start=1):
        given = next((clef for name, _ in voices if (clef := header.voices.get(name))), None)
        if given is None and len(staves) == 1:
            given = header.key.clef
        low = staff == 2 or (len(staves) == 1 and is_low(voices))
        clefs[staff] = given or (Clef("F", 4) if low else Clef("G", 2))
    return clefs


def is_low(voices: list[tuple[str, Voice]]) -> bool:
    heads = [
        head
        for _, voice in voices
        for bar in voice.bars
        for layer in bar.layers
        for event in layer
        for head in event.heads
    ]
    return bool(heads) and sum(head.octave for head in heads) < 3.6 * len(heads)


def number_bar(draft: Draft, bar: Bar, metre: tuple[int, int] | None) -> None:
    """Numbers measures from 1, a pick-up 0."""
    length = max((sum((event.length for event in layer), Fraction(0)) for _, layer in bar.voices), default=Fraction(0))
    if not draft.bars and metre and length < Fraction(4 * metre[0], metre[1]):
        bar.number, bar.implicit = "0", True
        return
    bar.number = str(int(draft.bars[-1].number) + 1 if draft.bars else 1)


def close_endings(bars: list[Bar]) -> None:
    """An ending runs to the next repeat, ending or double bar (section 4.10)."""
    number = ""
    for place, bar in enumerate(bars):
        number = bar.ending_start or number
        following = bars[place + 1] if place + 1 < len(bars) else None
        ends = bar.repeat_end or bar.style or following is None or following.ending_start or following.repeat_start
        if number and ends:
            bar.ending_stop, bar.ending_open, number = number, not (bar.repeat_end or bar.style), ""
