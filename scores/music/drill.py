"""A drill for two hands with unlike rhythms: stages of practice as plain data, which a teacher may change.

The order is common practice: each hand known by itself, the grid counted, a slow pulse, the hidden simpler ratio,
both hands, then up the ladder.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, Literal, get_args

from scores.music.crossrhythm import Crossing, Grid, Skeleton
from scores.music.notation import Hands, Side
from scores.music.refusal import Refusal
from scores.music.tempo import FASTEST, SLOWEST, ladder, nearest_mark

Kind = Literal["alone", "count", "pulse", "accents", "skeleton", "together", "listen", "ladder"]
Click = Literal["none", "part", "beat", "cycle", "measure"]
Unit = Literal["quarter", "part"]

CAUTION = "Rest between stages. Stop when anything hurts; pain that lasts belongs to a doctor, not to more practice."
MOST_COUNTED = 60  # parts that one counts through aloud; common practice
COUNT_TEMPO = 100  # Parts a minute that can still be counted aloud; common practice.
MOST_REPETITIONS = 99
MOST_STAGES = 40
OFFERED_TEMPOS = (60, 88)  # quarters a minute, where nobody has said any
LADDERS = ("Up the ladder", "Down the ladder")
PLAIN_HANDS = "The hands fit plainly here: there is no cross-rhythm to drill."


class BadPlan(Refusal):
    """A plan of stages that cannot be read or played."""


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage. `title` and `instruction` are message ids with %(name)s places for `params`.

    `tempo` counts `unit`s a minute: quarters, or grid parts where the grid itself is counted. `click` is what the
    metronome strikes: "cycle" is once a figure, "measure" once in as many figures as fill one. `accents` are grid
    parts to lean on. `heard` is the hand that is only heard. `marks` are
    the rungs of the ladder, empty elsewhere.
    """

    kind: Kind
    title: str
    instruction: str
    hands: Hands
    tempo: int
    repetitions: int
    params: tuple[tuple[str, str | int], ...] = ()
    unit: Unit = "quarter"
    click: Click = "beat"
    accents: tuple[int, ...] = ()
    heard: Side | None = None
    marks: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        for tempo in (self.tempo, *self.marks):
            if not SLOWEST <= tempo <= FASTEST:
                raise BadPlan(
                    "A stage's tempo lies between %(slowest)d and %(fastest)d; %(tempo)d does not.",
                    {"slowest": SLOWEST, "fastest": FASTEST, "tempo": tempo},
                )
        if not 1 <= self.repetitions <= MOST_REPETITIONS:
            raise BadPlan(
                "A stage is repeated 1 to %(most)d times, not %(repetitions)d.",
                {"most": MOST_REPETITIONS, "repetitions": self.repetitions},
            )


def stages(crossing: Crossing | Grid, tempo_now: int, tempo_goal: int, figures: int = 1) -> tuple[Stage, ...]:
    """The drill for a crossing, from `tempo_now` to `tempo_goal` quarters a minute; `figures` of it fill a measure (see
    `figures_in`). Raises `BadTempo`.

    Hands that fit plainly need no drill and get no stage: `PLAIN_HANDS` says so.
    """
    grid = crossing.grid if isinstance(crossing, Crossing) else crossing
    marks = ladder(tempo_now, tempo_goal)
    if not grid.is_cross:
        return ()
    slow = tempo_now if tempo_now <= 60 else max(SLOWEST, nearest_mark(Fraction(tempo_now * 3, 4)))
    return (
        *_alone(slow),
        *_counted(grid, slow, figures),
        *_skeletons(grid, slow),
        *_joined(grid, slow),
        Stage(
            kind="ladder",
            title=LADDERS[tempo_now > tempo_goal],
            instruction="Both hands from %(now)d to %(goal)d, mark by mark. Go on after %(runs)d clean runs in a row;"
            " after a slip go back one mark.",
            params=(("now", tempo_now), ("goal", tempo_goal), ("runs", 3)),
            hands="both",
            tempo=tempo_now,
            repetitions=3,
            marks=marks,
        ),
    )


def retuned(stage: Stage, tempo: int, goal: int | None = None) -> Stage:
    """The stage at another tempo. A ladder climbs from there to `goal`, or to where it went; words that name its ends
    follow. Raises `BadPlan` and `BadTempo`."""
    if not stage.marks:
        return replace(stage, tempo=tempo)
    goal = stage.marks[-1] if goal is None else goal
    params = {**dict(stage.params), "now": tempo, "goal": goal} if "now" in dict(stage.params) else dict(stage.params)
    title = stage.title if stage.title not in LADDERS else LADDERS[tempo > goal]
    marks = ladder(tempo, goal)
    return replace(stage, tempo=tempo, title=title, params=tuple(params.items()), marks=marks)


def _alone(slow: int) -> tuple[Stage, ...]:
    return tuple(
        Stage(
            kind="alone",
            title=title,
            instruction="Keep to one fingering. Play evenly, until the fingers come by themselves.",
            hands=side,
            tempo=slow,
            repetitions=5,
        )
        for side, title in _named("Right hand alone", "Left hand alone")
    )


def figures_in(measure: Fraction, figure: Fraction) -> int:
    """How many figures fill a measure of this length, both in quarters; 1 where they do not fill it evenly."""
    times = measure / figure
    return int(times) if times > 1 and times.denominator == 1 else 1


def _counted(grid: Grid, slow: int, figures: int) -> tuple[Stage, ...]:
    count = Stage(
        kind="count",
        title="Count the grid",
        instruction="Count aloud to %(parts)d, evenly. Tap each hand on its numbers: right %(right)s, left %(left)s.",
        params=(("parts", grid.parts), ("right", _numbers(grid.upper)), ("left", _numbers(grid.lower))),
        hands="both",
        tempo=COUNT_TEMPO,
        repetitions=5,
        unit="part",
        click="part",
    )
    instruction = (
        "One click for the measure, %(figures)d times round. Land on the click; keep the %(strokes)d notes of each time"
        " even."
        if figures > 1
        else "One click for the whole figure. Land on the click; keep the %(strokes)d notes between even."
    )
    pulses = tuple(
        Stage(
            kind="pulse",
            title=title,
            instruction=instruction,
            params=(("strokes", strokes), *((("figures", figures),) if figures > 1 else ())),
            hands=side,
            tempo=slow,
            repetitions=min(5 * figures, MOST_REPETITIONS),
            click="measure" if figures > 1 else "cycle",
        )
        for (side, title), strokes in zip(
            _named("Right hand against a slow pulse", "Left hand against a slow pulse"),
            (len(grid.upper), len(grid.lower)),
            strict=True,
        )
    )
    return (count, *pulses) if grid.parts <= MOST_COUNTED else pulses


def _skeletons(grid: Grid, slow: int) -> tuple[Stage, ...]:
    if not grid.skeletons:
        return ()
    skeleton = grid.skeletons[0]
    right, left = _accents(grid, skeleton)
    found = []
    for (side, title), every, accents in zip(
        _named("Right hand with accents", "Left hand with accents"),
        (skeleton.upper_every, skeleton.lower_every),
        (right, left),
        strict=True,
    ):
        if every > 1:
            found.append(
                Stage(
                    kind="accents",
                    title=title,
                    instruction="Play every note, and lean on one in %(every)d: on %(numbers)s of the count.",
                    params=(("every", every), ("numbers", _numbers(accents))),
                    hands=side,
                    tempo=slow,
                    repetitions=5,
                    accents=accents,
                )
            )
    together = Stage(
        kind="skeleton",
        title="The skeleton, both hands",
        instruction="Play only the accented notes: %(upper)d in the right hand against %(lower)d in the left.",
        params=(("upper", skeleton.upper), ("lower", skeleton.lower)),
        hands="both",
        tempo=slow,
        repetitions=5,
        accents=tuple(sorted({*right, *left})),
    )
    return (*found, together)


def _joined(grid: Grid, slow: int) -> tuple[Stage, ...]:
    sentence = grid.sentence
    both = Stage(
        kind="together",
        title="Both hands",
        instruction="Both hands, slowly, to the words “%(sentence)s”."
        if sentence
        else "Both hands, slowly. The order of the strokes: %(order)s.",
        params=(("sentence", sentence),) if sentence else (("order", ", ".join(grid.order)),),
        hands="both",
        tempo=slow,
        repetitions=5,
    )
    heard: tuple[tuple[Side, Side, str], ...] = (
        ("right", "left", "Play the right hand, hear the left"),
        ("left", "right", "Play the left hand, hear the right"),
    )
    listened = tuple(
        Stage(
            kind="listen",
            title=title,
            instruction="The other hand comes from the loudspeaker, or from beside you. Listen to that one most.",
            hands=side,
            tempo=slow,
            repetitions=3,
            heard=other,
        )
        for side, other, title in heard
    )
    return (both, *listened)


def _named(right: str, left: str) -> tuple[tuple[Side, str], tuple[Side, str]]:
    return (("right", right), ("left", left))


def _accents(grid: Grid, skeleton: Skeleton) -> tuple[tuple[int, ...], tuple[int, ...]]:
    return grid.upper[:: skeleton.upper_every], grid.lower[:: skeleton.lower_every]


def _numbers(parts: Sequence[int]) -> str:
    """Grid parts as they are counted, from 1."""
    return ", ".join(str(part + 1) for part in parts)


def to_data(plan: Sequence[Stage]) -> list[dict[str, Any]]:
    """The plan as JSON-able data; `from_data` gives it back."""
    return [
        {
            "kind": stage.kind,
            "title": stage.title,
            "instruction": stage.instruction,
            "params": dict(stage.params),
            "hands": stage.hands,
            "tempo": stage.tempo,
            "repetitions": stage.repetitions,
            "unit": stage.unit,
            "click": stage.click,
            "accents": list(stage.accents),
            "heard": stage.heard,
            "marks": list(stage.marks),
        }
        for stage in plan
    ]


def from_data(data: object) -> tuple[Stage, ...]:
    """A plan from JSON-able data. Raises `BadPlan` with the place of what cannot be read."""
    if not isinstance(data, list) or len(data) > MOST_STAGES:
        raise BadPlan("A plan is a list of at most %(most)d stages.", {"most": MOST_STAGES})
    return tuple(_stage(item, place) for place, item in enumerate(data, start=1))


def _stage(item: object, place: int) -> Stage:
    if not isinstance(item, Mapping):
        raise BadPlan("Stage %(place)d is no stage.", {"place": place})
    try:
        stage = Stage(
            kind=_one_of(item["kind"], get_args(Kind)),
            title=_text(item["title"]),
            instruction=_text(item["instruction"]),
            params=tuple((_text(name), _word(word)) for name, word in item.get("params", {}).items()),
            hands=_one_of(item["hands"], get_args(Hands)),
            tempo=_whole(item["tempo"]),
            repetitions=_whole(item["repetitions"]),
            unit=_one_of(item.get("unit", "quarter"), get_args(Unit)),
            click=_one_of(item.get("click", "beat"), get_args(Click)),
            accents=tuple(map(_whole, item.get("accents", ()))),
            heard=_one_of(item.get("heard"), (None, *get_args(Side))),
            marks=tuple(map(_whole, item.get("marks", ()))),
        )
    except BadPlan:
        raise
    except KeyError as missing:
        raise BadPlan("Stage %(place)d lacks “%(name)s”.", {"place": place, "name": str(missing.args[0])}) from None
    except (TypeError, ValueError, AttributeError):
        raise BadPlan("Stage %(place)d holds something that cannot be read.", {"place": place}) from None
    return stage


def _one_of(value: object, choices: tuple[Any, ...]) -> Any:
    if value not in choices:
        raise ValueError(value)
    return value


def _text(value: object) -> str:
    if not isinstance(value, str) or len(value) > 2000:
        raise TypeError
    return value


def _word(value: object) -> str | int:
    return _whole(value) if isinstance(value, int) else _text(value)


def _whole(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise TypeError
    return value
