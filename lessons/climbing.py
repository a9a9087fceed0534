"""The ladder and what was practised on it: where a student stands, which mark comes next and why, what is in the way.

Pure: no rows, no clock. Tempos are quarters a minute, steps are marks of `scores.music.tempo`. A log says how many
tries were clean but seldom in which order; unless it does, only what holds in every order counts as clean in a row. All
of it suggests; the teacher's word comes first.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from lessons.progress import USUAL, Entry, Rules, Sentence, Suggestion, in_order
from scores.music.fingering.problems import gettext_noop
from scores.music.tempo import RUNGS, SLOWEST, checked, ladder, mark_above, mark_below

BEGIN = gettext_noop("No practice is in the log for this mark yet: begin at %(tempo)d.")
UNKNOWN = gettext_noop(
    "The log does not say at which tempo how many tries were clean: begin at %(tempo)d and count them."
)
UP = gettext_noop("At least %(runs)d clean runs in a row at %(before)d: %(after)d comes next.")
SLOWER = gettext_noop("At least %(runs)d clean runs in a row at %(before)d: down to %(after)d, towards %(goal)d.")
DOWN = gettext_noop(
    "In the last %(entries)d entries, lately at %(tempo)d, fewer than %(share)d %% of the tries were clean: back to "
    "%(after)d."
)
DOWN_AT_ONCE = gettext_noop("At %(tempo)d fewer than %(share)d %% of the tries were clean: back to %(after)d.")
STAY = gettext_noop(
    "Of the tries that count for %(tempo)d, %(clean)d of %(tries)d were clean; at least %(need)d in a row and "
    "%(share)d %% of an entry lead on."
)
UNTRIED = gettext_noop("Nothing in the log counts for %(tempo)d yet: at least %(need)d clean runs in a row lead on.")
HARD = gettext_noop("The last runs at %(tempo)d felt hard or hurt: no faster until they feel right.")
AGAIN = gettext_noop("Not practised for %(days)d days: begin again at %(tempo)d, below %(stand)d.")
REACHED = gettext_noop("%(goal)d is reached: at least %(runs)d clean runs in a row.")
KEPT = gettext_noop("The teacher keeps this passage at %(tempo)d for now.")
REST = gettext_noop(
    "The log says that it hurt: no tempo is suggested. Stop, rest and tell the teacher; pain that lasts belongs to a "
    "clinician."
)
PLATEAU = gettext_noop(
    "No new mark on the way to %(goal)d in %(span)d days, with %(days)d days of practice: perhaps a shorter stretch, "
    "one hand alone, another fingering or another rhythm rather than more of the same."
)
STEEP = gettext_noop(
    "Marks from here to %(goal)d: %(marks)d. Lessons left: %(lessons)d. That is more than %(most)d a lesson: a later "
    "date, a slower tempo or a shorter stretch would leave time."
)
LATE = gettext_noop(
    "No lesson is left and the mark is %(tempo)d, not %(goal)d: set another date or another tempo to reach."
)
CAUTION = gettext_noop(
    "Faster only while it stays easy, with rests. Stop when anything hurts; pain that lasts belongs to a clinician."
)


ALWAYS = Sentence(CAUTION)


@dataclass(frozen=True, slots=True)
class Step:
    """A change of mark, on the day of the entry that led to it."""

    day: date
    kind: Literal["up", "down", "reached"]
    before: int
    after: int
    why: Sentence


@dataclass(slots=True)
class Stand:
    """Where the entries have led: `tempo` is the mark to practise at, from `began` towards `goal`.

    Since that became the mark, `clean` of `tries` counted for it, the last `in_a_row` of them at least were clean, at
    `row_tempo` or faster, and `failing` entries came one after the other; `is_hard` when the last felt hard. `nearest`
    is the mark nearest to the goal so far, `nearest_on` the day on which it was won (None: where it began), `days` how
    many days of counted practice came after it, from `first_day` to `last_day`.
    """

    began: int
    goal: int
    tempo: int
    nearest: int
    steps: list[Step] = field(default_factory=list)
    clean: int = 0
    tries: int = 0
    in_a_row: int = 0
    row_tempo: int = 0
    failing: int = 0
    is_hard: bool = False
    reached_on: date | None = None
    nearest_on: date | None = None
    days: int = 0
    first_day: date | None = None
    last_day: date | None = None

    @property
    def is_above_goal(self) -> bool:
        return self.tempo > self.goal


def shortest_end(need: int, clean: int, tries: int, before: int = 0) -> int | None:
    """The fewest clean runs that can stand at the end of these tries if nowhere `need` of them came in a row, `before`
    clean ones right in front of them counted in; None where `need` came in a row whatever the order was."""
    most = need - 1
    failed = tries - clean
    if not failed:
        return before + clean if before + clean <= most else None
    left = clean - (most - before) - (failed - 1) * most  # what the groups before the last failed try cannot take
    return max(0, left) if left <= most else None


def climb(entries: Iterable[Entry], *, now: int, goal: int, rules: Rules = USUAL) -> Stand:
    """Goes through entries in their order and says where they lead from `now`. Raises `BadTempo`.

    Up to the goal, enough clean runs at the mark or faster lead to the next mark, and failing entries at the mark or
    slower lead back; faster entries that fail count for nothing. Above the goal (a passage taken too fast) both lead
    down to it, and faster entries count for nothing.
    """
    checked(now)
    checked(goal)
    here = Stand(began=now, goal=goal, tempo=now, nearest=now)
    for entry in entries:
        if entry.runs is not None:
            _practise(here, entry, *entry.runs, rules)
    return here


def _practise(here: Stand, entry: Entry, tempo: int, clean: int, tries: int, rules: Rules) -> None:
    _count_day(here, entry.day)
    is_fast_enough = here.is_above_goal or _at_least(tempo, here.tempo, rules)
    is_slow_enough = _at_least(here.tempo, tempo, rules)
    if is_slow_enough and is_fast_enough:
        here.clean += clean
        here.tries += tries
    if is_fast_enough and (is_slow_enough or not here.is_above_goal):
        here.is_hard = entry.felt in ("hard", "hurt")
        if here.is_hard or 100 * clean < rules.share_up * tries:
            here.in_a_row = 0 if is_slow_enough and clean < tries else here.in_a_row
        elif _completes_a_row(here, entry, tempo, clean, tries, rules):
            _onward(here, entry.day, rules)
            return
    if is_slow_enough:
        here.failing = here.failing + 1 if 100 * clean < rules.share_down * tries else 0
        if here.failing >= rules.failing_entries:
            _back(here, entry.day, min(tempo, here.tempo), rules)


def _count_day(here: Stand, day: date) -> None:
    if day != here.last_day:
        here.days += 1
        here.last_day = day
        here.first_day = here.first_day or day


def _at_least(one: int, other: int, rules: Rules) -> bool:
    """Whether `one` is no slower than `other`, but for a difference that goes unnoticed."""
    return 1000 * one >= (1000 - rules.same_tempo) * other


def _completes_a_row(here: Stand, entry: Entry, tempo: int, clean: int, tries: int, rules: Rules) -> bool:
    """Whether with this entry enough clean runs in a row are certain; keeps the slowest tempo among them."""
    need = rules.clean_in_a_row
    if (entry.in_a_row or 0) >= need or shortest_end(need, clean, tries) is None:
        here.row_tempo = tempo
        return True
    end = shortest_end(need, clean, tries, here.in_a_row)
    here.row_tempo = min(tempo, here.row_tempo) if here.in_a_row else tempo
    here.in_a_row = end or 0
    return end is None


def _onward(here: Stand, day: date, rules: Rules) -> None:
    goal, runs = here.goal, rules.clean_in_a_row
    if here.is_above_goal:
        tempo = min(here.row_tempo, here.tempo)
        after = max(goal, mark_below(tempo, rules.marks_down) or goal)
        is_there = _at_least(goal, tempo, rules) and _at_least(tempo, goal, rules)
    else:
        tempo = max(here.row_tempo, here.tempo)
        after = min(goal, mark_above(tempo, rules.marks_up) or goal)
        is_there = _at_least(tempo, goal, rules)
    if is_there and here.reached_on is not None:
        here.in_a_row = here.failing = 0
    elif is_there:
        here.reached_on = day
        _move(here, Step(day, "reached", here.tempo, goal, Sentence(REACHED, {"goal": goal, "runs": runs})))
    elif here.is_above_goal:
        params = {"runs": runs, "before": here.row_tempo, "after": after, "goal": goal}
        _move(here, Step(day, "down", here.tempo, after, Sentence(SLOWER, params)))
    else:
        params = {"runs": runs, "before": here.row_tempo, "after": after}
        _move(here, Step(day, "up", here.tempo, after, Sentence(UP, params)))


def _back(here: Stand, day: date, tempo: int, rules: Rules) -> None:
    after = mark_below(tempo, rules.marks_down) or SLOWEST
    if here.is_above_goal:
        after = max(here.goal, after)
    if after == here.tempo:
        return  # there is no slower mark
    msgid = DOWN if here.failing > 1 else DOWN_AT_ONCE
    params = {"tempo": tempo, "share": rules.share_down, "after": after, "entries": here.failing}
    here.reached_on = None
    _move(here, Step(day, "down", here.tempo, after, Sentence(msgid, params)))


def _move(here: Stand, step: Step) -> None:
    here.steps.append(step)
    here.tempo = step.after
    here.clean = here.tries = here.in_a_row = here.row_tempo = here.failing = 0
    if step.kind == "reached" or abs(math.log(step.after / here.goal)) < abs(math.log(here.nearest / here.goal)):
        here.nearest, here.nearest_on = step.after, step.day
        here.days, here.first_day = 0, None


# The way to the date


@dataclass(frozen=True, slots=True)
class Target:
    """The mark at which the passage would stand at a lesson if the way were even: a plan, no forecast."""

    day: date
    tempo: int


def plan(now: int, goal: int, lessons: Sequence[date]) -> tuple[Target, ...]:
    """From `now` to `goal` over these lessons, evenly in ratio, in marks; the last has `goal`. Raises `BadTempo`."""
    rungs = whole_ladder(now, goal)
    targets = []
    for number, day in enumerate(sorted(lessons), start=1):
        wanted = math.log(now) + math.log(goal / now) * number / len(lessons)
        targets.append(Target(day, min(rungs, key=lambda mark: abs(math.log(mark) - wanted))))
    return tuple(targets)


def whole_ladder(now: int, goal: int) -> tuple[int, ...]:
    """Every mark from `now` to `goal`, both included. Raises `BadTempo`."""
    return ladder(now, goal, most=len(RUNGS) + 2)


# What to suggest


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do next, why, and what to notice besides.

    `marks` are those to practise at until the next lesson, from the suggested tempo on (none where rest comes first);
    `plan` has a mark for each lesson left. Wherever this is shown, `caution` stands.
    """

    next: Suggestion
    notices: tuple[Suggestion, ...]
    marks: tuple[int, ...]
    plan: tuple[Target, ...]
    stand: Stand
    caution: Sentence = ALWAYS


def advise(
    entries: Iterable[Entry],
    *,
    now: int,
    goal: int,
    today: date,
    since: date | None = None,
    lessons: Iterable[date] | None = None,
    is_kept: bool = False,
    rules: Rules = USUAL,
) -> Advice:
    """What to suggest for one passage.

    `now` is the tempo that the teacher wrote on the day `since`; entries before that day no longer count, so a new
    word of the teacher's overrules the log. `is_kept` keeps the passage at `now`. `lessons` are the days of the lessons
    until the date, None where there is no date; those up to today are over. Raises `BadTempo` and `BadEntry`.
    """
    found = tuple(entry for entry in in_order(entries, today=today) if since is None or entry.day >= since)
    stand = climb(found, now=now, goal=goal, rules=rules)
    left = None if lessons is None else sorted(day for day in lessons if day > today)
    move = _kept(found, now) if is_kept else _next(found, stand, today, rules)
    start = stand.tempo if move.tempo is None else move.tempo
    targets = plan(start, goal, left) if left and not is_kept else ()
    notices = () if is_kept or move.kind == "rest" else tuple(_notices(stand, left, rules))
    return Advice(move, notices, _marks(move, goal, targets, rules), targets, stand)


def _hurt(entries: Sequence[Entry]) -> bool:
    """Whether the last day of practice has an entry that hurt."""
    return any(entry.felt == "hurt" for entry in entries if entry.day == entries[-1].day)


def _kept(entries: Sequence[Entry], now: int) -> Suggestion:
    if _hurt(entries):
        return Suggestion("rest", Sentence(REST))
    return Suggestion("kept", Sentence(KEPT, {"tempo": now}), now)


def _next(entries: Sequence[Entry], stand: Stand, today: date, rules: Rules) -> Suggestion:
    if not entries:
        return Suggestion("begin", Sentence(BEGIN, {"tempo": stand.tempo}), stand.tempo)
    if _hurt(entries):
        return Suggestion("rest", Sentence(REST))
    if stand.reached_on is not None:
        return Suggestion("reached", stand.steps[-1].why, stand.goal)
    away = (today - entries[-1].day).days
    lower = mark_below(stand.tempo)
    if away >= rules.away_days and lower is not None and stand.tempo <= stand.goal:
        params = {"days": away, "tempo": lower, "stand": stand.tempo}
        return Suggestion("again", Sentence(AGAIN, params), lower)
    if all(entry.runs is None for entry in entries):
        return Suggestion("unknown", Sentence(UNKNOWN, {"tempo": stand.tempo}), stand.tempo)
    if not stand.tries and stand.steps:
        step = stand.steps[-1]
        return Suggestion("down" if step.kind == "down" else "up", step.why, step.after)
    return Suggestion("stay", _why_stay(stand, rules), stand.tempo)


def _why_stay(stand: Stand, rules: Rules) -> Sentence:
    params = {"tempo": stand.tempo, "need": rules.clean_in_a_row}
    if stand.is_hard:
        return Sentence(HARD, {"tempo": stand.tempo})
    if not stand.tries:
        return Sentence(UNTRIED, params)
    counts = {"clean": stand.clean, "tries": stand.tries, "share": rules.share_up}
    return Sentence(STAY, params | counts)


def _notices(stand: Stand, left: Sequence[date] | None, rules: Rules) -> Iterator[Suggestion]:
    if stand.reached_on is not None:
        return
    first = stand.nearest_on or stand.first_day
    span = (stand.last_day - first).days if first and stand.last_day else 0
    if stand.days >= rules.plateau_days and span >= rules.plateau_span:
        yield Suggestion("plateau", Sentence(PLATEAU, {"goal": stand.goal, "span": span, "days": stand.days}))
    if left is None or stand.tempo == stand.goal:
        return
    marks = len(whole_ladder(stand.tempo, stand.goal)) - 1
    if not left:
        yield Suggestion("late", Sentence(LATE, {"tempo": stand.tempo, "goal": stand.goal}))
    elif marks > rules.most_marks * len(left):
        params = {"goal": stand.goal, "marks": marks, "lessons": len(left), "most": rules.most_marks}
        yield Suggestion("steep", Sentence(STEEP, params))


def _marks(move: Suggestion, goal: int, targets: Sequence[Target], rules: Rules) -> tuple[int, ...]:
    """From the suggested tempo to the next lesson's target: the next mark at least, so that clean runs lead somewhere,
    and never more than are still gradual."""
    if move.tempo is None:
        return ()
    if move.kind == "kept":
        return (move.tempo,)
    rungs = whole_ladder(move.tempo, goal)
    wanted = rungs.index(targets[0].tempo) if targets else rules.most_marks
    return rungs[: 1 + max(1, min(wanted, rules.most_marks))]
