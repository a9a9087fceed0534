"""Free hours as they are typed and as they are kept."""

from datetime import time
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as some

from lessons.hours import NotHours, read_hours, write_hours


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", []),
        ("15:00–18:30", [(time(15), time(18, 30))]),
        ("15-18.30, 19–20", [(time(15), time(18, 30)), (time(19), time(20))]),
        ("9h30 - 12", [(time(9, 30), time(12))]),
        ("19-20; 9-12", [(time(9), time(12)), (time(19), time(20))]),
        ("15-17, 16-18, 18-19", [(time(15), time(19))]),
        ("20-24", [(time(20), time(23, 59))]),
        ("9-10 and 11-12", [(time(9), time(10)), (time(11), time(12))]),
    ],
)
def test_hours_are_read_as_people_write_them(text: str, expected: list):
    assert read_hours(text) == expected


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("afternoon", "unread"),
        ("15", "unread"),
        ("15-", "unread"),
        ("25-26", "no time"),
        ("15:70-16", "no time"),
        ("18-15", "backwards"),
        ("15-15", "backwards"),
        (",".join(f"{hour}-{hour}:30" for hour in range(20)), "too many"),
    ],
)
def test_what_is_no_stretch_of_hours_is_refused_with_its_reason(text: str, why: str):
    with pytest.raises(NotHours) as refused:
        read_hours(text)
    assert refused.value.why == why


quarters = some.integers(0, 95).map(lambda number: time(number // 4, number % 4 * 15))


@given(pairs=some.lists(some.tuples(quarters, quarters).filter(lambda pair: pair[0] < pair[1]), max_size=6))
def test_what_was_kept_reads_back_the_same(pairs):
    kept = read_hours(write_hours(pairs))
    assert read_hours(write_hours(kept)) == kept
    assert all(end < begin for (_, end), (begin, _) in pairwise(kept))


@given(text=some.text(max_size=40))
def test_any_text_is_read_or_refused(text: str):
    try:
        found = read_hours(text)
    except NotHours:
        return
    assert all(begin < end for begin, end in found)
