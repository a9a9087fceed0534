"""The survey itself: one reading of a score from the first measure to the last."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from scores.music.notation import SIDES, Score
from scores.music.survey.faults import faults
from scores.music.survey.frame import frame
from scores.music.survey.rhythms import rhythms
from scores.music.survey.shapes import shapes
from scores.music.survey.signs import printed_signs
from scores.music.survey.timeline import Timeline
from scores.music.survey.words import KINDS, Finding, Options

HAND_ORDER = {hand: place for place, hand in enumerate((*SIDES, "both"))}
KIND_ORDER = {kind: place for place, kind in enumerate(KINDS)}


def survey(score: Score, options: Options | None = None) -> tuple[Finding, ...]:
    """Everything in the score that will need a word, in score order; of what begins at one moment the right hand's
    first, then the left's, then what concerns both.

    Each thing is one finding: a group of graces, a rolled chord of a hand, a cross-rhythm for as long as it runs on.
    What is already said more fully by another finding is left out: an unusual tuplet inside a cross-rhythm that is
    listed, a rolled chord that is listed as wide, a fast passage that is nothing but a repeated note. A kind that is
    switched off says nothing, so what it would have said stands with the plainer kind again. Bad material never stops
    the walk. Time is linear in the notes, but for the sort of the findings.
    """
    options = options or Options()
    line = Timeline(score, options)
    found = [one for one in everything(line) if one.kind in options.kinds]
    return tuple(sorted(found, key=lambda one: order(one, score)))


def everything(line: Timeline) -> Iterator[Finding]:
    yield from printed_signs(line)
    yield from rhythms(line)
    yield from shapes(line)
    yield from frame(line)
    yield from faults(line)


def order(one: Finding, score: Score) -> tuple[Fraction, int, int, int, str]:
    """Graces stand before the note that they lead to."""
    first = score.place_of[one.anchor or one.notes[0]] if one.notes else -1
    return (one.onset, HAND_ORDER[one.hand], first, KIND_ORDER[one.kind], one.detail)
