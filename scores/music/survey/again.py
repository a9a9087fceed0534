"""The list made shorter by what returns: what was said once need not be said again."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from scores.music.fingering.problems import gettext_noop
from scores.music.notation import Score
from scores.music.recurrences import Again
from scores.music.survey.walk import order
from scores.music.survey.words import FAULTS, Finding, Kind

RETURNS = gettext_noop("Measures %(first)s–%(last)s are %(source)s again; what was found there is not said twice.")
RETURNS_ONE = gettext_noop("Measure %(first)s is %(source)s again; what was found there is not said twice.")
RETURNS_RIGHT = gettext_noop(
    "In measures %(first)s–%(last)s the right hand plays %(source)s again; what was found there is not said twice."
)
RETURNS_LEFT = gettext_noop(
    "In measures %(first)s–%(last)s the left hand plays %(source)s again; what was found there is not said twice."
)
MESSAGES = {"both": RETURNS, "right": RETURNS_RIGHT, "left": RETURNS_LEFT}

# What belongs to its own place, whatever else returns there.
STAYS: frozenset[Kind] = FAULTS | {"tempo", "metre", "key", "printed", "substitution", "recurrence"}

Same = tuple[str, str, str, int, Fraction, int]


def shortened(findings: Sequence[Finding], again: Iterable[Again], score: Score) -> tuple[Finding, ...]:
    """The findings without those that stand, with the same kind, hand and beat, at the place that is said to return
    here; each such return is one finding of kind "recurrence" instead. What returns transposed is left as it is: black
    keys fall elsewhere."""
    there = {same(one, one.measure) for one in findings}
    taken: set[int] = set()
    returns: list[Finding] = []
    by_measure: dict[int, list[int]] = {}
    for place, one in enumerate(findings):
        by_measure.setdefault(one.measure, []).append(place)
    for one_more in again:
        if one_more.semitones:
            continue
        before = len(taken)
        for measure in range(one_more.first, one_more.last + 1):
            for place in by_measure.get(measure, ()):
                one = findings[place]
                fits = one.last_measure <= one_more.last and one_more.hands in ("both", one.hand)
                if fits and one.kind not in STAYS and same(one, one_more.at(measure)) in there:
                    taken.add(place)
        if len(taken) > before:
            returns.append(said_again(one_more, score, len(taken) - before))
    kept = [one for place, one in enumerate(findings) if place not in taken]
    return tuple(sorted([*kept, *returns], key=lambda one: order(one, score)))


def same(one: Finding, measure: int) -> Same:
    return (one.kind, one.detail, one.hand, measure, one.beat, len(one.notes))


def said_again(one: Again, score: Score, count: int) -> Finding:
    first, last = score.measures[one.first], score.measures[one.last]
    notes = score.in_measures(first.index, first.index, one.hands)
    numbers = [(score.measures[low].number, score.measures[high].number) for low, high in one.runs]
    source = ", ".join(low if low == high else f"{low}–{high}" for low, high in numbers)
    return Finding(
        kind="recurrence",
        measure=first.index,
        number=first.number,
        beat=first.beat_of(first.start),
        onset=first.start,
        hand=one.hands,
        notes=tuple(note.id for note in notes if note.onset == notes[0].onset),
        message=RETURNS_ONE if one.hands == "both" and first is last else MESSAGES[one.hands],
        params={"first": first.number, "last": last.number, "source": source, "count": count},
        last_measure=last.index,
        last_number=last.number,
    )
