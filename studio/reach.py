"""What a hand reaches, in the words of the trade.

Intervals are kept in semitones. A reach is measured on white keys upwards from C, so that each named interval is one
number of semitones: C to the next D above the octave is a ninth, 14.
"""

from collections.abc import Iterable, Mapping

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.utils.translation import pgettext_lazy as name_of

from studio.models import Hand, Side

# Semitones: (the interval as a name, the interval as what somebody reaches). Diatonic sizes from C: common practice.
INTERVALS = {
    1: (name_of("interval", "minor second"), gettext_lazy("a minor second")),
    2: (name_of("interval", "second"), gettext_lazy("a second")),
    3: (name_of("interval", "minor third"), gettext_lazy("a minor third")),
    4: (name_of("interval", "third"), gettext_lazy("a third")),
    5: (name_of("interval", "fourth"), gettext_lazy("a fourth")),
    6: (name_of("interval", "augmented fourth"), gettext_lazy("an augmented fourth")),
    7: (name_of("interval", "fifth"), gettext_lazy("a fifth")),
    8: (name_of("interval", "minor sixth"), gettext_lazy("a minor sixth")),
    9: (name_of("interval", "sixth"), gettext_lazy("a sixth")),
    10: (name_of("interval", "minor seventh"), gettext_lazy("a minor seventh")),
    11: (name_of("interval", "seventh"), gettext_lazy("a seventh")),
    12: (name_of("interval", "octave"), gettext_lazy("an octave")),
    13: (name_of("interval", "minor ninth"), gettext_lazy("a minor ninth")),
    14: (name_of("interval", "ninth"), gettext_lazy("a ninth")),
    15: (name_of("interval", "minor tenth"), gettext_lazy("a minor tenth")),
    16: (name_of("interval", "tenth"), gettext_lazy("a tenth")),
    17: (name_of("interval", "eleventh"), gettext_lazy("an eleventh")),
    18: (name_of("interval", "augmented eleventh"), gettext_lazy("an augmented eleventh")),
    19: (name_of("interval", "twelfth"), gettext_lazy("a twelfth")),
    20: (name_of("interval", "minor thirteenth"), gettext_lazy("a minor thirteenth")),
    21: (name_of("interval", "thirteenth"), gettext_lazy("a thirteenth")),
    22: (name_of("interval", "minor fourteenth"), gettext_lazy("a minor fourteenth")),
    23: (name_of("interval", "fourteenth"), gettext_lazy("a fourteenth")),
    24: (name_of("interval", "two octaves"), gettext_lazy("two octaves")),
}
WHITE_KEYS = (2, 4, 5, 7, 9, 11, 12, 14, 16, 17, 19)
SMALLEST_HAND = 5


def interval_name(semitones: int) -> str:
    """ "octave" for 12; the bare number where the trade has no name for it."""
    return str(INTERVALS[semitones][0]) if semitones in INTERVALS else str(semitones)


def an_interval(semitones: int) -> str:
    """ "an octave" for 12, to stand in a sentence."""
    if semitones in INTERVALS:
        return str(INTERVALS[semitones][1])
    return _("%(count)s semitones") % {"count": semitones}


def reach_in_words(hand: Hand) -> str:
    """ "an octave in comfort, a ninth at most" """
    if hand.comfortable == hand.largest:
        return _("%(interval)s, in comfort and at most") % {"interval": an_interval(hand.largest)}
    return _("%(comfortable)s in comfort, %(largest)s at most") % {
        "comfortable": an_interval(hand.comfortable),
        "largest": an_interval(hand.largest),
    }


def latest_hands(hands: Iterable[Hand]) -> dict[str, Hand]:
    """The newest measurement of each side, right first; a side that was never measured is not there."""
    newest: dict[str, Hand] = {}
    for hand in sorted(hands, key=lambda hand: (hand.measured_on, hand.pk)):
        newest[hand.side] = hand
    return {side: newest[side] for side in Side.values if side in newest}


def hands_together(latest: Mapping[str, Hand]) -> list[tuple[str, Hand]]:
    """The latest measurements with a label each: one "both hands" where the two say the same, day included."""
    hands = list(latest.values())
    said = {(hand.measured_on, hand.comfortable, hand.largest, hand.width, str(hand.pairs)) for hand in hands}
    if len(hands) == 2 and len(said) == 1:
        return [(_("both hands"), hands[0])]
    return [(hand.get_side_display(), hand) for hand in hands]


def both_hands_in_words(hands: Iterable[Hand]) -> list[str]:
    """One line for each hand, or one for both where they reach the same; none where nothing was measured."""
    latest = latest_hands(hands)
    words = {side: reach_in_words(hand) for side, hand in latest.items()}
    if len(words) == 2 and len(set(words.values())) == 1:
        return [_("both hands reach %(reach)s") % {"reach": words[Side.RIGHT]}]
    lines = {Side.RIGHT: _("right hand reaches %(reach)s"), Side.LEFT: _("left hand reaches %(reach)s")}
    return [lines[Side(side)] % {"reach": reach} for side, reach in words.items()]
