"""Two hands' rhythms as the desk shows them: the spans worth a drill, their chart, and their stages in words."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from scores.marking import beat_words
from scores.models import Passage, RhythmDrill
from scores.music.chart import Chart
from scores.music.crossrhythm import Crossing, Grid, audible, find, ms_per_part, of_span
from scores.music.drill import BadPlan, Stage, from_data
from scores.music.notation import Measure, Score
from scores.music.refusal import Refusal
from scores.rhythm_pictures import picture

CHART_WIDTH = 560


@dataclass(frozen=True)
class FoundSpan:
    """A span of the passage in which the hands' rhythms cross. `start` and `end` in quarters."""

    start: Fraction
    end: Fraction
    measure: str
    beat: str
    ratio: tuple[int, int] | None
    planned: bool


@dataclass(frozen=True)
class ShownStage:
    stage: Stage
    title: str
    instruction: str


@dataclass(frozen=True)
class ShownDrill:
    """A drill with its picture. `crossing` is None when the stored span cannot be read any more."""

    drill: RhythmDrill
    crossing: Crossing | None
    measure: Measure
    where: str
    ratio: tuple[int, int] | None
    chart: Chart | None
    order: str
    near: str
    skeleton: str
    stages: tuple[ShownStage, ...]

    @property
    def picture(self) -> SafeString:
        """The drawing is made of numbers, engraved music and escaped labels alone."""
        return mark_safe(self.chart.svg if self.chart else "")


def beats_in(passage: Passage) -> Iterator[tuple[Measure, list[tuple[str, Fraction]]]]:
    """Every measure of the passage with its beats: (as read, quarters from the piece's start)."""
    for measure in passage.edition.score.measures[passage.first_measure : passage.last_measure + 1]:
        unit = Fraction(4, measure.beat_type)
        onsets = [measure.start + unit * count for count in range(-(-measure.length // unit))]
        yield measure, [(beat_words(measure.beat_of(onset)), onset) for onset in onsets]


def found_in(passage: Passage, drills: Sequence[RhythmDrill]) -> tuple[FoundSpan, ...]:
    """The spans of the passage where the hands' rhythms cross, in score order."""
    score = passage.edition.score
    part = replace(
        score,
        measures=score.measures[passage.first_measure : passage.last_measure + 1],
        notes=score.in_measures(passage.first_measure, passage.last_measure),
    )
    planned = {(drill.start, drill.end) for drill in drills}
    return tuple(
        FoundSpan(
            crossing.start,
            crossing.end,
            *place(score, crossing.start),
            ratio=crossing.grid.ratio,
            planned=(str(crossing.start), str(crossing.end)) in planned,
        )
        for crossing in find(part)
    )


def place(score: Score, onset: Fraction) -> tuple[str, str]:
    """The printed measure number and the beat of a time in quarters."""
    measure = measure_at(score, onset)
    return measure.number, beat_words(measure.beat_of(onset))


def measure_at(score: Score, onset: Fraction) -> Measure:
    inside = [measure for measure in score.measures if measure.start <= onset]
    return inside[-1] if inside else score.measures[0]


def shown_drill(drill: RhythmDrill, score: Score, tempo: int = 60, width: float = CHART_WIDTH) -> ShownDrill:
    """The drill with chart, order of strokes and nearest misses at `tempo` quarters a minute; the chart as wide as the
    column (`width`), at most `CHART_WIDTH`, unless its strokes need more."""
    start, end = Fraction(drill.start), Fraction(drill.end)
    measure = measure_at(score, start)
    number, beat = place(score, start)
    try:
        crossing = of_span(score.notes, start, end)
    except Refusal:
        crossing = None
    plan = plan_of(drill)
    tempo = plan[0].stage.tempo if plan else tempo
    return ShownDrill(
        drill=drill,
        crossing=crossing,
        measure=measure,
        where=_("measure %(measure)s from beat %(beat)s") % {"measure": number, "beat": beat},
        ratio=crossing.grid.ratio if crossing else None,
        chart=chart_of(crossing, score, width) if crossing else None,
        order=order_words(crossing.grid) if crossing else "",
        near=near_words(crossing.grid, end - start, tempo) if crossing else "",
        skeleton=skeleton_words(crossing.grid) if crossing else "",
        stages=plan,
    )


def chart_of(crossing: Crossing, score: Score | None, width: float) -> Chart:
    """With the hands' letters and read aloud in the reader's language."""
    return picture(crossing, score, min(width, CHART_WIDTH), labels=(_("R"), _("L")), title=grid_words(crossing.grid))


def grid_words(grid: Grid) -> str:
    """The grid read aloud."""
    words = ngettext(
        "Grid of %(parts)d part. Right hand on %(right)s. Left hand on %(left)s.",
        "Grid of %(parts)d parts. Right hand on %(right)s. Left hand on %(left)s.",
        grid.parts,
    )
    return words % {
        "parts": grid.parts,
        "right": ", ".join(str(part + 1) for part in grid.upper),
        "left": ", ".join(str(part + 1) for part in grid.lower),
    }


def order_words(grid: Grid) -> str:
    """Who strikes, stroke by stroke."""
    words = {"both": _("both"), "R": _("right"), "L": _("left")}
    return ", ".join(words[struck] for struck in grid.order)


def near_words(grid: Grid, quarters: Fraction, tempo: int) -> str:
    """Which strokes of a cycle `quarters` long nearly meet, how far apart they are, how long that is at `tempo`, and
    whether it is heard; "" where none do."""
    if not grid.near:
        return ""
    pairs = [_("%(right)d with %(left)d") % {"right": miss.upper, "left": miss.lower} for miss in grid.near]
    distance = grid.near[0].distance
    ms = ms_per_part(grid, quarters, tempo) * distance
    said = _(
        "Nearly together, right with left: %(pairs)s. They lie %(distance)d of %(parts)d parts apart: %(ms)d ms at"
        " ♩ = %(tempo)d."
    ) % {"pairs": ", ".join(pairs), "distance": distance, "parts": grid.parts, "ms": round(ms), "tempo": tempo}
    heard = audible(grid.near[0], grid, quarters, tempo)
    if heard.apart and not heard.as_lead:
        return f"{said} {_('That is heard as two strokes.')}"
    if heard.as_lead:
        return f"{said} {_('That is no wider than a melody that leads a little.')}"
    return f"{said} {_('At this tempo the two are hardly told apart.')}"


def plan_of(drill: RhythmDrill) -> tuple[ShownStage, ...]:
    """The stages in words; none when the stored plan cannot be read."""
    try:
        return tuple(shown_stage(stage) for stage in from_data(drill.stages))
    except BadPlan:
        return ()


def shown_stage(stage: Stage) -> ShownStage:
    params = dict(stage.params)
    return ShownStage(stage, _(stage.title) % params, _(stage.instruction) % params)


def how_words(stage: Stage) -> str:
    """How fast and how often: "60 quarters a minute, 5 times"; for a ladder its marks."""
    values = {"tempo": stage.tempo, "times": stage.repetitions, "marks": ", ".join(map(str, stage.marks))}
    if stage.marks:
        return _("Quarters a minute: %(marks)s; %(times)s times each.") % values
    if stage.unit == "part":
        return _("%(tempo)s numbers a minute, %(times)s times.") % values
    return _("%(tempo)s quarters a minute, %(times)s times.") % values


def skeleton_words(grid: Grid) -> str:
    """The simplest ratio inside and on which notes it lies; "" where there is none."""
    if not grid.skeletons:
        return ""
    one = grid.skeletons[0]
    values = {"upper": one.upper, "lower": one.lower}
    return _("Simpler inside: %(upper)d against %(lower)d (right hand: %(right)s; left hand: %(left)s).") % {
        **values,
        "right": every_words(one.upper_every),
        "left": every_words(one.lower_every),
    }


def every_words(every: int) -> str:
    return _("one note in %(every)d") % {"every": every} if every > 1 else _("every note")
