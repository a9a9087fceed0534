"""What an engraved passage says to those who do not see it: measures, notes and fingers, in words."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext as _

from scores.music.notation import Hands, Moment, Note, Score, Side, moments, sides_of


def describe(
    score: Score, first: int, last: int, *, hands: Hands = "both", fingers: Mapping[str, str] | None = None
) -> str:
    """The measures `first` to `last` (indexes, both included), hand by hand, in the language of the moment: note
    names from low to high, each with its finger where `fingers` (or, without it, the edition) has one."""
    said = []
    for measure in score.measures[first : last + 1]:
        said.append(_("Measure %(number)s.") % {"number": measure.number or measure.index + 1})
        for side in sides_of(hands):
            notes = score.in_measures(measure.index, measure.index, side)
            if notes:
                said.append(hand_in_words(side, notes, fingers))
    return " ".join(said)


def hand_in_words(side: Side, notes: tuple[Note, ...], fingers: Mapping[str, str] | None) -> str:
    struck = [moment_in_words(moment, fingers) for moment in moments(notes)]
    words = ", ".join(struck) if struck else _("held")
    return (_("Right hand: %(notes)s.") if side == "right" else _("Left hand: %(notes)s.")) % {"notes": words}


def moment_in_words(moment: Moment, fingers: Mapping[str, str] | None) -> str:
    words = " + ".join(note_in_words(note, fingers) for note in moment.notes)
    return _("grace note %(notes)s") % {"notes": words} if moment.is_grace else words


def note_in_words(note: Note, fingers: Mapping[str, str] | None) -> str:
    name = f"{note.pitch.name}{note.pitch.octave}"
    finger = note.printed if fingers is None else fingers.get(note.id, "")
    return _("%(note)s finger %(finger)s") % {"note": name, "finger": finger} if finger else name
