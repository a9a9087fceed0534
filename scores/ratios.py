"""A bare ratio as its page shows it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.safestring import SafeString, mark_safe

from scores.drill_script import for_script
from scores.music.crossrhythm import Crossing
from scores.music.drill import Stage
from scores.rhythms import ShownStage, chart_of, grid_words, near_words, order_words, shown_stage, skeleton_words


@dataclass(frozen=True)
class ShownRatio:
    """`stages` are none where the hands fit plainly; it can be heard and tried all the same."""

    crossing: Crossing
    picture: SafeString
    words: str
    order: str
    near: str
    skeleton: str
    stages: tuple[ShownStage, ...]
    script: dict[str, Any]


def shown_ratio(crossing: Crossing, plan: Sequence[Stage], *, width: float) -> ShownRatio:
    """The chart for a column `width` CSS pixels wide, the words, the plan."""
    grid = crossing.grid
    stages = tuple(shown_stage(stage) for stage in plan)
    tempo = plan[0].tempo if plan else 60
    return ShownRatio(
        crossing=crossing,
        # The drawing is made of numbers, engraved music and escaped labels alone.
        picture=mark_safe(chart_of(crossing, None, width).svg),
        words=grid_words(grid),
        order=order_words(grid),
        near=near_words(grid, crossing.length, tempo),
        skeleton=skeleton_words(grid),
        stages=stages,
        script=for_script(crossing, None, stages),
    )
