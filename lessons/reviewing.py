"""Which of the pieces once learned are due to be played again.

Pure: no rows, no clock. The rule is plain and set by hand: a gap of days that grows when a review went well and starts
over when it did not (`lessons.progress.Rules`). It keeps pieces from being forgotten in the list; what stays in the
fingers it does not promise.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from lessons.progress import IN_FUTURE, USUAL, BadEntry, Rules, Sentence
from scores.music.fingering.problems import gettext_noop

FIRST = gettext_noop("The first review comes %(gap)d days after a piece was learned.")
NEXT = gettext_noop("It went well last time: again after %(gap)d days.")
OVER = gettext_noop("It was not clean last time: the gap starts over at %(gap)d days.")
WANTED = gettext_noop("The teacher has set the day.")


@dataclass(frozen=True, slots=True)
class Played:
    """A day on which a learned piece was played again, and whether it went well; None, where nobody said, counts as
    well."""

    day: date
    went_well: bool | None = None


@dataclass(frozen=True, slots=True)
class Learned:
    """A piece once learned. `key` names it to the caller. `wanted_on` is a day that the teacher set; it overrules the
    rule until the piece has been played on it or later."""

    key: int | str
    learned_on: date
    played: tuple[Played, ...] = ()
    wanted_on: date | None = None


@dataclass(frozen=True, slots=True)
class Review:
    """When a piece is due, after a gap of how many days, and why. `last` is the day on which it was
    played last, or learned."""

    key: int | str
    due_on: date
    gap: int
    last: date
    why: Sentence


def review_of(piece: Learned, *, today: date, rules: Rules = USUAL) -> Review:
    """When a piece is due. Raises `BadEntry` where it was played on a day that has not come.

    The first review is due `review_first` days after the piece was learned. A review on the due day or later that went
    well makes the gap `review_growth` times as long, to `review_longest` days at most. One that went badly, early or
    not, starts the gap over. Played well before it is due, the gap begins anew at its length. What was played before
    the piece was learned, or on that day, does not count.
    """
    played = sorted((one for one in piece.played if one.day > piece.learned_on), key=lambda one: one.day)
    last, gap, msgid = piece.learned_on, rules.review_first, FIRST
    for one in played:
        if one.went_well is False:
            gap, msgid = rules.review_first, OVER
        else:
            is_due = (one.day - last).days >= gap
            gap, msgid = (min(rules.review_longest, gap * rules.review_growth) if is_due else gap), NEXT
        last = one.day
    if played and last > today + timedelta(days=1):
        raise BadEntry(IN_FUTURE, {"day": last.isoformat(), "today": today.isoformat()})
    due_on = last + timedelta(days=gap)
    if piece.wanted_on is not None and (not played or piece.wanted_on > last):
        due_on, msgid = piece.wanted_on, WANTED
    return Review(piece.key, due_on, gap, last, Sentence(msgid, {} if msgid == WANTED else {"gap": gap}))


def due(pieces: Iterable[Learned], *, today: date, ahead: int = 0, rules: Rules = USUAL) -> tuple[Review, ...]:
    """What is due by `today`, or within so many days `ahead`: what has waited longest beyond its day first. Raises
    `BadEntry` for a day that has not come."""
    found = (review_of(piece, today=today, rules=rules) for piece in pieces)
    return tuple(sorted((one for one in found if one.due_on <= today + timedelta(days=ahead)), key=_by_day))


def _by_day(review: Review) -> tuple[date, int, str]:
    return review.due_on, review.gap, str(review.key)
