"""A drill as the page's scripts play and try it: plain data, and the sentences that they fill in."""

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext as _

from scores.models import RhythmDrill
from scores.music.crossrhythm import Crossing, of_span
from scores.music.drill import figures_in
from scores.music.notation import Score
from scores.music.refusal import Refusal
from scores.music.tempo import RUNGS
from scores.rhythm_music import beat_of
from scores.rhythms import ShownStage, plan_of

RATIO_KEYS = {"right": 76, "left": 60}  # what a bare ratio sounds on


def for_script(crossing: Crossing, score: Score | None, plan: Sequence[ShownStage]) -> dict[str, Any]:
    """A drill as the page's script plays it: the grid, what each stroke sounds (keys and length in quarters), the
    skeleton of each hand, the beat, how many figures fill a measure, the stages."""
    grid = crossing.grid
    skeleton = grid.skeletons[0] if grid.skeletons else None
    return {
        "parts": grid.parts,
        "quarters": float(crossing.length),
        "beat": float(beat_of_crossing(crossing, score)),
        "figures": figures_of(crossing, score),
        "right": strokes_of(crossing, score, "right"),
        "left": strokes_of(crossing, score, "left"),
        "skeleton": {
            "right": grid.upper[:: skeleton.upper_every] if skeleton else grid.upper,
            "left": grid.lower[:: skeleton.lower_every] if skeleton else grid.lower,
        },
        "stages": [staged(shown) for shown in plan],
        "rungs": RUNGS,
        "words": words_for_script(),
    }


def staged(shown: ShownStage) -> dict[str, Any]:
    stage = shown.stage
    names = ("kind", "hands", "tempo", "unit", "repetitions", "click", "accents", "heard", "marks")
    return {"title": shown.title, **{name: getattr(stage, name) for name in names}}


def beat_of_crossing(crossing: Crossing, score: Score | None) -> Fraction:
    """What one click of "each beat" lasts, in quarters: never longer than the cycle."""
    beat = Fraction(1)
    if score:
        measure = score.measures[crossing.measure]
        beat = beat_of(measure.beats, measure.beat_type)
    return min(beat, crossing.length)


def figures_of(crossing: Crossing, score: Score | None) -> int:
    """How many times round fill a measure of the score."""
    return figures_in(score.measures[crossing.measure].nominal, crossing.length) if score else 1


def strokes_of(crossing: Crossing, score: Score | None, side: str) -> list[list]:
    """[part, keys, length in quarters] of each stroke of a hand."""
    parts = crossing.grid.upper if side == "right" else crossing.grid.lower
    named = crossing.upper_notes if side == "right" else crossing.lower_notes
    part = crossing.length / crossing.grid.parts
    following = [*parts[1:], crossing.grid.parts]
    if score is None or not named:
        return [
            [at, [RATIO_KEYS[side]], float((after - at) * part)] for at, after in zip(parts, following, strict=True)
        ]
    strokes = []
    for at, ids in zip(parts, named, strict=True):
        notes = [score.by_id[note] for note in ids]
        strokes.append([at, [note.pitch.midi for note in notes], float(max(note.length for note in notes))])
    return strokes


def words_for_script() -> dict[str, str]:
    """Sentences that the script fills in."""
    return {
        "right": _("right hand"),
        "left": _("left hand"),
        "play": _("Play"),
        "stop": _("Stop"),
        "loading": _("The sounds are coming: %(done)s of %(total)s."),
        "playing": _("%(title)s: %(turn)s of %(turns)s."),
        "again": _("%(title)s: time %(turn)s."),
        "rung": _("%(title)s, at %(tempo)s: %(turn)s of %(turns)s."),
        "ended": _("Done. Rest a moment before you go on."),
        "stopped": _("Stopped."),
        "trouble": _("The sound could not be started here."),
        "quarters": _("♩ = %(tempo)s"),
        "parts": _("%(tempo)s numbers a minute"),
        "noMidi": _(
            "This browser does not let a page hear a MIDI keyboard, or the page is not served over HTTPS. Use the two"
            " keys or the two fields."
        ),
        "midiRefused": _("The browser was not allowed to hear MIDI keyboards. Use the two keys or the two fields."),
        "midiNone": _("No MIDI keyboard is connected. Connect one; it is noticed by itself."),
        "midiHere": _("Listening to %(names)s."),
        "keyTaken": _("That key is the other hand’s already. Choose another."),
        "pressKey": _("Press the key for the %(hand)s."),
        "ready": _("One count-in, then %(turns)s times round. Go with the click."),
        "trying": _("Time %(turn)s of %(turns)s."),
        "nothing": _("Nothing was heard. Press the keys shown on the two fields, or touch the fields, with the click."),
        "summary": _("%(hand)s: %(mean)s on average, spread %(spread)s."),
        "early": _("%(ms)s ms early"),
        "late": _("%(ms)s ms late"),
        "exact": _("on time"),
        "worst": _("Furthest off: %(hand)s on %(count)s, %(mean)s on average. Count it aloud, slowly, and try again."),
        "missed": _("Missed: %(list)s."),
        "extra": _("Not asked for: %(list)s."),
        "missedOne": _("%(hand)s on %(count)s, time %(turn)s"),
        "extraOne": _("%(hand)s after %(count)s, time %(turn)s"),
        "extraFirst": _("%(hand)s before the first stroke"),
        "offset": _(
            "All strokes together came %(mean)s: the delay of the equipment is in that. It is taken off below."
        ),
        "clean": _("%(clean)s of %(turns)s times every stroke lay within %(ms)s ms."),
        "drawing": _("Each stroke of the count: a dot for every time, early to the left, late to the right."),
        "table": _("The numbers"),
        "columns": _("Hand|On|Average|Spread|Each time (ms)|Missed"),
        "kept": _("Filled in below, under “Practised today”. Look it over and write it down."),
        "tempoRemark": _("Cross-rhythm tried: %(clean)s of %(turns)s within %(ms)s ms."),
    }


def of_drill(drill: RhythmDrill, score: Score) -> dict[str, Any] | None:
    """`for_script` of a stored drill; None when its span cannot be read any more."""
    try:
        crossing = of_span(score.notes, Fraction(drill.start), Fraction(drill.end))
    except (Refusal, ValueError, ZeroDivisionError):
        return None
    return for_script(crossing, score, plan_of(drill)) if crossing else None
