"""The ladder with what was practised on it. Runs in a row are checked against every order that the tries can have had,
the plan against numpy, the marks against the scale that mechanical metronomes share."""

import math
from collections.abc import Iterator
from datetime import date, timedelta
from itertools import chain, combinations, groupby, pairwise, product, takewhile

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from lessons.climbing import advise, climb, plan, shortest_end
from lessons.progress import BadEntry, Entry, Rules
from scores.music.tempo import FASTEST, SLOWEST, BadTempo

TODAY = date(2026, 5, 20)
# The scale that most mechanical metronomes share (common practice).
PRINTED = (
    "40 42 44 46 48 50 52 54 56 58 60 63 66 69 72 76 80 84 88 92 96 100 104 108 112 116 120 126 132 138 144 152 160"
    " 168 176 184 192 200 208"
)
SCALE = [int(mark) for mark in PRINTED.split()]
tempos = some.integers(SLOWEST, FASTEST)


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


def played(*runs: tuple[int, int, int], first: int = 20) -> list[Entry]:
    """Entries of one day after the other, each a tempo, clean runs and tries; the first so many days ago."""
    return [Entry(ago(first - number), 10, *run) for number, run in enumerate(runs)]


@some.composite
def logs(draw: some.DrawFn) -> list[Entry]:
    entries = []
    for days in sorted(draw(some.lists(some.integers(0, 60), max_size=30)), reverse=True):
        tries = draw(some.none() | some.integers(0, 12))
        clean = None if tries is None else draw(some.integers(0, tries) | some.just(tries))
        felt = draw(some.sampled_from(["", "", "", "easy", "right", "hard", "hurt"]))
        entries.append(Entry(ago(days), 10, draw(some.none() | tempos), clean, tries, felt))
    return entries


# Clean runs in a row


def longest_run(order: list[bool]) -> int:
    return max((len(list(group)) for is_clean, group in groupby(order) if is_clean), default=0)


def orders(runs: list[tuple[int, int]]) -> Iterator[list[bool]]:
    """Every order of the tries of some entries, each so many clean out of so many."""
    ways = [
        [[place in places for place in range(tries)] for places in combinations(range(tries), clean)]
        for clean, tries in runs
    ]
    return (list(chain(*way)) for way in product(*ways))


def end_of(order: list[bool]) -> int:
    return len(list(takewhile(bool, reversed(order))))


some_runs = some.integers(1, 5).flatmap(lambda tries: some.tuples(some.integers(0, tries), some.just(tries)))


@settings(max_examples=300)
@given(some.lists(some_runs, min_size=1, max_size=3), some.integers(1, 6))
def test_a_row_is_certain_when_no_order_of_the_tries_is_without_it(runs, need):
    end = 0
    for clean, tries in runs:
        end = shortest_end(need, clean, tries, end)
        if end is None:
            break
    without = [end_of(order) for order in orders(runs) if longest_run(order) < need]
    assert end == min(without, default=None)


# Up


def test_enough_clean_runs_in_a_row_lead_to_the_next_mark():
    stand = climb(played((60, 3, 3)), now=60, goal=80)
    (step,) = stand.steps
    assert (step.kind, step.before, step.after, step.day) == ("up", 60, 63, ago(20))
    assert str(step.why) == "At least 3 clean runs in a row at 60: 63 comes next."
    assert (stand.tempo, stand.tries, stand.in_a_row) == (63, 0, 0)


def test_clean_runs_in_a_row_go_on_from_entry_to_entry():
    assert climb(played((60, 2, 2)), now=60, goal=80).in_a_row == 2
    assert climb(played((60, 2, 2), (60, 1, 1)), now=60, goal=80).tempo == 63
    assert climb(played((60, 2, 2), (60, 2, 3), (60, 2, 2)), now=60, goal=80).tempo == 60
    assert (
        climb(played((60, 2, 2), (60, 3, 4)), now=60, goal=80).tempo == 63
    )  # after 2, whichever of four was not clean


def test_four_of_five_on_two_days_have_three_in_a_row_wherever_the_slips_were():
    assert climb(played((60, 4, 5)), now=60, goal=80).tempo == 60
    assert climb(played((60, 4, 5), (60, 4, 5)), now=60, goal=80).tempo == 63
    assert climb(played((60, 4, 5), (60, 1, 3), (60, 4, 5)), now=60, goal=80).tempo == 60


def test_of_tries_in_unknown_order_only_the_certain_run_counts():
    assert climb(played((60, 6, 8)), now=60, goal=80).tempo == 60  # two slips can part them 2 2 2
    assert climb(played((60, 5, 6)), now=60, goal=80).tempo == 63  # one slip leaves three together
    noted = [Entry(ago(1), 10, 60, 6, 8, in_a_row=3)]
    assert climb(noted, now=60, goal=80).tempo == 63


def test_a_long_run_among_many_slips_leads_nowhere():
    noted = [Entry(ago(1), 10, 60, 5, 20, in_a_row=5)]
    assert climb(noted, now=60, goal=80).tempo == 60
    assert climb(noted, now=60, goal=80, rules=Rules(share_up=25, share_down=25)).tempo == 63


def test_clean_runs_faster_than_the_mark_lead_on_from_there():
    assert climb(played((72, 3, 3)), now=60, goal=80).tempo == 76
    assert climb(played((60, 2, 2), (72, 1, 1)), now=60, goal=80).tempo == 63  # the slowest of the row
    assert climb(played((60, 2, 2), (60, 0, 1), (72, 2, 2), (72, 1, 1)), now=60, goal=80).tempo == 76  # a new row


def test_slower_clean_runs_lead_nowhere():
    stand = climb(played((52, 5, 5), (58, 9, 9)), now=60, goal=80)
    assert (stand.tempo, stand.tries, stand.steps) == (60, 0, [])


def test_a_difference_that_nobody_notices_is_the_same_tempo():
    assert climb(played((99, 3, 3)), now=100, goal=120).tempo == 104
    assert climb(played((98, 3, 3)), now=100, goal=120).tempo == 100
    assert climb(played((98, 3, 3)), now=100, goal=120, rules=Rules(same_tempo=20)).tempo == 104


def test_the_goal_is_the_last_rung_mark_or_not_and_has_to_be_played():
    stand = climb(played((76, 3, 3)), now=76, goal=78)
    assert (stand.tempo, stand.reached_on) == (78, None)
    stand = climb(played((76, 3, 3), (78, 3, 3), (78, 3, 3)), now=76, goal=78)
    assert (stand.tempo, stand.reached_on) == (78, ago(19))
    assert [step.kind for step in stand.steps] == ["up", "reached"]


def test_what_felt_hard_or_hurt_leads_nowhere_however_clean():
    for felt in ("hard", "hurt"):
        stand = climb([Entry(ago(2), 10, 60, 5, 5, felt)], now=60, goal=80)
        assert (stand.tempo, stand.in_a_row, stand.is_hard) == (60, 0, True)
    assert climb([Entry(ago(2), 10, 60, 5, 5, "right")], now=60, goal=80).tempo == 63


# Back


def test_two_failing_entries_lead_a_mark_back():
    assert climb(played((72, 1, 4)), now=72, goal=80).tempo == 72
    stand = climb(played((72, 1, 4), (72, 0, 2)), now=72, goal=80)
    assert (stand.tempo, stand.steps[-1].kind) == (69, "down")
    assert str(stand.steps[-1].why) == (
        "In the last 2 entries, lately at 72, fewer than 50 % of the tries were clean: back to 69."
    )


def test_failing_slower_leads_back_from_there():
    assert climb(played((72, 1, 4), (60, 1, 4)), now=72, goal=80).tempo == 58


def test_failing_faster_than_the_mark_counts_for_nothing():
    stand = climb(played((60, 2, 2), (80, 0, 5), (80, 0, 5), (80, 0, 5)), now=60, goal=80)
    assert (stand.tempo, stand.failing, stand.in_a_row, stand.tries) == (60, 0, 2, 2)


def test_half_of_the_tries_is_neither_failing_nor_enough():
    stand = climb(played((72, 1, 4), (72, 2, 4), (72, 1, 4)), now=72, goal=80)
    assert (stand.tempo, stand.failing, stand.clean, stand.tries) == (72, 1, 4, 12)


def test_a_goal_that_no_longer_goes_is_no_longer_reached():
    stand = climb(played((80, 3, 3), (80, 0, 3), (80, 0, 3)), now=80, goal=80)
    assert (stand.reached_on, stand.tempo) == (None, 76)


def test_below_the_slowest_mark_there_is_none():
    stand = climb(played(*[(20, 0, 3)] * 5), now=20, goal=80)
    assert (stand.tempo, stand.steps) == (20, [])


def test_with_a_rule_of_one_entry_its_sentence_counts_none():
    stand = climb(played((72, 0, 3)), now=72, goal=80, rules=Rules(failing_entries=1))
    assert str(stand.steps[0].why) == "At 72 fewer than 50 % of the tries were clean: back to 69."


# A goal below


def test_a_passage_taken_too_fast_is_brought_down_to_its_goal_clean_or_not():
    stand = climb(played((88, 3, 3), (84, 0, 4), (84, 0, 4), (80, 3, 3)), now=88, goal=80)
    assert [(step.kind, step.after) for step in stand.steps] == [("down", 84), ("down", 80), ("reached", 80)]
    assert "towards 80" in str(stand.steps[0].why)


def test_clean_runs_slower_than_the_mark_lead_down_from_there():
    assert climb(played((90, 3, 3)), now=100, goal=80).tempo == 88
    assert climb(played((60, 3, 3)), now=100, goal=80).tempo == 80  # no further than the goal


def test_faster_tries_do_not_count_while_a_passage_is_brought_down():
    stand = climb(played((100, 5, 5), (100, 0, 5), (100, 0, 5)), now=88, goal=80)
    assert (stand.tempo, stand.steps, stand.tries) == (88, [], 0)


# Whatever the log


@settings(max_examples=200)
@given(logs(), tempos, tempos)
def test_every_step_leads_to_a_mark_of_the_scale_or_the_goal(log, now, goal):
    stand = climb(log, now=now, goal=goal)
    for before, after in pairwise([now, *(step.after for step in stand.steps)]):
        assert after in SCALE or after == goal or not SCALE[0] <= after <= SCALE[-1]
        assert SLOWEST <= after <= FASTEST
        assert before != after or after == goal
    assert all(step.before != step.after or step.kind == "reached" for step in stand.steps)
    assert stand.tempo == (stand.steps[-1].after if stand.steps else now)
    assert max(stand.tempo, now) <= max(now, goal)
    assert [step.day for step in stand.steps] == sorted(step.day for step in stand.steps)


@settings(max_examples=100)
@given(logs(), tempos, tempos)
def test_one_more_clean_entry_at_the_mark_never_leads_away_from_the_goal(log, now, goal):
    before = climb(log, now=now, goal=goal)
    after = climb([*log, Entry(TODAY, 10, before.tempo, 3, 3)], now=now, goal=goal)
    assert after.reached_on is not None or abs(math.log(after.tempo / goal)) < abs(math.log(before.tempo / goal))


@settings(max_examples=100)
@given(logs(), tempos, tempos)
def test_any_log_gives_one_move_with_its_sentence(log, now, goal):
    advice = advise(log, now=now, goal=goal, today=TODAY, lessons=[ago(-7), ago(-14)])
    for said in (advice.next, *advice.notices):
        assert "%(" not in str(said.why)
        assert str(said.why).endswith(".")
    assert "clinician" in str(advice.caution)
    if advice.next.kind == "rest":
        assert advice.next.tempo is None
        assert advice.marks == ()
    else:
        assert advice.marks[0] == advice.next.tempo
        assert len(advice.marks) <= 5
        assert list(advice.marks) == sorted(set(advice.marks), reverse=advice.marks[0] > goal)
        assert all(mark in SCALE or not 40 <= mark <= 208 for mark in advice.marks[1:] if mark != goal)
    assert [target.day for target in advice.plan] == [ago(-7), ago(-14)]


# The plan


@given(tempos, tempos, some.integers(1, 30))
def test_the_plan_is_even_in_ratio_to_the_nearest_mark(now, goal, count):
    days = [TODAY + timedelta(days=7 * number) for number in range(1, count + 1)]
    targets = plan(now, goal, days)
    assert [target.day for target in targets] == days
    assert targets[-1].tempo == goal
    marks = [target.tempo for target in targets]
    assert marks == sorted(marks, reverse=now > goal)
    # numpy's geometric series; two neighbours of the ladder lie at most 10 % apart (20 and 22), so a mark at most half.
    for mark, even in zip(marks, numpy.geomspace(now, goal, count + 1)[1:], strict=True):
        assert abs(math.log(mark / even)) <= math.log(1.1) / 2 + 1e-9


def test_a_plan_of_more_lessons_than_marks_stays_on_a_mark():
    days = [TODAY + timedelta(days=7 * number) for number in range(1, 5)]
    assert [target.tempo for target in plan(60, 66, days)] == [60, 63, 63, 66]
    assert [target.tempo for target in plan(80, 80, days)] == [80] * 4
    assert plan(60, 80, []) == ()


# What is suggested


def test_an_empty_log_begins_at_the_tempo_that_the_teacher_wrote():
    advice = advise([], now=60, goal=80, today=TODAY, lessons=[ago(-7), ago(-14)])
    assert (advice.next.kind, advice.next.tempo) == ("begin", 60)
    assert [target.tempo for target in advice.plan] == [69, 80]
    assert advice.marks == (60, 63, 66, 69)
    assert advice.notices == ()


def test_without_a_date_the_next_marks_are_a_gradual_way():
    advice = advise([], now=60, goal=120, today=TODAY)
    assert advice.marks == (60, 63, 66, 69, 72)
    assert (advice.plan, advice.notices) == ((), ())
    assert advise([], now=60, goal=62, today=TODAY).marks == (60, 62)


def test_clean_runs_always_have_a_next_mark_however_far_the_date():
    lessons = [ago(-7 * number) for number in range(1, 9)]
    advice = advise([], now=60, goal=66, today=TODAY, lessons=lessons)
    assert advice.plan[0].tempo == 60
    assert advice.marks == (60, 63)


def test_the_step_of_the_last_entry_is_suggested_with_its_reason():
    advice = advise(played((60, 3, 3), first=1), now=60, goal=80, today=TODAY)
    assert (advice.next.kind, advice.next.tempo, advice.marks[0]) == ("up", 63, 63)
    assert "63 comes next" in str(advice.next.why)
    advice = advise(played((60, 0, 3), (60, 0, 3), first=2), now=60, goal=80, today=TODAY)
    assert (advice.next.kind, advice.next.tempo) == ("down", 58)


def test_between_two_steps_one_stays_and_reads_what_is_missing():
    advice = advise(played((60, 3, 4), (60, 1, 2), first=2), now=60, goal=80, today=TODAY)
    assert (advice.next.kind, advice.next.tempo) == ("stay", 60)
    assert str(advice.next.why) == (
        "Of the tries that count for 60, 4 of 6 were clean; at least 3 in a row and 75 % of an entry lead on."
    )
    slow = advise(played((50, 3, 4), first=2), now=60, goal=80, today=TODAY)
    assert (slow.next.kind, slow.next.tempo) == ("stay", 60)
    assert "Nothing in the log counts for 60 yet" in str(slow.next.why)
    hard = advise([Entry(ago(1), 10, 60, 4, 4, "hard")], now=60, goal=80, today=TODAY)
    assert (hard.next.kind, hard.next.tempo) == ("stay", 60)
    assert "felt hard" in str(hard.next.why)


def test_a_log_of_minutes_alone_asks_for_tempo_and_tries():
    advice = advise([Entry(ago(1), 30), Entry(ago(2), 20, 70)], now=60, goal=80, today=TODAY)
    assert (advice.next.kind, advice.next.tempo) == ("unknown", 60)


def test_a_goal_that_is_reached_is_said_and_kept():
    advice = advise(played((80, 3, 3), (80, 2, 3), first=2), now=80, goal=80, today=TODAY, lessons=[ago(1)])
    assert (advice.next.kind, advice.next.tempo, advice.marks, advice.notices) == ("reached", 80, (80,), ())


def test_after_two_weeks_away_one_begins_a_mark_lower():
    advice = advise(played((60, 3, 3), first=14), now=60, goal=80, today=TODAY)
    assert (advice.next.kind, advice.next.tempo) == ("again", 60)
    assert str(advice.next.why) == "Not practised for 14 days: begin again at 60, below 63."
    assert advise(played((60, 3, 3), first=13), now=60, goal=80, today=TODAY).next.kind == "up"
    assert advise(played((20, 0, 3), first=30), now=20, goal=80, today=TODAY).next.kind == "stay"  # none is lower
    assert advise(played((88, 1, 2), first=30), now=88, goal=80, today=TODAY).next.kind == "stay"  # too fast already


def test_where_it_hurt_nothing_is_suggested_until_a_later_entry_or_the_teachers_word():
    hurt = [*played((60, 3, 3), first=5), Entry(ago(2), 10, 63, 3, 3, "hurt"), Entry(ago(2), 5)]
    advice = advise(hurt, now=60, goal=80, today=TODAY, lessons=[])
    assert (advice.next.kind, advice.next.tempo, advice.marks, advice.notices) == ("rest", None, (), ())
    assert "clinician" in str(advice.next.why)
    assert advise(hurt, now=60, goal=80, today=TODAY, is_kept=True).next.kind == "rest"
    later = advise([*hurt, Entry(ago(1), 10)], now=60, goal=80, today=TODAY).next
    assert (later.kind, later.tempo) == ("stay", 63)
    assert "felt hard or hurt" in str(later.why)
    assert advise(hurt, now=58, goal=80, today=TODAY, since=ago(1)).next.kind == "begin"


def test_the_teachers_word_overrules_the_log_before_it():
    log = played((60, 3, 3), (63, 3, 3), (66, 3, 3), first=9)
    assert advise(log, now=60, goal=80, today=TODAY).next.tempo == 69
    advice = advise(log, now=56, goal=80, today=TODAY, since=ago(3))
    assert (advice.next.kind, advice.next.tempo) == ("begin", 56)
    assert advise(log, now=66, goal=80, today=TODAY, since=ago(7)).next.tempo == 69
    kept = advise(log, now=60, goal=80, today=TODAY, lessons=[ago(-7)], is_kept=True)
    assert (kept.next.kind, kept.next.tempo, kept.marks, kept.plan, kept.notices) == ("kept", 60, (60,), (), ())


# What is noticed on the way


def stuck(days: list[int]) -> list[Entry]:
    return [Entry(ago(day), 10, 63, 2, 4) for day in days]


def test_a_plateau_is_said_after_enough_days_of_practice_without_a_new_mark():
    log = [*played((60, 3, 3), first=18), *stuck([16, 12, 10, 7, 5, 4])]
    (notice,) = advise(log, now=60, goal=80, today=TODAY).notices
    assert notice.kind == "plateau"
    assert "No new mark on the way to 80 in 14 days, with 6 days of practice" in str(notice.why)


@pytest.mark.parametrize(
    "days",
    [
        [16, 12, 10, 7, 4],  # too few days
        [16, 16, 12, 10, 7, 4],  # two entries of one day are one day
        [17, 16, 15, 12, 10, 5],  # too short a time
    ],
)
def test_a_short_halt_is_no_plateau(days):
    log = [*played((60, 3, 3), first=18), *stuck(days)]
    assert advise(log, now=60, goal=80, today=TODAY).notices == ()


def test_falling_back_and_coming_again_is_no_new_mark():
    back_and_again = [(63, 0, 3), (63, 0, 3), (60, 3, 3)]
    log = played((60, 3, 3), *back_and_again * 5, first=20)
    advice = advise(log, now=60, goal=80, today=TODAY)
    assert (advice.stand.tempo, advice.stand.nearest) == (63, 63)
    assert [notice.kind for notice in advice.notices] == ["plateau"]
    advice = advise([*log, Entry(ago(1), 10, 63, 3, 3)], now=60, goal=80, today=TODAY)
    assert (advice.next.tempo, advice.notices) == (66, ())


def test_staying_at_the_goal_without_reaching_it_is_a_plateau_too():
    log = [Entry(ago(day), 10, 80, 2, 4) for day in (20, 17, 14, 11, 8, 5)]
    (notice,) = advise(log, now=80, goal=80, today=TODAY).notices
    assert notice.kind == "plateau"


def test_what_came_before_the_goal_was_reached_is_no_part_of_a_plateau_after_it():
    before = [Entry(ago(day), 10, 80, 2, 4) for day in (20, 19, 18)]
    log = [*before, Entry(ago(10), 10, 80, 3, 3), *played((80, 0, 3), (80, 0, 3), (76, 2, 4), (76, 2, 4), first=9)]
    advice = advise(log, now=80, goal=80, today=TODAY)
    assert (advice.stand.tempo, advice.notices) == (76, ())


def test_more_marks_than_the_lessons_can_take_are_said():
    (notice,) = advise([], now=60, goal=120, today=TODAY, lessons=[ago(-7), ago(-14)]).notices
    assert notice.kind == "steep"
    # 63 66 69 72 76 80 84 88 92 96 100 104 108 112 116 120
    assert dict(notice.why.params) == {"goal": 120, "marks": 16, "lessons": 2, "most": 4}
    four = [ago(-7 * number) for number in range(1, 5)]
    assert advise([], now=60, goal=120, today=TODAY, lessons=four).notices == ()


def test_marks_until_the_next_lesson_stay_gradual_however_near_the_date():
    advice = advise([], now=60, goal=120, today=TODAY, lessons=[ago(-7)])
    assert advice.marks == (60, 63, 66, 69, 72)
    assert advice.plan[0].tempo == 120


def test_a_date_that_has_come_is_said_and_lessons_of_the_past_do_not_count():
    for lessons in ([], [ago(7), TODAY]):
        advice = advise([], now=60, goal=80, today=TODAY, lessons=lessons)
        assert [notice.kind for notice in advice.notices] == ["late"]
        assert advice.plan == ()
    assert advise([], now=80, goal=80, today=TODAY, lessons=[]).notices == ()


def test_absurd_tempos_and_days_are_refused_in_words():
    with pytest.raises(BadTempo, match="900"):
        advise([], now=900, goal=80, today=TODAY)
    with pytest.raises(BadTempo, match="between 20 and 300"):
        advise([], now=60, goal=0, today=TODAY)
    with pytest.raises(BadEntry, match="has not come yet"):
        advise([Entry(ago(-2), 10)], now=60, goal=80, today=TODAY)
