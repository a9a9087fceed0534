"""From an edition's MusicXML to systems of engraved music, with lines of fingering around them.

Importing this room loads no engraver: the work is done in the workshop.

What a style sheet or a script finds in a system's SVG:

    svg.engraving[data-first][data-last]      aria-label is filled by `System.labelled`
      g.ink                                   all the music; black unless a style sheet gives fill and stroke
        g.measure[data-measure]               index into the edition; rect.measure-box is its invisible area
          g.note[data-note]                   a note head with its dots and accidental
          g.fing[data-note]                   a fingering that the edition prints
        g.fingers text.finger[data-note]      the chosen fingering, on the notes
      g.finger-lines
        g.finger-line.teacher|program|printed(.chosen)[data-line][data-side]
          rect.hit                            invisible: the whole line
          path.rule  text.line-label  polygon.marker
          rect.place[data-note][data-line]    invisible: one note's place in the line, with or without a digit
          text.digit[data-note][data-line]
      g.ossias g.ossia(.chosen)               ornaments written out; see ossia_drawing.py
        g.note[data-ossia][data-ornament][data-order]
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from importlib.metadata import version

from django.conf import settings
from django.core.cache import cache

from scores import workshop
from scores.engraving.plan import CannotEngrave, Engraving, FingerLine, Mark, Ossia, System
from scores.music.notation import Hands

__all__ = [
    "CannotEngrave",
    "Engraving",
    "FingerLine",
    "Mark",
    "Ossia",
    "System",
    "engrave",
    "engrave_cached",
    "engrave_spans_cached",
]

SECONDS = 20.0
MEGABYTES = 512
EDITION = 5  # of the drawing: raise it when the same request is to be drawn anew


def engrave(
    music: bytes,
    *,
    first: int | None = None,
    last: int | None = None,
    hands: Hands = "both",
    width: float = 900,
    staff: float = 32,
    lines: Sequence[FingerLine] = (),
    ossias: Sequence[Ossia] = (),
    on_notes: Mapping[str, str] | None = None,
    show_printed: bool = True,
    continues: bool = False,
) -> Engraving:
    """`plates.engrave`, done in the workshop. Raises `WorkshopFailed` and what `plates.engrave` raises."""
    return workshop.run(
        "scores.engraving.plates:engrave",
        music,
        seconds=getattr(settings, "ENGRAVING_SECONDS", SECONDS),
        megabytes=getattr(settings, "ENGRAVING_MEGABYTES", MEGABYTES),
        first=first,
        last=last,
        hands=hands,
        width=width,
        staff=staff,
        lines=tuple(lines),
        ossias=tuple(ossias),
        on_notes=dict(on_notes or {}),
        show_printed=show_printed,
        continues=continues,
    )


def engrave_cached(music: bytes, **options) -> Engraving:
    """`engrave`, or the same from the cache when it was asked for before."""
    key = key_of(music, options)
    found = cache.get(key)
    if found is None:
        found = engrave(music, **options)
        cache.set(key, found)
    return found


def engrave_spans_cached(
    music: bytes, *, spans: Sequence[tuple[int, int]], width: float, staff: float
) -> list[Engraving]:
    """`plates.engrave_spans`, done in the workshop, or the same from the cache. Raises what `engrave` raises."""
    key = key_of(music, {"spans": list(spans), "width": width, "staff": staff})
    found = cache.get(key)
    if found is None:
        found = workshop.run(
            "scores.engraving.plates:engrave_spans",
            music,
            seconds=getattr(settings, "ENGRAVING_SECONDS", SECONDS),
            megabytes=getattr(settings, "ENGRAVING_MEGABYTES", MEGABYTES),
            spans=list(spans),
            width=width,
            staff=staff,
        )
        cache.set(key, found)
    return found


def key_of(music: bytes, options: Mapping[str, object]) -> str:
    lines = [asdict(line) | {"fingers": dict(line.fingers)} for line in options.get("lines", ())]
    ossias = repr(tuple(options.get("ossias", ())))  # of frozen values: the same for the same music
    asked = json.dumps({**options, "lines": lines, "ossias": ossias}, sort_keys=True, default=dict)
    digest = hashlib.sha256(music)
    digest.update(f"{EDITION} {version('verovio')} {asked}".encode())
    return f"engraving-{digest.hexdigest()}"
