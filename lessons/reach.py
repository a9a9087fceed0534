"""A fingering beside one student's hand: what it asks for, in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from scores.judging import Stretch, can_be_judged, engine_hand, verdict_on
from scores.lines import ShownLine
from scores.models import Passage
from scores.music.notation import Score
from scores.stretches import place_of
from studio.models import Hand
from studio.reach import an_interval, latest_hands

EASY, EDGE, BEYOND = "easy", "edge", "beyond"


@dataclass(frozen=True)
class Fit:
    """How a fingering lies in a hand. `kind` is "easy", "edge" (more than comfortable) or "beyond"."""

    kind: str
    words: str


def fits(lines: Iterable[ShownLine], measured: Iterable[Hand], passage: Passage) -> dict[str, Fit]:
    """For each line of the passage, by its key, how it lies in the student's hand; nothing for a hand that was never
    measured, nor for a line that says nothing or that no hand can play."""
    latest = latest_hands(measured)
    return {
        line.key: fit(line, latest[line.side], passage) for line in lines if line.side in latest and can_be_judged(line)
    }


def fit(line: ShownLine, measured: Hand, passage: Passage) -> Fit:
    """As on the desk: what is out of reach, else where it goes furthest beyond comfort."""
    verdict = verdict_on(line, engine_hand(measured), passage)
    score = passage.edition.score
    if verdict.level == "well":
        return Fit(EASY, _("lies within this hand's comfort"))
    if verdict.level == "care" and verdict.furthest:
        words = _("more than comfortable: %(interval)s between %(first)s and %(second)s, m. %(measure)s beat %(beat)s")
        return Fit(EDGE, words % values(verdict.furthest, score))
    if verdict.first_beyond:
        words = _("beyond this hand: %(interval)s between %(first)s and %(second)s, m. %(measure)s beat %(beat)s")
        return Fit(BEYOND, words % values(verdict.first_beyond, score))
    problem = verdict.judgement.impossible[0]
    return Fit(BEYOND, _(problem.message) % dict(problem.params))


def values(stretch: Stretch, score: Score) -> dict[str, object]:
    place = place_of(score, score.by_id[stretch.notes[0]])
    first, second = stretch.pair
    return {
        "interval": an_interval(stretch.span),
        "first": first,
        "second": second,
        "measure": place.measure,
        "beat": place.beat,
    }
