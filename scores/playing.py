"""What is heard of a passage: its notes with the ornaments as chosen, its beats and its drills' grids, as data for the
browser and for a MIDI file."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from django.http import QueryDict

from scores.models import OrnamentChoice, Passage, RhythmDrill
from scores.music import sounding
from scores.music.crossrhythm import of_span
from scores.music.notation import Placement
from scores.music.ornaments import Choice
from scores.music.refusal import Refusal
from scores.music.sounding import Heard
from scores.music.tempo import FASTEST, SLOWEST, BadTempo, checked
from scores.ornament_places import choice_of, ornaments_in

PLACEMENTS: tuple[Placement, Placement] = ("before", "on")
TEMPO = re.compile(r"\d{1,4}(\.\d{1,4})?", re.ASCII)
NO_TEMPO = "A tempo lies between %(slowest)d and %(fastest)d beats a minute; %(tempo)s does not."
MOST_ASKED = 64  # ornaments that one address may speak of

Choices = Mapping[str, Choice]


@dataclass(frozen=True)
class Tried:
    """What a listener tries out against what is chosen: placements by ornament, and a tempo in quarters a minute."""

    placements: Mapping[str, Placement] = field(default_factory=dict)
    tempo: Fraction | None = None

    @classmethod
    def read(cls, query: QueryDict) -> "Tried":
        """From an address: "before" and "on" name ornaments, "tempo" counts quarters. Raises `BadTempo`."""
        asked = {note: placement for placement in PLACEMENTS for note in query.getlist(placement)[:MOST_ASKED]}
        return cls(asked, read_tempo(query["tempo"]) if query.get("tempo") else None)


def read_tempo(text: str) -> Fraction:
    """A tempo as typed. Raises `BadTempo`, for what is no number too."""
    text = text.strip().replace(",", ".")
    if not TEMPO.fullmatch(text):
        raise BadTempo(NO_TEMPO, {"slowest": SLOWEST, "fastest": FASTEST, "tempo": text[:12]})
    return Fraction(checked(Fraction(text)))


def chosen_in(rows: Iterable[OrnamentChoice]) -> dict[str, Choice]:
    """The choices of a passage, by ornament."""
    return {row.note: choice_of(row) for row in rows if not row.removed_at}


def placed(choices: Choices, placements: Mapping[str, Placement]) -> dict[str, Choice]:
    """The choices with other placements here and there."""
    moved = {note: replace(choices.get(note, Choice()), placement=where) for note, where in placements.items()}
    return {**choices, **moved}


def heard_in(passage: Passage, choices: Choices, tempo: Fraction | None = None) -> Heard:
    """Both hands of the passage's stretch, ornaments written out for `tempo`. Raises `NothingSounds` and `BadTempo`."""
    return sounding.between(passage.edition.score, passage.first_note, passage.last_note, choices, tempo=tempo)


def heard_in_drill(drill: RhythmDrill, choices: Choices, tempo: Fraction | None = None) -> Heard:
    """One cycle of a drill. Raises `NothingSounds` and `BadTempo`."""
    score = drill.passage.edition.score
    return sounding.in_span(score, Fraction(drill.start), Fraction(drill.end), choices, tempo=tempo)


def sounding_data(
    passage: Passage, choices: Choices, drills: Sequence[RhythmDrill], tempo: Fraction | None = None
) -> dict[str, Any]:
    """`sounding.to_data` of the passage, and `parts`: the drills' grids as [start, end, parts of the grid], and
    `ornaments`: each with its words, its place and where it falls now. Raises `NothingSounds` and `BadTempo`."""
    heard = heard_in(passage, choices, tempo)
    now = {one.key: one.placement for one in heard.ornaments}
    places = [place for place in ornaments_in(passage, ()) if place.note in now and place.has_placement]
    return {
        **sounding.to_data(heard),
        "parts": [grid for drill in drills for grid in grid_of(drill, passage)],
        "ornaments": [
            {
                "key": place.note,
                "what": str(place.what),
                "measure": place.number,
                "beat": place.beat,
                "placement": now[place.note],
            }
            for place in places
        ],
    }


def grid_of(drill: RhythmDrill, passage: Passage) -> Iterable[list[Any]]:
    """[[start, end, parts]] of a drill that can be read, nothing of another."""
    try:
        crossing = of_span(passage.edition.score.notes, Fraction(drill.start), Fraction(drill.end))
    except (Refusal, ValueError, ZeroDivisionError):
        return []
    return [[drill.start, drill.end, crossing.grid.parts]]


def usual_tempo(passage: Passage) -> int:
    """The edition's own mark where the passage begins, in whole quarters a minute; 90 without one."""
    score = passage.edition.score
    start = score.by_id[passage.first_note].onset
    marks = [mark.quarters for mark in score.tempos if mark.onset <= start]
    return round(min(max(marks[-1] if marks else sounding.ORDINARY, SLOWEST), FASTEST))
