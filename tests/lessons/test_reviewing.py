"""Which learned pieces are due. The rule is set by hand; the days are checked against doubling by hand (common
practice)."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as some

from lessons.progress import BadEntry, Rules
from lessons.reviewing import Learned, Played, due, review_of

DAY = date(2026, 1, 5)
LATER = date(2030, 1, 1)


def after(days: int) -> date:
    return DAY + timedelta(days=days)


def test_a_piece_is_due_a_week_after_it_was_learned():
    found = review_of(Learned("minuet", DAY), today=DAY)
    assert (found.key, found.due_on, found.gap, found.last) == ("minuet", after(7), 7, DAY)
    assert "7 days after a piece was learned" in str(found.why)


def test_reviews_on_their_day_that_go_well_double_the_gap_to_sixteen_weeks():
    # 7, then 14, 28, 56, 112 and no longer: sums 7, 21, 49, 105, 217, 329, 441.
    days, played = [], ()
    for _ in range(7):
        found = review_of(Learned(1, DAY, played), today=LATER)
        days.append((found.due_on - DAY).days)
        played = (*played, Played(found.due_on, True))
    assert days == [7, 21, 49, 105, 217, 329, 441]


def test_playing_well_before_the_day_begins_the_gap_anew_but_does_not_lengthen_it():
    found = review_of(Learned(1, DAY, (Played(after(1)), Played(after(3)), Played(after(5)))), today=LATER)
    assert (found.due_on, found.gap) == (after(12), 7)
    assert "went well" in str(found.why)


def test_a_review_that_was_not_clean_starts_the_gap_over_early_or_not():
    good = (Played(after(7), True), Played(after(21), True))
    assert review_of(Learned(1, DAY, good), today=LATER).gap == 28
    for day in (22, 49, 80):
        found = review_of(Learned(1, DAY, (*good, Played(after(day), False))), today=LATER)
        assert (found.due_on, found.gap) == (after(day + 7), 7)
        assert "was not clean" in str(found.why)


def test_what_was_played_while_it_was_learned_does_not_count():
    found = review_of(Learned(1, DAY, (Played(after(-30), True), Played(DAY, False))), today=DAY)
    assert (found.due_on, found.last) == (after(7), DAY)
    assert "first review" in str(found.why)


def test_the_order_of_what_was_played_does_not_matter():
    played = (Played(after(7), True), Played(after(30), False), Played(after(40), True))
    assert review_of(Learned(1, DAY, played), today=LATER) == review_of(Learned(1, DAY, played[::-1]), today=LATER)


def test_a_day_that_the_teacher_set_comes_first_until_it_was_played():
    assert review_of(Learned(1, DAY, (), after(3)), today=DAY).due_on == after(3)
    waiting = review_of(Learned(1, DAY, (Played(after(8)),), after(90)), today=LATER)
    assert (waiting.due_on, str(waiting.why)) == (after(90), "The teacher has set the day.")
    done = review_of(Learned(1, DAY, (Played(after(8)), Played(after(90))), after(90)), today=LATER)
    assert done.due_on == after(90 + 28)


def test_the_rule_is_adjustable():
    rules = Rules(review_first=3, review_growth=3, review_longest=10)
    played = (Played(after(3), True), Played(after(12), True))
    assert review_of(Learned(1, DAY), today=DAY, rules=rules).due_on == after(3)
    assert review_of(Learned(1, DAY, played[:1]), today=LATER, rules=rules).gap == 9
    assert review_of(Learned(1, DAY, played), today=LATER, rules=rules).gap == 10


def test_what_is_due_comes_by_its_day_and_what_is_not_does_not_come():
    pieces = [Learned("c", after(2)), Learned("a", DAY), Learned("b", after(1)), Learned("later", after(30))]
    assert [one.key for one in due(pieces, today=after(8))] == ["a", "b"]
    assert [one.key for one in due(pieces, today=after(8), ahead=1)] == ["a", "b", "c"]
    assert due(pieces, today=after(6)) == ()
    assert due([], today=DAY) == ()


def test_a_piece_played_on_a_day_that_has_not_come_is_refused():
    with pytest.raises(BadEntry, match="has not come yet"):
        due([Learned(1, DAY, (Played(after(9)),))], today=after(7))
    assert due([Learned(1, DAY, (Played(after(9)),))], today=after(8)) == ()  # tomorrow is today somewhere


plays = some.lists(some.builds(Played, some.integers(1, 900).map(after), some.sampled_from([True, False, None])))


@given(plays, some.integers(1, 30), some.integers(1, 4), some.integers(30, 200))
def test_a_gap_is_the_first_grown_a_whole_number_of_times_or_the_longest(played, first, growth, longest):
    rules = Rules(review_first=first, review_growth=growth, review_longest=longest)
    found = review_of(Learned(1, DAY, tuple(played)), today=LATER, rules=rules)
    assert found.gap in {min(longest, first * growth**times) for times in range(len(played) + 1)}
    assert (found.due_on - found.last).days == found.gap
    assert found.last == max((one.day for one in played), default=DAY)
