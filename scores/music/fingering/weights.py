"""What the house rules weigh, in points.

How the weights were found is in `tests/bench/calibrate.py`: those that scales and arpeggios speak of by a search on one
half of the handbook, the others (chords, leaps, repeated and learned notes) by hand.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Weights:
    """Points. Spans are per semitone."""

    stretch: float = 0.96
    large: float = 0.5
    large_fingers: float = 0.47
    small: float = 0.3
    small_fingers: float = 0.6
    settled: float = 0.14
    leap: float = 5.0
    leap_size: float = 0.3
    hop: float = 4.5
    hop_size: float = 0.25
    slide: float = 3.0
    pass_two: float = 4.4
    pass_three: float = 3.15
    pass_four: float = 5.7
    pass_five: float = 7.2
    pass_wide: float = 0.29
    pass_stretch: float = 0.5
    pass_far: float = 2.2
    pass_from_black: float = -0.75
    pass_to_black: float = 2.5
    over: float = 7.0
    late: float = 1.0
    early: float = 0.32
    fourth: float = 0.22
    fifth: float = 0.19
    three_four: float = 0.4
    four_five: float = 0.35
    thumb_black: float = 1.2
    thumb_black_white: float = 0.8
    fifth_black: float = 0.5
    fifth_black_white: float = 0.4
    fourth_white_third_black: float = 0.5
    returns: float = 4.88
    start: float = 0.6
    short: float = 1.5
    same_again: float = 1.1
    change: float = 1.2
    change_away: float = 0.5
    chord_stretch: float = 3.0
    chord_crossed: float = 4.0
    two_keys: float = 3.0
    move: float = 0.35
    move_free: float = 1.0
    chord_hop: float = 0.25
    outer_crossing: float = 0.5
    exchange: float = 0.8
    substitution: float = 2.5
    learned: float = 1.5
    let_go: float = 20.0


WEIGHTS = Weights()
