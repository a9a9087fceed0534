"""What a practice log shows: minutes, tempos, clean runs, how practice was spaced; and the rules and words of what is
suggested from it (`lessons/climbing.py`, `lessons/reviewing.py`).

Pure: no rows, no clock; the day comes in as an argument. Tempos are quarters a minute. Nothing here promises a gain.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import date, timedelta
from itertools import combinations, groupby, pairwise
from typing import Literal, get_args

from scores.music.fingering.problems import gettext_noop
from scores.music.refusal import Refusal
from scores.music.tempo import checked

Felt = Literal["", "easy", "right", "hard", "hurt"]
# What to play next; what there is to notice on the way; what there is to notice in how practice was spaced.
Move = Literal["begin", "unknown", "up", "stay", "down", "again", "reached", "kept", "rest"]
Notice = Literal["plateau", "steep", "late", "spread", "long"]

MOST_MINUTES = 600  # of one entry, as in the log's own form
MOST_TRIES = 999
LONGEST_WINDOW = 3_700  # days, about ten years
WEEK = timedelta(days=7)

BAD_MINUTES = gettext_noop("An entry has 1 to %(most)d minutes; %(minutes)s does not fit.")
BAD_TRIES = gettext_noop(
    "An entry has at most %(most)d tries and no more clean runs than tries; %(clean)s of %(tries)s does not fit."
)
HALF_TRIES = gettext_noop("Clean runs and tries belong together: one of them is missing.")
BAD_ROW = gettext_noop("No more clean runs in a row than clean runs: %(row)s of %(clean)s does not fit.")
BAD_FELT = gettext_noop("Nobody has said what “%(felt)s” feels like.")
IN_FUTURE = gettext_noop("An entry is of %(day)s, and today is %(today)s: that day has not come yet.")
BAD_RULE = gettext_noop("The rule “%(rule)s” lies between %(least)d and %(most)d; %(value)s does not.")
CROSSED_RULES = gettext_noop("The share that leads down has to lie below the share that leads up.")
CROSSED_GAPS = gettext_noop("The longest gap between reviews cannot be shorter than the first.")

SPREAD = gettext_noop(
    "All %(minutes)d minutes of the last %(window)d days fell on one day; the same time on several days puts nights "
    "between, which helped in one study and promises nothing."
)
LONG = gettext_noop(
    "More than %(most)d minutes were logged on one day (%(minutes)d): rest often and stop when anything hurts; pain "
    "that lasts belongs to a clinician."
)


class BadEntry(Refusal):
    """An entry that no practice can have given."""


class BadRules(Refusal):
    """Rules that nobody can practise by."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """A sentence for people: `msgid` is English with %(name)s places for `params`; the screens translate it."""

    msgid: str
    params: Mapping[str, str | int] = field(default_factory=dict)

    def __str__(self) -> str:
        return self.msgid % self.params if self.params else self.msgid


@dataclass(frozen=True, slots=True)
class Suggestion:
    """One thing to do or to notice, and why. `tempo` is the one to play at, None where it speaks of none."""

    kind: Move | Notice
    why: Sentence
    tempo: int | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One record of work on one day: `minutes`, and, where they were noted, the tempo and the clean runs out of tries.

    `in_a_row` is the longest run of clean ones, where somebody noted it. `felt` is how it felt; "hurt" stops every
    suggestion to play. Raises `BadEntry` and `BadTempo`.
    """

    day: date
    minutes: int
    tempo: int | None = None
    clean: int | None = None
    tries: int | None = None
    felt: Felt = ""
    in_a_row: int | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.minutes <= MOST_MINUTES:
            raise BadEntry(BAD_MINUTES, {"most": MOST_MINUTES, "minutes": str(self.minutes)})
        if self.tempo is not None:
            checked(self.tempo)
        if self.felt not in get_args(Felt):
            raise BadEntry(BAD_FELT, {"felt": str(self.felt)})
        if self.in_a_row is not None and not 0 <= self.in_a_row <= (self.clean or 0):
            raise BadEntry(BAD_ROW, {"row": str(self.in_a_row), "clean": str(self.clean or 0)})
        if self.clean is None and self.tries is None:
            return
        if self.clean is None or self.tries is None:
            raise BadEntry(HALF_TRIES)
        if not 0 <= self.clean <= self.tries <= MOST_TRIES:
            raise BadEntry(BAD_TRIES, {"most": MOST_TRIES, "clean": str(self.clean), "tries": str(self.tries)})

    @property
    def runs(self) -> tuple[int, int, int] | None:
        """Tempo, clean runs and tries of an entry that tells all three, None otherwise: no try tells nothing."""
        if self.tempo is None or self.clean is None or not self.tries:
            return None
        return self.tempo, self.clean, self.tries


@dataclass(frozen=True, slots=True)
class Rules:
    """By what the ladder climbs and what is noticed, all adjustable. Shares are in percent, so that comparing is exact.

    Where no source is named the value is set by hand: common practice at most, no evidence that it is best. That the
    share of correct tries told more of the next day than minutes or the number of tries: Duke, Simmons & Cash 2009
    (17 pianists). That a night between helped accuracy: Simmons 2012. Neither says which share or which gap.
    """

    clean_in_a_row: int = 3  # clean runs in a row that lead to the next mark; common practice
    share_up: int = 75  # % of an entry's tries that have to be clean for it to count towards the next mark
    marks_up: int = 1
    failing_entries: int = 2  # entries in a row in which fewer than `share_down` % were clean, that lead a mark back
    share_down: int = 50
    marks_down: int = 1
    same_tempo: int = 15  # thousandths; a difference in tempo is noticed from 1.5 % (Drake & Botte, abstract)
    most_marks: int = 4  # marks from one lesson to the next that are still called gradual
    plateau_days: int = 6  # days of counted practice without a mark nearer to the goal ...
    plateau_span: int = 14  # ... over at least so many days
    away_days: int = 14  # after so many days without practice one begins a mark lower
    trend_days: int = 42  # days that the trend looks back
    spacing_days: int = 7  # days that spacing looks back
    bunched_minutes: int = 45  # from so many minutes on, all on one day, spreading them is suggested
    long_minutes: int = 60  # more than this on one day brings the caution on long practice
    review_first: int = 7  # days from learned to the first review
    review_growth: int = 2  # a review that went well makes the gap so many times as long
    review_longest: int = 112  # days, sixteen weeks

    def __post_init__(self) -> None:
        for rule in fields(self):
            least, most = LIMITS.get(rule.name, (1, 366))
            if not least <= (value := getattr(self, rule.name)) <= most:
                raise BadRules(BAD_RULE, {"rule": rule.name, "least": least, "most": most, "value": str(value)})
        if self.share_down > self.share_up:
            raise BadRules(CROSSED_RULES)
        if self.review_first > self.review_longest:
            raise BadRules(CROSSED_GAPS)


LIMITS = {
    "clean_in_a_row": (1, 50),
    "share_up": (1, 100),
    "share_down": (0, 100),
    "marks_up": (1, 10),
    "marks_down": (1, 10),
    "same_tempo": (0, 27),  # the smallest step of the ladder is 28 thousandths: wider, two marks would be one
    "bunched_minutes": (1, 10_000),
    "long_minutes": (1, MOST_MINUTES),
    "review_growth": (1, 10),
    "review_longest": (1, 3_650),
}


USUAL = Rules()


def in_order(entries: Iterable[Entry], *, today: date) -> tuple[Entry, ...]:
    """Entries by day; those of one day stay in the order they came in. Raises `BadEntry` for a day that has not come.

    One day ahead is let through: somewhere it is tomorrow already, and a student may be there.
    """
    found = tuple(sorted(entries, key=lambda entry: entry.day))
    if found and found[-1].day > today + timedelta(days=1):
        raise BadEntry(IN_FUTURE, {"day": found[-1].day.isoformat(), "today": today.isoformat()})
    return found


# What the numbers say


def median(values: Iterable[float]) -> float | None:
    """The middle value, or the mean of the two in the middle; None of nothing."""
    found = list(values)
    return statistics.median(found) if found else None


def slope(points: Iterable[tuple[float, float]]) -> float | None:
    """How much y rises for one of x: the median of the slopes between each two points of unlike x (Theil 1950, Sen
    1968), which one mistyped value hardly moves. None where there are no two. Costs the square of the points."""
    return median((y2 - y1) / (x2 - x1) for (x1, y1), (x2, y2) in combinations(points, 2) if x1 != x2)


def clean_share(entries: Iterable[Entry]) -> float | None:
    """Clean runs out of all tries, 0 to 1; None where nobody counted."""
    clean, tries = counted(entries)
    return clean / tries if tries else None


def counted(entries: Iterable[Entry]) -> tuple[int, int]:
    """Clean runs and tries, summed."""
    clean = tries = 0
    for entry in entries:
        clean += entry.clean or 0
        tries += entry.tries or 0
    return clean, tries


@dataclass(frozen=True, slots=True)
class Stretch:
    """Entries of a day, or of a week from Monday `day` on, taken together. `days` are those with practice, `tempo` is
    the fastest noted, `middle_tempo` the median of those noted."""

    day: date
    days: int
    minutes: int
    tempo: int | None
    middle_tempo: float | None
    clean: int
    tries: int

    @property
    def share(self) -> float | None:
        return self.clean / self.tries if self.tries else None


def by_day(entries: Iterable[Entry]) -> tuple[Stretch, ...]:
    """The days with practice, the oldest first."""
    return tuple(_stretches(entries, weekly=False))


def by_week(entries: Iterable[Entry]) -> tuple[Stretch, ...]:
    """The weeks with practice, each from its Monday, the oldest first."""
    return tuple(_stretches(entries, weekly=True))


def _stretches(entries: Iterable[Entry], *, weekly: bool) -> Iterator[Stretch]:
    def first_of(entry: Entry) -> date:
        return entry.day - timedelta(days=entry.day.weekday()) if weekly else entry.day

    for day, group in groupby(sorted(entries, key=first_of), key=first_of):
        here = list(group)
        tempos = [entry.tempo for entry in here if entry.tempo is not None]
        yield Stretch(
            day,
            len({entry.day for entry in here}),
            sum(entry.minutes for entry in here),
            max(tempos, default=None),
            median(tempos),
            *counted(here),
        )


def minutes_by_day(entries: Iterable[Entry], first: date, last: date) -> tuple[tuple[date, int], ...]:
    """The minutes of every day from `first` to `last`, both included; 0 where nothing was logged. Raises `ValueError`
    for a window of more than about ten years."""
    if (last - first).days >= LONGEST_WINDOW:
        raise ValueError("too many days to show")
    found = {first + timedelta(days=number): 0 for number in range((last - first).days + 1)}
    for entry in entries:
        if entry.day in found:
            found[entry.day] += entry.minutes
    return tuple(found.items())


@dataclass(frozen=True, slots=True)
class Spacing:
    """How practice was spaced. `days` of the last `window` days had practice, `minutes` in all, `most_minutes` on the
    fullest of them. Gaps are days from one day of practice to the next, over the whole log: 1 is the day after."""

    window: int
    days: int
    minutes: int
    most_minutes: int
    middle_gap: float | None
    longest_gap: int | None
    since_last: int | None


def spacing(entries: Iterable[Entry], *, today: date, rules: Rules = USUAL) -> Spacing:
    """How practice was spaced up to `today`. Raises `BadEntry` for a day that has not come."""
    found = by_day(in_order(entries, today=today))
    recent = [row for row in found if row.day > today - timedelta(days=rules.spacing_days)]
    gaps = [(after.day - before.day).days for before, after in pairwise(found)]
    return Spacing(
        window=rules.spacing_days,
        days=len(recent),
        minutes=sum(row.minutes for row in recent),
        most_minutes=max((row.minutes for row in recent), default=0),
        middle_gap=median(gaps),
        longest_gap=max(gaps, default=None),
        since_last=max(0, (today - found[-1].day).days) if found else None,
    )


def on_spacing(entries: Iterable[Entry], *, today: date, rules: Rules = USUAL) -> tuple[Suggestion, ...]:
    """What there is to say of the spacing: all on one day, or very long on one. Best asked with all of a student's
    entries, whatever the passage. Raises `BadEntry` for a day that has not come."""
    found = spacing(entries, today=today, rules=rules)
    said = []
    if found.days == 1 and found.minutes >= rules.bunched_minutes:
        said.append(Suggestion("spread", Sentence(SPREAD, {"minutes": found.minutes, "window": found.window})))
    if found.most_minutes > rules.long_minutes:
        said.append(Suggestion("long", Sentence(LONG, {"most": rules.long_minutes, "minutes": found.most_minutes})))
    return tuple(said)


@dataclass(frozen=True, slots=True)
class Summary:
    """A log in numbers. `tempo` is the fastest noted, `clean_tempo` the fastest at which enough tries were clean,
    `trend` quarters a minute won or lost a week (see `slope`), over the fastest of each day lately."""

    entries: int
    first_day: date | None
    last_day: date | None
    days: int
    minutes: int
    middle_minutes: float | None
    tempo: int | None
    middle_tempo: float | None
    clean_tempo: int | None
    clean: int
    tries: int
    trend: float | None
    spacing: Spacing

    @property
    def share(self) -> float | None:
        return self.clean / self.tries if self.tries else None


def summary(entries: Iterable[Entry], *, today: date, rules: Rules = USUAL) -> Summary:
    """The log in numbers, medians over days with practice. Raises `BadEntry` for a day that has not come."""
    found = in_order(entries, today=today)
    days = by_day(found)
    clean, tries = counted(found)
    tempos = [entry.tempo for entry in found if entry.tempo is not None]
    return Summary(
        entries=len(found),
        first_day=days[0].day if days else None,
        last_day=days[-1].day if days else None,
        days=len(days),
        minutes=sum(row.minutes for row in days),
        middle_minutes=median(row.minutes for row in days),
        tempo=max(tempos, default=None),
        middle_tempo=median(tempos),
        clean_tempo=max((run[0] for run in _clean_runs(found, rules)), default=None),
        clean=clean,
        tries=tries,
        trend=trend(days, today=today, rules=rules),
        spacing=spacing(found, today=today, rules=rules),
    )


def trend(days: Sequence[Stretch], *, today: date, rules: Rules = USUAL) -> float | None:
    """Quarters a minute that the fastest tempo of a day rose in a week, over the last `rules.trend_days` days."""
    first = today - timedelta(days=rules.trend_days)
    points = [(row.day.toordinal() / WEEK.days, row.tempo) for row in days if row.tempo is not None and row.day > first]
    return slope(points)


def _clean_runs(entries: Iterable[Entry], rules: Rules) -> Iterator[tuple[int, int, int]]:
    for entry in entries:
        if (runs := entry.runs) and 100 * runs[1] >= rules.share_up * runs[2]:
            yield runs
