"""What in a score file will need a word, on the command line; needs no database."""

import json
from argparse import ArgumentParser, ArgumentTypeError
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from scores.music.fingering.hand import PRESETS, Hand, from_reach, hand
from scores.music.fingering.problems import beat_name
from scores.music.notation import SIDES
from scores.music.refusal import Refusal
from scores.music.survey import KINDS, NOTES_PER_SECOND, Finding, Kind, Options, survey
from scores.reading_files import CannotRead
from scores.reading_files.reading import read


def kinds(text: str) -> frozenset[Kind]:
    """ "grace,leap" """
    asked = {part.strip() for part in text.split(",") if part.strip()}
    unknown = sorted(asked - set(KINDS))
    if unknown or not asked:
        raise ArgumentTypeError(f"no kind of finding: {', '.join(unknown) or text}; there are {', '.join(KINDS)}")
    return frozenset(kind for kind in KINDS if kind in asked)


def reach(text: str) -> tuple[int, int]:
    """Semitones in comfort and at most: "12-14"."""
    low, dash, high = (part.strip() for part in text.partition("-"))
    if not (dash and low.isdecimal() and high.isdecimal() and 3 <= int(low) <= int(high) <= 24):
        raise ArgumentTypeError("a reach is two numbers of semitones from 3 to 24, in comfort and at most: 12-14")
    return int(low), int(high)


class Command(BaseCommand):
    help = "Lists in score order what in a score file will need a word, and what is wrong with the file."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="a score: MusicXML, MEI, Humdrum, ABC or MIDI")
        parser.add_argument("--kinds", type=kinds, metavar="A,B", help=f"only these, of {', '.join(KINDS)}")
        parser.add_argument("--without", type=kinds, default=frozenset(), metavar="A,B", help="all but these")
        parser.add_argument("--hand", choices=SIDES, help="what concerns this hand (default: both)")
        parser.add_argument("--size", choices=list(PRESETS), default="medium", help="of the hands (default medium)")
        parser.add_argument("--reach", type=reach, metavar="C-L", help="semitones in comfort and at most, for --size")
        parser.add_argument("--tempo", type=float, metavar="BPM", help="quarters a minute (default: the file's own)")
        parser.add_argument(
            "--fast",
            type=float,
            default=NOTES_PER_SECOND,
            metavar="N",
            help=f"notes a second beyond which a passage is fast (default {NOTES_PER_SECOND:g})",
        )
        parser.add_argument("--json", action="store_true", help="as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        try:
            asked = asked_options(options)
            found = survey(read(path.name, path.read_bytes()).score, asked)
        except OSError as problem:
            raise CommandError(f"{path}: {problem.strerror or problem}") from problem
        except (CannotRead, Refusal) as refusal:
            raise CommandError(str(refusal)) from refusal
        except ValueError as wrong:
            raise CommandError(f"“{options['fast']:g}” is no number of notes a second from above 0 to 40") from wrong
        found = tuple(one for one in found if options["hand"] in (None, one.hand) or one.hand == "both")
        if options["json"]:
            self.stdout.write(json.dumps([described(one) for one in found], indent=2, ensure_ascii=False))
            return
        for one in found:
            self.stdout.write(in_words(one))
        if not found:
            self.stdout.write("Nothing of the kind stands in this score.")


def asked_options(options: dict[str, Any]) -> Options:
    wanted = (options["kinds"] or frozenset(KINDS)) - options["without"]
    return Options(wanted, asked_hands(options), options["tempo"], options["fast"])


def asked_hands(options: dict[str, Any]) -> tuple[Hand, Hand]:
    if options["reach"]:
        right, left = (from_reach(side, *options["reach"]) for side in SIDES)
    else:
        right, left = (hand(side, options["size"]) for side in SIDES)
    return right, left


def described(one: Finding) -> dict[str, Any]:
    """One finding as JSON-able data: `detail` is its sentence, `sort` tells findings of a kind apart ("3:2")."""
    return {
        "measure": one.number,
        "beat": str(one.beat),
        "hand": one.hand,
        "kind": one.kind,
        "notes": list(one.notes),
        "detail": str(one),
        "sort": one.detail,
        "last_measure": one.last_number,
        "values": dict(one.params),
    }


def in_words(one: Finding) -> str:
    """One line: where, what."""
    until = f" to {one.last_number}" if one.last_measure != one.measure else ""
    hands = "both hands" if one.hand == "both" else f"{one.hand} hand"
    return f"measure {one.number}{until}, beat {beat_name(one.beat)}, {hands}: {one.kind}: {one}"
