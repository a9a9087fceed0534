"""Reach in words: `{{ hand|reach }}`, `{{ student.hands.all|hands_reach }}`, `{{ 12|an_interval }}`."""

from django import template

from studio.reach import an_interval, both_hands_in_words, interval_name, reach_in_words

register = template.Library()
register.filter("reach", reach_in_words)
register.filter("hands_reach", both_hands_in_words)
register.filter("an_interval", an_interval)
register.filter("interval_name", interval_name)
