"""The chart of a crossing with its music engraved above: one drawing for the page and for paper."""

from __future__ import annotations

import hashlib
import re
from importlib.metadata import version

from django.conf import settings
from django.core.cache import cache

from scores import workshop
from scores.engraving import MEGABYTES, SECONDS
from scores.engraving.plan import CannotEngrave, System
from scores.music.chart import END, LEAST_WIDTH, MARGIN, MOST_WIDTH, Chart, Strip, drawn, least_length
from scores.music.crossrhythm import Crossing
from scores.music.notation import Score
from scores.rhythm_music import music_of_ratio, music_of_span

STAFF = 23.0  # height of a staff above the grid, in the chart's units
LEAD, SIGN = 44.0, 8.0  # before the first note: brace and clef, and each sign of the key
EDITION = 2  # of the drawing: raise it when the same request is to be drawn anew
INK = re.compile(r"<svg[^>]*>(.*)</svg>\s*\Z", re.DOTALL)
BOX = re.compile(r'viewBox="([^"]*)"')


def picture(
    crossing: Crossing,
    score: Score | None,
    width: float,
    *,
    labels: tuple[str, str] = ("R", "L"),
    title: str = "",
) -> Chart:
    """The chart, `width` units wide (held between 200 and 2000), with the notes of `score` above, or with plain note
    values where there is none. Without music where it cannot be engraved just now."""
    wide = int(max(LEAST_WIDTH, min(MOST_WIDTH, width)))
    return drawn(crossing, wide, labels=labels, title=title, strip=strip_of(crossing, score, wide))


def strip_of(crossing: Crossing, score: Score | None, width: int) -> Strip | None:
    """The music in proportion, as long as the chart is wide, or as long as its strokes need to stand apart."""
    fifths = score.measures[crossing.measure].fifths if score else 0
    room = width - max(MARGIN, LEAD + SIGN * abs(fifths)) - END
    needed = least_length(crossing.grid)
    is_one_line = needed <= room
    wanted = room if is_one_line else needed * 1.02
    try:
        music = music_of_span(score, crossing) if score else music_of_ratio(crossing)
        system = engraved_strip(music, quarter=wanted / float(crossing.length))
    except (workshop.WorkshopFailed, CannotEngrave):
        return None
    knots = knots_of(crossing, system, wanted)
    ink, box = INK.search(system.svg), BOX.search(system.svg)
    if not (knots and ink and box):
        return None
    left, top, wide, height = (float(number) for number in box[1].split())
    strip = Strip(ink[1], (left, top, wide, height), system.scale, knots)
    longest = width - max(MARGIN, strip.lead) - END
    if is_one_line and strip.along(crossing.grid.parts) > longest:
        smaller = strip.scale * longest / strip.along(crossing.grid.parts)
        strip = Strip(strip.ink, strip.box, smaller, strip.knots)
    return strip


def engraved_strip(music: bytes, *, quarter: float) -> System:
    """From the cache when it was engraved before."""
    digest = hashlib.sha256(music)
    digest.update(f"{EDITION} {version('verovio')} {quarter:.1f} {STAFF}".encode())
    key = f"strip-{digest.hexdigest()}"
    found = cache.get(key)
    if found is None:
        found = workshop.run(
            "scores.engraving.strips:engrave_strip",
            music,
            seconds=getattr(settings, "ENGRAVING_SECONDS", SECONDS),
            megabytes=getattr(settings, "ENGRAVING_MEGABYTES", MEGABYTES),
            quarter=round(quarter, 1),
            staff=STAFF,
        )
        cache.set(key, found)
    return found


def knots_of(crossing: Crossing, system: System, wanted: float) -> tuple[tuple[int, float], ...]:
    """Where the strokes stand, from the first part to the end of the grid; () when nothing was found."""
    grid = crossing.grid
    places: dict[int, float] = {}
    for parts, named, name in ((grid.upper, crossing.upper_notes, "r"), (grid.lower, crossing.lower_notes, "l")):
        for place, part in enumerate(parts):
            ids = named[place] if named else (f"{name}{place}",)
            heads = [system.notes[note][0] for note in ids if note in system.notes]
            if heads:
                places.setdefault(part, min(heads))
    rising: list[tuple[int, float]] = []
    for part, x in sorted(places.items()):
        if not rising or x > rising[-1][1]:
            rising.append((part, x))
    if not rising:
        return ()
    (first, x), (last, far) = rising[0], rising[-1]
    unit = (far - x) / (last - first) if last > first else wanted / grid.parts / system.scale
    before = [(0, x - unit * first)] if first else []
    return (*before, *rising, (grid.parts, far + unit * (grid.parts - last)))
