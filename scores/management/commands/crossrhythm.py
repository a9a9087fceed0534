"""The grid of a cross-rhythm on the command line; needs no database."""

import json
from argparse import ArgumentParser
from fractions import Fraction
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from scores.music.crossrhythm import Crossing, audible, ms_per_part, of_ratio
from scores.music.refusal import Refusal


def length(text: str) -> Fraction:
    """Quarters: "1", "3/2", "0.5"."""
    try:
        return Fraction(text)
    except ZeroDivisionError as wrong:
        raise ValueError(text) from wrong


class Command(BaseCommand):
    help = "Fits A strokes of the right hand into the time of B of the left: the grid, who strikes when, near misses."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("upper", type=int, metavar="A", help="strokes of the right hand, 1 to 64")
        parser.add_argument("lower", type=int, metavar="B", help="strokes of the left hand, 1 to 64")
        parser.add_argument("--tempo", type=float, default=60, metavar="BPM", help="beats a minute (default 60)")
        parser.add_argument(
            "--beats", type=length, default=Fraction(1), metavar="N", help="beats that one cycle lasts (default 1)"
        )
        parser.add_argument("--json", action="store_true", help="as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        tempo = Fraction(str(options["tempo"])) if _is_finite(options["tempo"]) else options["tempo"]
        try:
            crossing = of_ratio(options["upper"], options["lower"], options["beats"])
            data = described(crossing, tempo)
        except Refusal as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(json.dumps(data, indent=2) if options["json"] else in_words(crossing, data))


def _is_finite(tempo: float) -> bool:
    return tempo - tempo == 0


def described(crossing: Crossing, tempo: Fraction) -> dict[str, Any]:
    """The grid as JSON-able data. Positions are parts from 0, times milliseconds."""
    grid = crossing.grid
    part = ms_per_part(grid, crossing.length, tempo)
    return {
        "grid": grid.parts,
        "upper": list(grid.upper),
        "lower": list(grid.lower),
        "together": list(grid.together),
        "order": list(grid.order),
        "gaps": list(grid.gaps),
        "nearest": [
            {
                "upper": miss.upper,
                "lower": miss.lower,
                "upper_at": miss.upper_at,
                "lower_at": miss.lower_at,
                "distance": miss.distance,
                "first": miss.first,
                "ms": float(miss.distance * part),
                "heard_apart": audible(miss, grid, crossing.length, tempo).apart,
            }
            for miss in grid.nearest
        ],
        "skeletons": [[one.upper, one.lower] for one in grid.skeletons],
        "sentence": grid.sentence,
        "cross": grid.is_cross,
        "beats": str(crossing.length),
        "ms_per_part": float(part),
    }


def in_words(crossing: Crossing, data: dict[str, Any]) -> str:
    """The same for reading: a line for each hand under the count."""
    grid = crossing.grid
    width = len(str(grid.parts)) + 1

    def row(name: str, parts: tuple[int, ...]) -> str:
        struck = set(parts)
        return f"{name:6}" + "".join(("x" if part in struck else ".").rjust(width) for part in range(grid.parts))

    lines = [f"{len(grid.upper)} against {len(grid.lower)}: {grid.parts} parts of {data['ms_per_part']:.1f} ms"]
    if not grid.is_cross:
        lines.append("The hands fit plainly: this is no cross-rhythm.")
    if grid.parts <= 48:
        counts = "".join(str(count.number).rjust(width) for count in grid.counts)
        lines += [f"{'count':6}{counts}", row("right", grid.upper), row("left", grid.lower)]
    lines.append("order: " + ", ".join(grid.order))
    for miss in data["nearest"]:
        lines.append(
            f"nearest: right {miss['upper']} and left {miss['lower']}, {miss['ms']:.0f} ms apart"
            f" ({miss['distance']} of {grid.parts} parts), the {miss['first']} hand first"
        )
    if grid.sentence:
        lines.append(f"words: {grid.sentence}")
    return "\n".join(lines)
