"""The least costly fingerings of a few measures on the command line; needs no database."""

import json
from argparse import ArgumentParser, ArgumentTypeError
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from scores.music.fingering.hand import PRESETS, Hand, Trait, from_reach, hand
from scores.music.fingering.options import Option, best, propose
from scores.music.fingering.problems import Problem
from scores.music.fingering.remarks import Remark
from scores.music.fingering.text import write_line
from scores.music.notation import Measure, Moment, Note, Score, Side, moments
from scores.music.refusal import Refusal
from scores.reading_files import CannotRead
from scores.reading_files.reading import read

MOST = 50
SLOWEST, FASTEST = 20.0, 300.0


def whole(text: str, least: int, most: int) -> int:
    if not text.strip().isdecimal() or not least <= int(text) <= most:
        raise ArgumentTypeError(f"“{text}” is no number from {least} to {most}")
    return int(text)


def count(text: str) -> int:
    return whole(text, 1, MOST)


def reach(text: str) -> tuple[int, int]:
    """Semitones in comfort and at most: "12-14"."""
    comfortable, dash, largest = text.partition("-")
    if not dash:
        raise ArgumentTypeError("a reach is two numbers of semitones, in comfort and at most: 12-14")
    low, high = whole(comfortable, 3, 24), whole(largest, 3, 24)
    if low > high:
        raise ArgumentTypeError("the reach in comfort is not larger than the one at most: 12-14")
    return low, high


def tempo(text: str) -> float:
    try:
        quarters = float(text)
    except ValueError:
        quarters = 0.0
    if not SLOWEST <= quarters <= FASTEST:
        raise ArgumentTypeError(f"“{text}” is no tempo from {SLOWEST:g} to {FASTEST:g} quarters a minute")
    return quarters


class Command(BaseCommand):
    help = "Fingers measures A to B of a score file for one hand: the least costly fingerings, what each costs and why."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="a score: MusicXML, MEI, Humdrum, ABC or MIDI")
        parser.add_argument("--measures", metavar="A-B", default="", help="as printed, 5-8 or 5 (default: all)")
        parser.add_argument("--hand", choices=["right", "left"], default="right", help="default right")
        parser.add_argument("--best", type=count, default=3, metavar="K", help=f"how many, 1 to {MOST} (default 3)")
        parser.add_argument("--size", choices=list(PRESETS), default="medium", help="of the hand (default medium)")
        parser.add_argument("--reach", type=reach, metavar="C-L", help="semitones in comfort and at most, for --size")
        parser.add_argument("--broad", action="store_true", help="fingers that are broad between black keys")
        parser.add_argument("--tempo", type=tempo, metavar="BPM", help="quarters a minute")
        parser.add_argument("--rules", choices=["house", "published"], default="house", help="default house")
        parser.add_argument("--printed", action="store_true", help="keep the fingers that the edition prints")
        parser.add_argument("--different", action="store_true", help="clearly different ones instead of the K best")
        parser.add_argument("--json", action="store_true", help="as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        try:
            score = read(path.name, path.read_bytes()).score
        except OSError as problem:
            raise CommandError(f"{path}: {problem.strerror or problem}") from problem
        except (CannotRead, Refusal) as refusal:
            raise CommandError(str(refusal)) from refusal
        notes = notes_for(score, options["measures"], options["hand"])
        found = fingered(score, notes, asked_hand(options), options)
        if found[0].impossible:
            raise CommandError(unplayable(found[0]))
        self.stdout.write(
            json.dumps([described(score, one) for one in found], indent=2, ensure_ascii=False)
            if options["json"]
            else "\n".join(in_words(rank, one, moments(notes)) for rank, one in enumerate(found, start=1))
        )


def notes_for(score: Score, asked: str, side: Side) -> tuple[Note, ...]:
    """The notes of one hand in the measures asked for. Raises `CommandError` where there are none."""
    first, last = span(score, asked)
    notes = score.in_measures(first.index, last.index, side)
    if not any(note.is_attack for note in notes):
        where = f"measure {first.number}" if first is last else f"measures {first.number} to {last.number}"
        raise CommandError(f"The {side} hand strikes nothing in {where}: there is nothing to finger.")
    return notes


def span(score: Score, asked: str) -> tuple[Measure, Measure]:
    """The first and last measure of "5-8", "5" or "" (all), by their printed numbers."""
    numbers = [measure.number for measure in score.measures]
    if not asked.strip():
        return score.measures[0], score.measures[-1]
    first, dash, last = (part.strip() for part in asked.partition("-"))
    for number in (first, last) if dash else (first,):
        if number not in numbers:
            raise CommandError(
                f"There is no measure “{number}”: this score has measures {numbers[0]} to {numbers[-1]}."
            )
    start = numbers.index(first)
    # Where a number stands twice (a measure split at a repeat), a range takes in both parts.
    end = len(numbers) - 1 - numbers[::-1].index(last if dash else first)
    if end < start:
        raise CommandError(f"Measure {last} stands before measure {first}: write them in the order of the score.")
    return score.measures[start], score.measures[end]


def asked_hand(options: dict[str, Any]) -> Hand:
    traits: list[Trait] = ["broad fingers"] if options["broad"] else []
    if options["reach"]:
        return from_reach(options["hand"], *options["reach"], traits=traits)
    return hand(options["hand"], options["size"], traits)


def fingered(score: Score, notes: tuple[Note, ...], mine: Hand, options: dict[str, Any]) -> tuple[Option, ...]:
    fixed = {note.id: note.printed for note in notes if note.printed} if options["printed"] else None
    weighed = {"fixed": fixed, "rules": options["rules"], "tempo": options["tempo"], "score": score}
    if options["different"]:
        return propose(notes, mine, count=options["best"], **weighed)
    return best(notes, mine, options["best"], **weighed)


def unplayable(option: Option) -> str:
    """Every moment that cannot be played, with the smallest change that helps."""
    return "This hand cannot play that:\n" + "\n".join(f"  {problem}" for problem in option.impossible)


def described(score: Score, option: Option) -> dict[str, Any]:
    """One fingering as JSON-able data. `fingers` by note id in the order of the music, `cost` and `rules` in points."""
    return {
        "fingers": option.fingers,
        "cost": option.cost,
        "rules": option.by_rule,
        "remarks": [remark_data(score, remark) for remark in option.remarks],
    }


def remark_data(score: Score, remark: Remark | Problem) -> dict[str, Any]:
    found: dict[str, Any] = {"kind": remark.kind, "notes": list(remark.notes), "text": str(remark)}
    if isinstance(remark, Remark):
        found["tone"] = remark.tone
    if remark.notes:
        note = score.by_id[remark.notes[0]]
        measure = score.measure_of(note)
        found |= {"measure": measure.number, "beat": str(measure.beat_of(note.onset))}
    return found


def in_words(rank: int, option: Option, struck: tuple[Moment, ...]) -> str:
    """One fingering for reading: its line, cost, rules and remarks."""
    rules = ", ".join(f"{rule} {points:g}" for rule, points in option.by_rule.items() if points)
    lines = [
        f"{rank}. {write_line(option.fingers, struck)}",
        f"   cost {option.cost:g}" + (f": {rules}" if rules else ""),
    ]
    for remark in option.remarks:
        where = f"measure {remark.params['measure']}, beat {remark.params['beat']}: " if remark.notes else ""
        lines.append(f"   {where}{remark}")
    return "\n".join(lines)
