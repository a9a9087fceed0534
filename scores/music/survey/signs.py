"""What is printed on the notes: graces, ornament signs, rolled chords, tremolos, fingers."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from scores.music.fingering.problems import gettext_noop, key_name
from scores.music.notation import SIDES, Note, Ornament, Side
from scores.music.survey.timeline import Timeline
from scores.music.survey.words import SIGN_NAMES, Finding, Params

ONE_GRACE = gettext_noop("A grace note before %(main)s: %(names)s.")
MORE_GRACES = gettext_noop("%(count)s grace notes before %(main)s: %(names)s.")
LAST_GRACES = gettext_noop("Grace notes after which this voice strikes nothing: %(names)s.")
SIGN = gettext_noop("%(sign)s on %(note)s.")
UNKNOWN_SIGN = gettext_noop("The sign “%(name)s” on %(note)s.")
ROLLED = gettext_noop("A rolled chord of %(count)s notes, %(low)s to %(high)s.")
NOT_ROLLED = gettext_noop("A bracket says that this chord is not rolled.")
WIDE_ROLL = gettext_noop(
    "A rolled chord as wide as %(interval)s, where this hand holds %(reach)s in comfort: the hand travels."
)
TREMOLO = gettext_noop("A tremolo on %(note)s.")
TREMOLO_BETWEEN = gettext_noop("A tremolo between %(note)s and %(other)s.")
PRINTED = gettext_noop("The edition prints fingers: %(fingers)s.")
SUBSTITUTION = gettext_noop("The fingers change on %(note)s while it is held: %(fingers)s.")

ELSEWHERE = frozenset({"tremolo", "arpeggiate", "non-arpeggiate"})
NAMED = 8  # of a long row of fingers or graces so many are said in the sentence
LONGEST_SIGN = 40  # letters of a sign that only this file knows


def printed_signs(line: Timeline) -> Iterator[Finding]:
    """Everything of this module, in no order."""
    yield from graces(line)
    adorned = [note for note in line.score.notes if note.ornaments]
    yield from ornaments(line, adorned)
    yield from arpeggios(line, adorned)
    yield from tremolos(line, adorned)
    yield from fingers(line)


def graces(line: Timeline) -> Iterator[Finding]:
    """A group is what one voice of a hand has before one note, and in one measure: graces that end a measure belong
    to what goes before."""
    groups: dict[tuple[Side, str, Fraction, int], list[Note]] = {}
    for note in line.graces:
        groups.setdefault((note.side, note.voice, note.onset, note.measure), []).append(note)
    mains: dict[tuple[Side, str, Fraction, int], Note] = {}
    if groups:
        for note in line.score.notes:
            key = (note.side, note.voice, note.onset, note.measure)
            if not note.is_grace and key in groups:
                mains.setdefault(key, note)
    for key, group in groups.items():
        main = mains.get(key)
        names = " ".join(key_name(note) for note in group[:NAMED])
        if main is None:
            yield line.finding("grace", group, key[0], LAST_GRACES, {"names": names})
        elif len(group) == 1:
            yield line.finding("grace", group, key[0], ONE_GRACE, {"names": names, "main": key_name(main)})
        else:
            said: Params = {"names": names, "main": key_name(main), "count": len(group)}
            yield line.finding("grace", group, key[0], MORE_GRACES, said)


def ornaments(line: Timeline, adorned: list[Note]) -> Iterator[Finding]:
    """Every sign of its own; the wavy line after a trill belongs to the trill."""
    for note in adorned:
        kinds = dict.fromkeys(sign.kind for sign in note.ornaments if sign.kind not in ELSEWHERE and is_own(sign))
        if len(kinds) > 1 and "trill-mark" in kinds:
            kinds.pop("wavy-line", None)
        for kind in kinds:
            said: Params = {"note": key_name(note), "name": kind[:LONGEST_SIGN], "sign": SIGN_NAMES.get(kind, "")}
            message = SIGN if kind in SIGN_NAMES else UNKNOWN_SIGN
            yield line.finding("ornament", [note], note.side, message, said, detail=kind[:LONGEST_SIGN])


def is_own(sign: Ornament) -> bool:
    return sign.kind != "wavy-line" or dict(sign.options).get("type", "start") == "start"


def arpeggios(line: Timeline, adorned: list[Note]) -> Iterator[Finding]:
    """One for each hand and moment: a chord has the sign on each of its notes."""
    chords: dict[tuple[Side, Fraction, int, str], list[Note]] = {}
    for note in adorned:
        for kind in {sign.kind for sign in note.ornaments} & {"arpeggiate", "non-arpeggiate"}:
            order = note.grace.order if note.grace else -1
            chords.setdefault((note.side, note.onset, order, kind), []).append(note)
    for (side, _, _, kind), chord in chords.items():
        hand = line.options.hand_of(side)
        low, high = chord[0], chord[-1]
        span = high.pitch.midi - low.pitch.midi
        if kind == "non-arpeggiate":
            yield line.finding("arpeggio", chord, side, NOT_ROLLED, detail=kind)
        elif span > hand.comfortable and "wide-roll" in line.options.kinds:
            width: Params = {"interval": span, "reach": int(hand.comfortable)}
            yield line.finding("wide-roll", chord, side, WIDE_ROLL, width)
        else:
            said: Params = {"low": key_name(low), "high": key_name(high), "count": len(chord)}
            yield line.finding("arpeggio", chord, side, ROLLED, said)


def tremolos(line: Timeline, adorned: list[Note]) -> Iterator[Finding]:
    """On one note or chord, or between two, which are one finding."""
    begun: dict[tuple[Side, str], list[Note]] = {}
    seen: set[tuple[Side, str, Fraction]] = set()
    for note in adorned:
        sign = next((sign for sign in note.ornaments if sign.kind == "tremolo"), None)
        lane, place = (note.side, note.voice), (note.side, note.voice, note.onset)
        if sign is None or place in seen:
            continue
        seen.add(place)
        way = dict(sign.options).get("type", "single")
        if way == "start":
            if lane in begun:
                yield single(line, begun.pop(lane))
            begun[lane] = [note]
        elif way == "stop" and lane in begun:
            first = begun.pop(lane)[0]
            names = {"note": key_name(first), "other": key_name(note)}
            yield line.finding("tremolo", [first, note], note.side, TREMOLO_BETWEEN, names)
        else:
            yield single(line, [note])
    for notes in begun.values():
        yield single(line, notes)


def single(line: Timeline, notes: list[Note]) -> Finding:
    return line.finding("tremolo", notes, notes[0].side, TREMOLO, {"note": key_name(notes[0])})


def fingers(line: Timeline) -> Iterator[Finding]:
    """Printed fingers, moment after moment in one finding as long as none is without; changes on a key on their own."""
    if not any(note.printed for note in line.score.notes):
        return
    apart = "substitution" in line.options.kinds
    for side in SIDES:
        row: list[Note] = []
        for moment in by_moment([note for note in line.score.notes if note.side == side]):
            shown = [note for note in moment if note.printed]
            changing = [note for note in shown if apart and "-" in note.printed]
            for note in changing:
                said: Params = {"note": key_name(note), "fingers": note.printed}
                yield line.finding("substitution", [note], side, SUBSTITUTION, said)
            if not shown and row and any(note.is_attack for note in moment):
                yield row_of_fingers(line, side, row)
                row = []
            row += [note for note in shown if note not in changing]
        if row:
            yield row_of_fingers(line, side, row)


def by_moment(notes: list[Note]) -> Iterator[list[Note]]:
    moment: list[Note] = []
    for note in notes:
        if moment and (note.onset, note.grace) != (moment[0].onset, moment[0].grace):
            yield moment
            moment = []
        moment.append(note)
    if moment:
        yield moment


def row_of_fingers(line: Timeline, side: Side, row: list[Note]) -> Finding:
    said = " ".join(note.printed for note in row[:NAMED]) + (" …" if len(row) > NAMED else "")
    return line.finding("printed", row, side, PRINTED, {"fingers": said})
