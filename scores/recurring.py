"""What returns in an edition: kept beside it, and said in the reader's words."""

import logging
from collections.abc import Callable, Sequence
from functools import lru_cache

from django.utils.translation import gettext as _

from scores import workshop
from scores.models import Edition, Recurrences
from scores.models.recurrences import VERSION, packed
from scores.models.repertoire import unpacked
from scores.music.notation import Hands, Score
from scores.music.recurrences import Again, Group, Runs, again, recurrences
from scores.music.returns import Weave
from studio.reach import an_interval

log = logging.getLogger(__name__)

AT_ONCE, AT_ONCE_MEASURES = 20_000, 1_000  # notes and measures that are looked through in this process
SECONDS, MEGABYTES = 60.0, 1024  # of a longer work, in a process of its own


def found_in(score: Score, on_report: Callable[[str, int], None] | None = None) -> tuple[Group, ...]:
    """What returns in a score. It is a help: nothing is found in a work that takes too long."""
    if len(score.notes) <= AT_ONCE and len(score.measures) <= AT_ONCE_MEASURES:
        return recurrences(score, on_report)
    try:
        return workshop.run(recurrences, score, on_report=on_report, seconds=SECONDS, megabytes=MEGABYTES)
    except workshop.WorkshopFailed:
        log.warning("what returns in %s measures was not found in time", len(score.measures))
        return ()


def keep_recurrences(*, edition: Edition, groups: Sequence[Group] | None = None) -> Recurrences:
    """Keeps what returns in an edition: `groups`, or what is found now."""
    groups = found_in(edition.score) if groups is None else groups
    row, _is_new = Recurrences.objects.update_or_create(
        edition=edition,
        defaults={"studio_id": edition.studio_id, "version": VERSION, "packed": packed(groups)},
    )
    return row


def groups_of(edition: Edition) -> tuple[Group, ...]:
    """The groups of an edition as kept; found now for one that came in before they were looked for."""
    row = Recurrences.objects.filter(edition=edition, version=VERSION).first()
    return (row or keep_recurrences(edition=edition)).groups


def again_in(edition: Edition) -> tuple[Again, ...]:
    """For each measure of an edition at most one saying that it is an earlier one again."""
    return again(groups_of(edition), len(edition.score.measures))


def weave_of(edition: Edition) -> Weave:
    """The edition's score, made ready to be asked where stretches come again."""
    return woven(bytes(edition.packed_score))


@lru_cache(maxsize=4)
def woven(packed_score: bytes) -> Weave:
    return Weave(unpacked(packed_score))


# In words


def measures_words(score: Score, runs: Runs) -> str:
    """ "measures 9–16", "measure 4", "measures 1–7, 9" """
    numbers = ", ".join(range_words(score, first, last) for first, last in runs)
    if len(runs) == 1 and runs[0][0] == runs[0][1]:
        return _("measure %(number)s") % {"number": numbers}
    return _("measures %(numbers)s") % {"numbers": numbers}


def range_words(score: Score, first: int, last: int) -> str:
    """ "9–16", "4" """
    numbers = score.measures[first].number, score.measures[last].number
    return numbers[0] if first == last else f"{numbers[0]}–{numbers[1]}"


def runs_words(score: Score, runs: Runs) -> str:
    return ", ".join(range_words(score, first, last) for first, last in runs)


def height_words(semitones: int) -> str:
    """ "a fifth higher", "an octave lower"; "" for the same height."""
    if not semitones:
        return ""
    interval = {"interval": an_interval(abs(semitones))}
    return _("%(interval)s higher") % interval if semitones > 0 else _("%(interval)s lower") % interval


def hand_words(hands: Hands) -> str:
    """ "right hand", "left hand"; "" for both."""
    return {"both": "", "right": _("right hand"), "left": _("left hand")}[hands]


def again_words(score: Score, one: Again) -> str:
    """ "as measures 9–16, a fifth higher", "right hand as measures 1–4" """
    place = measures_words(score, one.runs)
    hand = hand_words(one.hands)
    said = (
        _("%(hand)s as %(measures)s") % {"hand": hand, "measures": place}
        if hand
        else _("as %(measures)s") % {"measures": place}
    )
    return joined([said, height_words(one.semitones)])


def joined(words: Sequence[str]) -> str:
    return ", ".join(word for word in words if word)
