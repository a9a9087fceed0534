"""The player of a rhythm drill, wherever its chart stands."""

from typing import Any

from django.template import Library

from scores.drill_script import of_drill
from scores.models import Passage, RhythmDrill

register = Library()


@register.inclusion_tag("scores/_drill_player.html")
def drill_player(drill: RhythmDrill) -> dict[str, Any]:
    """For the teacher: what is tried is not kept."""
    return player_context(drill, drill.passage)


@register.inclusion_tag("scores/_drill_player.html")
def assigned_drill_player(passage: Passage, number: int, assigned: int) -> dict[str, Any]:
    """For a family: the passage's standing drill of this number, from 0. What is tried can be put into today's entry
    for `assigned`."""
    drills = [drill for drill in passage.drills.all() if not drill.removed_at]
    return player_context(drills[number], passage, assigned) if number < len(drills) else {}


def player_context(drill: RhythmDrill, passage: Passage, assigned: int | None = None) -> dict[str, Any]:
    return {"name": f"drill-{drill.pk}-player", "data": of_drill(drill, passage.edition.score), "assigned": assigned}


@register.inclusion_tag("scores/_drill_player.html")
def ratio_player(data: dict[str, Any]) -> dict[str, Any]:
    """For a bare ratio, as `drill_script.for_script` gives it."""
    return {"name": "ratio-player", "data": data, "assigned": None}
