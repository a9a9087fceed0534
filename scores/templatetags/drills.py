"""The player of a rhythm drill, wherever its chart stands."""

from typing import Any

from django.template import Library

from scores.drill_script import of_drill
from scores.inheriting import here
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
    drills = here(passage).drills
    return player_context(drills[number], passage, assigned) if number < len(drills) else {}


def player_context(drill: RhythmDrill, passage: Passage, assigned: int | None = None) -> dict[str, Any]:
    data = of_drill(drill, passage.edition.score)
    return {"name": f"player-{drill_key(drill)}-{assigned or passage.pk}", "data": data, "assigned": assigned}


@register.filter
def drill_key(drill: RhythmDrill) -> str:
    """Names a drill on a page where the same one may stand at two places: "5", "5-at-7-2"."""
    return f"{drill.pk}-at-{drill.start.replace('/', '-')}" if drill.inherited else str(drill.pk)


@register.inclusion_tag("scores/_drill_player.html")
def ratio_player(data: dict[str, Any]) -> dict[str, Any]:
    """For a bare ratio, as `drill_script.for_script` gives it."""
    return {"name": "ratio-player", "data": data, "assigned": None}
