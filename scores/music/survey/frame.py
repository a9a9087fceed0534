"""Changes of tempo, metre and key."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from fractions import Fraction

from scores.music.fingering.problems import gettext_noop
from scores.music.notation import Measure
from scores.music.survey.terms import is_about_tempo
from scores.music.survey.timeline import Timeline
from scores.music.survey.words import Finding, Kind

MARK = gettext_noop("The tempo is ♩ = %(tempo)s from here.")
WORDS = gettext_noop("“%(words)s”")
MARK_AND_WORDS = gettext_noop("“%(words)s”, ♩ = %(tempo)s from here.")
METRE = gettext_noop("The metre changes from %(before)s to %(after)s.")
KEY = gettext_noop("The key signature changes from %(before)s to %(after)s.")


def frame(line: Timeline) -> Iterator[Finding]:
    """Everything of this module, in no order. What the piece begins with is no change."""
    yield from tempos(line)
    inside = {(measure_at(line, change.onset).index, change.kind) for change in line.score.changes}
    for before, after in zip(line.score.measures, line.score.measures[1:], strict=False):
        if metre_of(before) != metre_of(after) and (before.index, "metre") not in inside:
            metres = {"before": metre_of(before), "after": metre_of(after)}
            yield at(line, "metre", after.start, METRE, metres, after)
        if before.fifths != after.fifths and (before.index, "key") not in inside:
            signatures = {"before": signature(before.fifths), "after": signature(after.fifths)}
            yield at(line, "key", after.start, KEY, signatures, after)
    for change in line.score.changes:
        if change.kind == "metre":
            yield at(line, "metre", change.onset, METRE, {"before": change.before, "after": change.after})
        else:
            signatures = {"before": signature(int(change.before)), "after": signature(int(change.after))}
            yield at(line, "key", change.onset, KEY, signatures)


def tempos(line: Timeline) -> Iterator[Finding]:
    """Metronome marks and words that change the tempo, each moment once; a mark that repeats the one before changes
    nothing."""
    score = line.score
    marks = {mark.onset: mark.quarters for mark in score.tempos}
    words: dict[Fraction, list[str]] = {}
    for one in score.words:
        if not is_about_tempo(one.text):
            continue
        words.setdefault(one.onset, []).append(one.text)
    before = next(iter(marks.values()), None) if min(marks, default=Fraction(1)) == 0 else None
    for onset in sorted({*marks, *words} - {Fraction(0)}):
        said, tempo = ", ".join(words.get(onset, [])), marks.get(onset)
        if tempo == before:
            tempo = None
        before = tempo if tempo is not None else before
        number = f"{float(tempo):.4g}" if tempo is not None else ""
        if said and number:
            yield at(line, "tempo", onset, MARK_AND_WORDS, {"words": said, "tempo": number})
        elif said:
            yield at(line, "tempo", onset, WORDS, {"words": said})
        elif number:
            yield at(line, "tempo", onset, MARK, {"tempo": number})


def metre_of(measure: Measure) -> str:
    return f"{measure.beats}/{measure.beat_type}"


def signature(fifths: int) -> str:
    """ "3♭", "2♯", "♮" for none."""
    return f"{abs(fifths)}{'♯' if fifths > 0 else '♭'}" if fifths else "♮"


def at(
    line: Timeline,
    kind: Kind,
    onset: Fraction,
    message: str,
    params: Mapping[str, str | int],
    measure: Measure | None = None,
) -> Finding:
    """A finding at a moment, with the notes that are struck there or, where none are, those that are struck next in
    the measure."""
    measure = measure or measure_at(line, onset)
    notes = line.notes_from(onset, measure.index)
    return Finding(
        kind=kind,
        measure=measure.index,
        number=measure.number,
        beat=measure.beat_of(onset),
        onset=onset,
        hand="both",
        notes=tuple(note.id for note in notes),
        message=message,
        params=params,
        last_measure=measure.index,
        last_number=measure.number,
    )


def measure_at(line: Timeline, onset: Fraction) -> Measure:
    """The measure in which a moment lies; the last one for what stands at the end."""
    measures = line.score.measures
    return measures[max(0, bisect_right(measures, onset, key=lambda one: one.start) - 1)]
