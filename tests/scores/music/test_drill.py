"""The plan of stages: order by common practice, data that comes back as it went."""

import json
from dataclasses import fields
from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scores.music.crossrhythm import grid, of_ratio
from scores.music.drill import (
    CAUTION,
    MOST_COUNTED,
    BadPlan,
    Stage,
    figures_in,
    from_data,
    retuned,
    stages,
    to_data,
)
from scores.music.tempo import FASTEST, SLOWEST, BadTempo

tempos = st.integers(SLOWEST, FASTEST)


def test_eight_against_three_goes_from_each_hand_alone_up_the_ladder() -> None:
    plan = stages(of_ratio(8, 3), 60, 96)
    assert [stage.kind for stage in plan] == [
        *("alone", "alone", "count", "pulse", "pulse", "accents", "skeleton", "together", "listen", "listen", "ladder")
    ]


def test_the_count_is_on_the_grid() -> None:
    count = next(stage for stage in stages(grid(3, 2), 60, 60) if stage.kind == "count")
    assert (count.unit, count.click) == ("part", "part")
    assert dict(count.params) == {"parts": 6, "right": "1, 3, 5", "left": "1, 4"}


@pytest.mark.parametrize("ratio", [(8, 7), (16, 15), (13, 8), (12, 5), (64, 63)])
def test_nobody_counts_to_hundreds(ratio: tuple[int, int]) -> None:
    counts = [stage for stage in stages(grid(*ratio), 60, 60) if stage.kind == "count"]
    assert len(counts) == (grid(*ratio).parts <= MOST_COUNTED)


def test_a_stage_goes_at_another_tempo() -> None:
    first = stages(grid(3, 2), 60, 80)[0]
    assert retuned(first, 44) == Stage(**{**vars_of(first), "tempo": 44})


def test_a_ladder_goes_between_other_tempos_and_says_so() -> None:
    last = stages(grid(3, 2), 60, 80)[-1]
    down = retuned(last, 66, 58)
    # The standard marks from 66 to 58.
    assert (down.tempo, down.marks, down.title) == (66, (66, 63, 60, 58), "Down the ladder")
    assert (down.instruction % dict(down.params)).startswith("Both hands from 66 to 58")
    assert retuned(last, 72).marks == (72, 76, 80)
    own = Stage(**{**vars_of(last), "title": "Climb", "instruction": "As far as it goes.", "params": ()})
    assert (retuned(own, 72).title, retuned(own, 72).params) == ("Climb", ())


@pytest.mark.parametrize(("tempo", "goal"), [(0, None), (60, 5000)])
def test_a_stage_at_no_tempo_is_refused(tempo: int, goal: int | None) -> None:
    with pytest.raises((BadPlan, BadTempo)):
        retuned(stages(grid(3, 2), 60, 80)[-1], tempo, goal)


def vars_of(stage: Stage) -> dict[str, object]:
    return {field.name: getattr(stage, field.name) for field in fields(stage)}


def test_accents_stand_on_the_skeleton() -> None:
    accents = next(stage for stage in stages(grid(8, 3), 60, 60) if stage.kind == "accents")
    # Every fourth of eight in 24 parts.
    assert accents.accents == (0, 12)
    assert accents.hands == "right"


def test_a_ratio_without_a_skeleton_skips_it() -> None:
    assert not {"accents", "skeleton"} & {stage.kind for stage in stages(grid(5, 3), 60, 80)}


def test_the_other_hand_is_heard() -> None:
    listened = [stage for stage in stages(grid(3, 2), 60, 80) if stage.kind == "listen"]
    assert {(stage.hands, stage.heard) for stage in listened} == {("right", "left"), ("left", "right")}


def test_the_last_stage_climbs_the_standard_marks() -> None:
    last = stages(grid(3, 2), 60, 80)[-1]
    assert last.marks == (60, 63, 66, 69, 72, 76, 80)


def test_a_known_sentence_is_spoken() -> None:
    together = next(stage for stage in stages(grid(4, 3), 60, 80) if stage.kind == "together")
    assert together.instruction % dict(together.params) == "Both hands, slowly, to the words “pass the golden butter”."


@given(st.integers(1, 16), st.integers(1, 16), tempos, tempos)
def test_every_plan_survives_json_and_every_sentence_fills(upper: int, lower: int, now: int, goal: int) -> None:
    plan = stages(grid(upper, lower), now, goal)
    assert bool(plan) == grid(upper, lower).is_cross
    assert from_data(json.loads(json.dumps(to_data(plan)))) == plan
    for stage in plan:
        assert "%(" not in stage.instruction % dict(stage.params)
        assert all(0 <= part < grid(upper, lower).parts for part in stage.accents)


@pytest.mark.parametrize(("now", "goal"), [(0, 60), (60, 900)])
def test_an_impossible_tempo_is_refused(now: int, goal: int) -> None:
    with pytest.raises(BadTempo):
        stages(grid(3, 2), now, goal)


GOOD = to_data(stages(grid(3, 2), 60, 60))[0]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ("stages", "list"),
        ([GOOD] * 41, "at most 40"),
        ([7], "Stage 1"),
        ([GOOD, {**GOOD, "tempo": "fast"}], "Stage 2"),
        ([{**GOOD, "tempo": 0}], "between 20 and 300"),
        ([{**GOOD, "repetitions": 0}], "1 to 99"),
        ([{**GOOD, "hands": "feet"}], "Stage 1"),
        ([{**GOOD, "accents": 5}], "Stage 1"),
        ([{**GOOD, "params": [1]}], "Stage 1"),
        ([{**GOOD, "kind": []}], "Stage 1"),
        ([{key: value for key, value in GOOD.items() if key != "title"}], "title"),
    ],
)
def test_a_plan_that_cannot_be_read_says_where(data: object, words: str) -> None:
    with pytest.raises(BadPlan, match=words):
        from_data(data)


def test_a_teacher_may_write_a_stage_of_her_own() -> None:
    own = Stage(kind="together", title="Sing the left hand", instruction="", hands="right", tempo=52, repetitions=2)
    assert from_data(to_data([own])) == (own,)


def test_the_caution_defers_to_a_doctor() -> None:
    assert "doctor" in CAUTION


def test_the_slow_pulse_of_a_short_figure_is_one_click_a_measure():
    """Three against two on one quarter of 3/4: the figure comes three times to a click."""
    figures = figures_in(F(3), F(1))
    pulses = [stage for stage in stages(grid(3, 2), 60, 60, figures) if stage.kind == "pulse"]
    assert [(stage.click, stage.repetitions, dict(stage.params)) for stage in pulses] == [
        ("measure", 15, {"strokes": 3, "figures": 3}),
        ("measure", 15, {"strokes": 2, "figures": 3}),
    ]
    assert "One click for the measure, 3 times round" in pulses[0].instruction % dict(pulses[0].params)
    assert from_data(to_data(pulses)) == tuple(pulses)


@pytest.mark.parametrize(
    ("measure", "figure", "figures"),
    [(F(3), F(3), 1), (F(4), F(1), 4), (F(4), F(2), 2), (F(3), F(2), 1), (F(3), F(6), 1), (F(3, 2), F(1, 2), 3)],
)
def test_figures_are_counted_where_they_fill_the_measure(measure, figure, figures):
    assert figures_in(measure, figure) == figures
