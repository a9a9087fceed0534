"""The player of a passage: `{% player passage sounding=url midi=url %}`."""

from typing import Any

from django import template

from scores.models import Passage
from scores.music.tempo import FASTEST, RUNGS, SLOWEST
from scores.playing import usual_tempo

register = template.Library()


@register.inclusion_tag("scores/_player.html", takes_context=True)
def player(
    context: template.Context, passage: Passage, *, sounding: str, midi: str, tempo: int | None = None
) -> dict[str, Any]:
    """`sounding` and `midi` are the addresses of its data and its file; `tempo` quarters a minute, the edition's own
    without it."""
    return {
        "request": context.get("request"),
        "passage": passage,
        "sounding": sounding,
        "midi": midi,
        "tempo": tempo or usual_tempo(passage),
        "rungs": " ".join(map(str, RUNGS)),
        "slowest": SLOWEST,
        "fastest": FASTEST,
    }
