"""A slot in words."""

from datetime import date, time

import pytest

from lessons.models import Slot
from lessons.slot_words import slot_in_words


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ("", "once, on Thursday 5 November 2020"),
        ("FREQ=WEEKLY", "every week on Thursday"),
        ("FREQ=WEEKLY;INTERVAL=2;BYDAY=MO,TH", "every second week on Monday and Thursday"),
        ("FREQ=WEEKLY;INTERVAL=3", "every 3 weeks on Thursday"),
        ("FREQ=DAILY", "every day"),
        ("FREQ=MONTHLY;BYDAY=-1FR", "every month on the last Friday"),
        ("FREQ=MONTHLY;BYDAY=2TU,4TU", "every month on the second Tuesday and the fourth Tuesday"),
        ("FREQ=MONTHLY;BYMONTHDAY=-1", "every month on the last day"),
        ("FREQ=MONTHLY;BYMONTHDAY=1,15", "every month on day 1 and day 15"),
        ("FREQ=YEARLY", "every year on day 5 in November"),
        ("FREQ=WEEKLY;COUNT=10", "every week on Thursday, 10 lessons"),
        ("FREQ=WEEKLY;UNTIL=20210630", "every week on Thursday, until 30 June 2021"),
        ("FREQ=MONTHLY;BYDAY=MO,TU;BYSETPOS=-1", "by the rule FREQ=MONTHLY;BYDAY=MO,TU;BYSETPOS=-1"),
    ],
)
def test_a_rule_is_told_as_one_says_it(rule: str, words: str):
    assert slot_in_words(Slot(first_day=date(2020, 11, 5), at=time(15), rule=rule)) == words


def test_in_terms_only_is_told():
    slot = Slot(first_day=date(2020, 11, 5), at=time(15), rule="FREQ=WEEKLY", in_terms=True)
    assert slot_in_words(slot) == "every week on Thursday, in terms only"
