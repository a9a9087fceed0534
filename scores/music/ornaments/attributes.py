"""Choices as MusicXML attributes: steal-time-previous, steal-time-following, make-time, slash and trill-sound."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from scores.music.notation import Note, Score
from scores.music.ornaments.before import nearest_percent
from scores.music.ornaments.before import share as share_of
from scores.music.ornaments.figures import DELAYED, MORDENTS, TRILLS, TURNS
from scores.music.ornaments.words import Choice, Performance, Realised, Start

# The elements that carry trill-sound attributes (musicxml.xsd 4.0), as far as they are written out here.
TRILL_SOUND = TRILLS | TURNS.keys() | DELAYED.keys() | MORDENTS
SHARES = ("steal-time-previous", "steal-time-following", "make-time")
START_NOTES: dict[Start, str] = {"upper": "upper", "main": "main", "lower": "below", "turn": "upper"}
STARTS: dict[str, Start] = {"upper": "upper", "main": "main", "below": "lower"}


def trill_sound(kind: str, choice: Choice) -> dict[str, str]:
    """The trill-sound attributes that say what was chosen for a sign; empty where it has none or nothing was chosen.

    MusicXML has no attribute for the placement of a sign, and none for a trill that begins with a turn.
    """
    if kind not in TRILL_SOUND:
        return {}
    written: dict[str, str] = {}
    if choice.start:
        written["start-note"] = START_NOTES[choice.start]
    if choice.count:
        written["beats"] = str(choice.count)
    if choice.turn is not None and kind in TRILLS:
        written["two-note-turn"] = "whole" if choice.turn else "none"
    return written


def chosen(options: Mapping[str, str]) -> Choice:
    """The choice that trill-sound attributes state; numbers that nothing can be made of are left out."""
    try:
        beats: int | None = int(Fraction(options["beats"]))
    except (KeyError, ValueError, ZeroDivisionError):
        beats = None
    return Choice(
        count=beats if beats is not None and 2 <= beats <= 128 else None,
        start=STARTS.get(options.get("start-note", "")),
        turn=options["two-note-turn"] != "none" if "two-note-turn" in options else None,
    )


def file_attributes(
    score: Score, performance: Performance, choices: Mapping[str, Choice]
) -> dict[tuple[str, str], dict[str, str]]:
    """What the choices say in a file: (id of the note, name of the element: "grace" or the sign) -> attributes.

    A choice that leaves a grace where the edition has it writes nothing of its time.
    """
    written: dict[tuple[str, str], dict[str, str]] = {}
    for realised in performance.ornaments:
        choice = choices.get(realised.key)
        if choice is None:
            continue
        if realised.kind == "grace":
            if choice.placement or choice.long is not None:
                for name, attributes in grace_attributes(score, realised, choice.long).items():
                    written[name, "grace"] = attributes
        elif sound := trill_sound(realised.kind, choice):
            written[realised.key.partition("/")[0], realised.kind] = sound
    return written


def grace_attributes(score: Score, realised: Realised, long: bool | None = None) -> dict[str, dict[str, str]]:
    """The attributes of each grace element of a realised group: id of the grace -> attributes.

    Before the beat the note's own share of the preceding note or rest in percent, on the beat its share of the note it
    leads to; where nothing precedes that could be named, no share is written. `slash` stays what it was, unless `long`
    says whether the grace leans (no stroke) or is crushed.
    """
    written: dict[str, dict[str, str]] = {}
    if realised.kind != "grace":
        return written
    first = score.by_id[realised.key]
    group = [
        note
        for note in score.in_measures(first.measure, first.measure, first.side)
        if note.grace and note.onset == first.onset and note.voice == first.voice
    ]
    lengths = {sounding.source: sounding.length for sounding in realised.notes if sounding.role == "ornament"}
    by_order = {note.grace.order: lengths[note.id] for note in group if note.grace and note.id in lengths}
    lender, name = _lender(score, realised)
    for note in group:
        if note.grace is None:
            continue
        stroke = note.grace.slash if long is None else not long
        attributes = {"slash": "yes" if stroke else "no"}
        length = by_order.get(note.grace.order)
        if length and lender:
            attributes[name] = percent(length / lender)
        written[note.id] = attributes
    return written


def _lender(score: Score, realised: Realised) -> tuple[Fraction, str]:
    """The written length of the note that gives its time, and the attribute that names it."""
    if realised.placement == "before":
        lengths = [_last_of_tie(score, name).length for name, _ in realised.taken]
        if not lengths and realised.from_silence:
            end = score.by_id[realised.key].onset
            voice = score.by_id[realised.key].voice
            lengths = [
                rest.length
                for rest in score.rests
                if rest.onset + rest.length == end and (rest.side, rest.voice) == (realised.side, voice)
            ]
        return min(lengths, default=Fraction(0)), "steal-time-previous"
    first = score.by_id[realised.key]
    following = [
        note.length
        for note in score.in_measures(first.measure, first.measure, first.side)
        if note.onset == first.onset and note.voice == first.voice and not note.grace
    ]
    return min(following, default=Fraction(0)), "steal-time-following"


def _last_of_tie(score: Score, name: str) -> Note:
    note = score.by_id[name]
    while note.tie_start:
        tied = next(
            (
                other
                for other in score.notes[score.place_of[note.id] :]
                if other.tie_stop
                and other.onset == note.end
                and other.pitch == note.pitch
                and other.voice == note.voice
            ),
            None,
        )
        if tied is None:
            break
        note = tied
    return note


def percent(share: Fraction) -> str:
    """A share of one as MusicXML's percent: a whole number where that is read again as the same share, since not every
    reader takes the decimals that the standard allows; else at most six places, without needless zeros."""
    whole = nearest_percent(share)
    if share_of(Fraction(whole)) == share:
        return str(whole)
    return f"{float(share * 100):.6f}".rstrip("0").rstrip(".")
