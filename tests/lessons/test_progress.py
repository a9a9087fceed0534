"""What a practice log shows. The statistics are checked against numpy and scipy on the same data."""

from collections import Counter
from datetime import date, timedelta
from itertools import pairwise

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from scipy import stats

from lessons.progress import (
    USUAL,
    BadEntry,
    BadRules,
    Entry,
    Rules,
    Sentence,
    by_day,
    by_week,
    clean_share,
    in_order,
    median,
    minutes_by_day,
    on_spacing,
    slope,
    spacing,
    summary,
    trend,
)
from scores.music.tempo import RUNGS, BadTempo

TODAY = date(2026, 5, 20)  # a Wednesday
numbers = some.floats(-1000, 1000, allow_nan=False).map(lambda value: round(value, 3))


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


@some.composite
def entries_of(draw: some.DrawFn) -> Entry:
    tries = draw(some.none() | some.integers(0, 30))
    return Entry(
        day=ago(draw(some.integers(0, 80))),
        minutes=draw(some.integers(1, 600)),
        tempo=draw(some.none() | some.integers(20, 300)),
        clean=None if tries is None else draw(some.integers(0, tries)),
        tries=tries,
    )


logs = some.lists(entries_of(), max_size=40)


# Against numpy and scipy


@given(some.lists(numbers, min_size=1, max_size=50))
def test_the_median_is_numpys(values):
    assert median(values) == pytest.approx(float(numpy.median(values)))


# On a few points scipy cannot give the interval of confidence, which nobody asks for here, and warns.
no_interval = pytest.mark.filterwarnings("ignore:(invalid value|Inconsistent input):RuntimeWarning")


@no_interval
@given(some.lists(some.tuples(some.integers(0, 60), numbers), min_size=2, max_size=40))
def test_the_slope_is_scipys(points):
    days, values = zip(*points, strict=True)
    if len(set(days)) > 1:
        assert slope(points) == pytest.approx(stats.theilslopes(values, days).slope, abs=1e-9)
    else:
        assert slope(points) is None


def test_one_mistyped_value_hardly_moves_the_slope():
    line = [(day, 60.0 + 2 * day) for day in range(15)]
    spoilt = [*line[:7], (7, 300.0), *line[8:]]
    assert slope(spoilt) == pytest.approx(2)
    # The line of least squares is the contrast: numpy says how far it is drawn away.
    later = [*line[:13], (13, 300.0), line[14]]
    assert slope(later) == pytest.approx(2)
    assert abs(numpy.polyfit(*zip(*later, strict=True), 1)[0] - 2) > 1


@settings(max_examples=50)
@given(logs)
def test_sums_and_medians_of_a_log_are_numpys(log):
    found = summary(log, today=TODAY)
    assert found.minutes == int(numpy.sum([entry.minutes for entry in log], dtype=int))
    assert found.tries == int(numpy.sum([entry.tries or 0 for entry in log], dtype=int))
    per_day = Counter()
    for entry in log:
        per_day[entry.day] += entry.minutes
    assert found.days == len(numpy.unique([entry.day.toordinal() for entry in log]))
    if log:
        assert found.middle_minutes == pytest.approx(float(numpy.median(list(per_day.values()))))
        days = numpy.unique([entry.day.toordinal() for entry in log])
        gaps = numpy.diff(days)
        assert found.spacing.longest_gap == (int(gaps.max()) if len(gaps) else None)
        assert found.spacing.middle_gap == (pytest.approx(float(numpy.median(gaps))) if len(gaps) else None)
    tempos = [entry.tempo for entry in log if entry.tempo is not None]
    assert found.middle_tempo == (pytest.approx(float(numpy.median(tempos))) if tempos else None)


@no_interval
@settings(max_examples=50)
@given(logs)
def test_the_trend_is_scipys_over_the_fastest_of_each_recent_day(log):
    fastest: dict[int, int] = {}
    for entry in log:
        if entry.tempo is not None and (TODAY - entry.day).days < USUAL.trend_days:
            fastest[entry.day.toordinal()] = max(entry.tempo, fastest.get(entry.day.toordinal(), 0))
    found = trend(by_day(log), today=TODAY)
    if len(fastest) < 2:
        assert found is None
    else:
        days = numpy.array(list(fastest)) / 7
        assert found == pytest.approx(stats.theilslopes(list(fastest.values()), days).slope, abs=1e-9)


@settings(max_examples=50)
@given(logs)
def test_days_and_weeks_hold_every_minute_and_try_once(log):
    for rows in (by_day(log), by_week(log)):
        assert sum(row.minutes for row in rows) == sum(entry.minutes for entry in log)
        assert sum(row.tries for row in rows) == sum(entry.tries or 0 for entry in log)
        assert sum(row.days for row in rows) == len({entry.day for entry in log})
        assert [row.day for row in rows] == sorted({row.day for row in rows})
    assert all(row.day.isoweekday() == 1 for row in by_week(log))
    shown = minutes_by_day(log, ago(90), TODAY)
    assert len(shown) == 91
    assert sum(minutes for _, minutes in shown) == sum(entry.minutes for entry in log)


# Edges


def test_an_empty_log_has_no_numbers_to_show():
    found = summary([], today=TODAY)
    assert (found.entries, found.days, found.minutes, found.tries) == (0, 0, 0, 0)
    assert found.share is found.trend is found.tempo is found.middle_minutes is found.first_day is None
    assert found.spacing.since_last is found.spacing.longest_gap is None
    assert by_day([]) == by_week([]) == on_spacing([], today=TODAY) == ()
    assert median([]) is slope([]) is clean_share([]) is None


def test_one_entry_is_its_own_median_and_has_no_slope():
    found = summary([Entry(ago(3), 20, 72, 4, 5)], today=TODAY)
    assert (found.middle_minutes, found.tempo, found.middle_tempo, found.share) == (20, 72, 72, 0.8)
    assert found.clean_tempo == 72
    assert found.trend is None
    assert found.spacing.since_last == 3
    assert found.spacing.middle_gap is None


def test_entries_of_one_day_are_one_day():
    log = [Entry(ago(1), 10, 60, 1, 4), Entry(ago(1), 15, 80, 4, 4), Entry(ago(1), 5)]
    (row,) = by_day(log)
    assert (row.days, row.minutes, row.tempo, row.middle_tempo, row.clean, row.tries) == (1, 30, 80, 70, 5, 8)
    assert row.share == 5 / 8
    assert summary(log, today=TODAY).trend is None


def test_entries_of_one_day_keep_the_order_they_came_in():
    first, second, third = Entry(ago(1), 10), Entry(ago(1), 20), Entry(ago(2), 30)
    assert in_order([first, second, third], today=TODAY) == (third, first, second)


def test_no_try_at_all_is_no_share():
    assert clean_share([Entry(TODAY, 10, 60, 0, 0)]) is None
    assert Entry(TODAY, 10, 60, 0, 0).runs is None
    assert clean_share([Entry(TODAY, 10, 60, 0, 4), Entry(TODAY, 10)]) == 0


def test_the_fastest_clean_tempo_needs_enough_clean_tries():
    log = [Entry(ago(3), 10, 100, 2, 4), Entry(ago(2), 10, 80, 3, 4), Entry(ago(1), 10, 120)]
    assert summary(log, today=TODAY).clean_tempo == 80
    assert summary(log, today=TODAY, rules=Rules(share_up=50)).clean_tempo == 100


def test_a_window_of_days_shows_the_days_without_practice_too():
    log = [Entry(ago(2), 10), Entry(ago(2), 5), Entry(TODAY, 20), Entry(ago(9), 99)]
    assert minutes_by_day(log, ago(3), TODAY) == ((ago(3), 0), (ago(2), 15), (ago(1), 0), (TODAY, 20))
    assert minutes_by_day(log, TODAY, ago(1)) == ()


def test_a_window_without_end_is_refused():
    with pytest.raises(ValueError, match="too many days"):
        minutes_by_day([], date.min, TODAY)


# Spacing


def test_spacing_counts_the_last_week_and_the_gaps_of_the_whole_log():
    log = [Entry(ago(days), 10) for days in (0, 1, 6, 7, 20)]
    found = spacing(log, today=TODAY)
    assert (found.window, found.days, found.minutes, found.most_minutes) == (7, 3, 30, 10)
    assert (found.longest_gap, found.middle_gap, found.since_last) == (13, 3, 0)


def test_much_practice_all_on_one_day_is_said():
    (said,) = on_spacing([Entry(ago(1), 30), Entry(ago(1), 20)], today=TODAY)
    assert said.kind == "spread"
    assert said.tempo is None
    assert "All 50 minutes of the last 7 days" in str(said.why)
    assert "promises nothing" in str(said.why)
    assert on_spacing([Entry(ago(1), 45)], today=TODAY)


@pytest.mark.parametrize(
    "log",
    [
        [Entry(ago(1), 44)],  # little enough
        [Entry(ago(1), 30), Entry(ago(2), 30)],  # on two days
        [Entry(ago(7), 50)],  # a day of the week before
    ],
)
def test_spread_little_or_old_practice_is_not_spoken_of(log):
    assert on_spacing(log, today=TODAY) == ()


def test_long_practice_on_a_day_brings_the_caution():
    said = on_spacing([Entry(ago(1), 40), Entry(ago(1), 21), Entry(ago(2), 60)], today=TODAY)
    assert [one.kind for one in said] == ["long"]
    assert "61" in str(said[0].why)
    assert "clinician" in str(said[0].why)
    assert on_spacing([Entry(ago(1), 60), Entry(ago(2), 60)], today=TODAY) == ()


# What is refused


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"minutes": 0}, "1 to 600 minutes"),
        ({"minutes": 1800}, "1 to 600 minutes; 1800"),  # thirty hours
        ({"minutes": float("nan")}, "1 to 600 minutes"),
        ({"clean": 5, "tries": 4}, "5 of 4"),
        ({"clean": -1, "tries": 4}, "-1 of 4"),
        ({"clean": 3, "tries": 1000}, "at most 999"),
        ({"clean": 3}, "belong together"),
        ({"tries": 3}, "belong together"),
        ({"felt": "sleepy"}, "sleepy"),
        ({"clean": 3, "tries": 5, "in_a_row": 4}, "4 of 3"),
        ({"in_a_row": 1}, "1 of 0"),
    ],
)
def test_what_no_practice_can_have_given_is_refused_in_words(fields, why):
    with pytest.raises(BadEntry, match=why):
        Entry(**({"day": TODAY, "minutes": 10} | fields))


@pytest.mark.parametrize("tempo", [0, 19, 301, 900, float("nan")])
def test_an_impossible_tempo_is_refused(tempo):
    with pytest.raises(BadTempo, match="between 20 and 300"):
        Entry(TODAY, 10, tempo)


def test_a_day_that_has_not_come_is_refused_but_for_the_time_zone():
    assert in_order([Entry(ago(-1), 10)], today=TODAY)
    with pytest.raises(BadEntry, match=r"2026-05-22, and today is 2026-05-20"):
        in_order([Entry(ago(-2), 10), Entry(ago(5), 10)], today=TODAY)
    with pytest.raises(BadEntry):
        summary([Entry(ago(-2), 10)], today=TODAY)
    with pytest.raises(BadEntry):
        on_spacing([Entry(ago(-2), 10)], today=TODAY)
    assert spacing([Entry(ago(-1), 10)], today=TODAY).since_last == 0


@pytest.mark.parametrize(
    ("rules", "why"),
    [
        ({"clean_in_a_row": 0}, "clean_in_a_row"),
        ({"share_up": 101}, "between 1 and 100; 101"),
        ({"review_growth": 0}, "review_growth"),
        ({"share_up": 40, "share_down": 41}, "below the share"),
        ({"review_first": 30, "review_longest": 29}, "shorter than the first"),
        ({"same_tempo": 28}, "same_tempo"),
    ],
)
def test_rules_that_nobody_can_practise_by_are_refused(rules, why):
    with pytest.raises(BadRules, match=why):
        Rules(**rules)


def test_what_counts_as_the_same_tempo_stays_below_the_smallest_step():
    smallest = min(1 - slower / faster for slower, faster in pairwise(RUNGS))
    assert Rules(same_tempo=27).same_tempo < 1000 * smallest < 28


def test_a_sentence_fills_its_places():
    assert str(Sentence("%(a)d of %(b)d %%", {"a": 3, "b": 4})) == "3 of 4 %"
    assert str(Sentence("Nothing to fill in.")) == "Nothing to fill in."
