"""What a student hears of an assigned passage: the ornaments as chosen for her, what is left open as the edition has
it."""

from fractions import Fraction

from lessons.models import AssignedPassage
from scores.inheriting import here
from scores.playing import Choices, chosen_in, placed


def choices_for(assigned: AssignedPassage) -> Choices:
    """The teacher's choices with the placements of this student. Reads `placements`: prefetch them."""
    decided = {row.note: row.placement for row in assigned.placements.all() if row.placement}
    return placed(chosen_in(here(assigned.passage).choices), decided)


def tempo_for(assigned: AssignedPassage) -> Fraction | None:
    """The tempo for which ornaments are written out: the one to reach. Slower, the same notes are slower."""
    goal = assigned.tempo_goal or assigned.tempo_now
    return Fraction(goal) if goal else None
