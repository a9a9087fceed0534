"""A fingering beside one student's hand: what it asks for, in words.

Only what is struck or held together is looked at: between one chord and the next a hand may travel.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations

from django.utils.translation import gettext as _

from scores.lines import ShownLine
from scores.music.fingering import hand as hands
from scores.music.fingering.text import fingers_of
from scores.music.notation import Moment, Note, Score
from scores.stretches import place_of
from studio.models import Hand
from studio.reach import an_interval, latest_hands

EASY, EDGE, BEYOND = "easy", "edge", "beyond"


@dataclass(frozen=True)
class Fit:
    """How a fingering lies in a hand. `kind` is "easy", "edge" (more than comfortable) or "beyond"."""

    kind: str
    words: str


def fits(lines: Iterable[ShownLine], measured: Iterable[Hand], score: Score) -> dict[str, Fit]:
    """For each line, by its key, how it lies in the student's hand; nothing for a hand that was never measured."""
    latest = latest_hands(measured)
    return {line.key: fit(line, latest[line.side], score) for line in lines if line.side in latest}


def fit(line: ShownLine, measured: Hand, score: Score) -> Fit:
    reach = hands.from_reach(line.side, measured.comfortable, measured.largest, pairs=measured.pairs)
    worst = max(grips(line, reach), key=lambda grip: grip[0], default=None)
    if worst is None or worst[0] == 0:
        return Fit(EASY, _("lies within this hand's comfort"))
    level, low, high, fingers = worst
    place = place_of(score, low)
    values = {
        "interval": an_interval(high.pitch.midi - low.pitch.midi),
        "first": fingers[0],
        "second": fingers[1],
        "measure": place.measure,
        "beat": place.beat,
    }
    if level == 1:
        words = _("more than comfortable: %(interval)s between %(first)s and %(second)s, m. %(measure)s beat %(beat)s")
        return Fit(EDGE, words % values)
    words = _("beyond this hand: %(interval)s between %(first)s and %(second)s, m. %(measure)s beat %(beat)s")
    return Fit(BEYOND, words % values)


def grips(line: ShownLine, hand: hands.Hand) -> Iterator[tuple[int, Note, Note, tuple[int, int]]]:
    """Every two keys held at once: (0 easy, 1 more than comfortable, 2 beyond; lower note, higher note, fingers)."""
    for moment in line.moments:
        for low, high in combinations(fingered(line, moment), 2):
            (low_note, low_finger), (high_note, high_finger) = low, high
            if low_finger == high_finger:
                continue
            spans = hand.by_pair[(min(low_finger, high_finger), max(low_finger, high_finger))]
            span = hand.span(low_finger, low_note.pitch.midi, high_finger, high_note.pitch.midi)
            level = 0 if span <= spans.max_comfortable else 1 if span <= spans.max_practical else 2
            yield level, low_note, high_note, (low_finger, high_finger)


def fingered(line: ShownLine, moment: Moment) -> list[tuple[Note, int]]:
    found = [(note, fingers_of(line.fingers.get(note.id, ""))) for note in moment.notes]
    return [(note, fingers[0]) for note, fingers in found if fingers]
