"""Every grace and ornament of a score file written out, on the command line; needs no database."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from scores.music.notation import Pitch, Placement, Score
from scores.music.ornaments import Choice, Realised, realise
from scores.music.refusal import Refusal
from scores.reading_files import CannotRead
from scores.reading_files.reading import read

SIGNS = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}


class Command(BaseCommand):
    help = "Writes out every grace and ornament of a score file, before the beat or on it, in fractions of a quarter."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="a score: MusicXML, MEI, Humdrum, ABC or MIDI")
        parser.add_argument(
            "--placement", choices=["before", "on"], help="for all of them (default: as the file says, else on)"
        )
        parser.add_argument("--tempo", type=float, metavar="BPM", help="quarters a minute (default: the file's own)")
        parser.add_argument("--json", action="store_true", help="as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        try:
            score = read(path.name, path.read_bytes()).score
            performance = realise(score, _everywhere(score, options["placement"]), tempo=options["tempo"])
        except OSError as problem:
            raise CommandError(f"{path}: {problem.strerror or problem}") from problem
        except (CannotRead, Refusal) as refusal:
            raise CommandError(str(refusal)) from refusal
        if options["json"]:
            self.stdout.write(json.dumps([described(score, one) for one in performance.ornaments], indent=2))
            return
        for one in performance.ornaments:
            self.stdout.write(in_words(score, one))
        if not performance.ornaments:
            self.stdout.write("The score has no graces or ornaments.")


def _everywhere(score: Score, placement: Placement | None) -> dict[str, Choice | Placement]:
    """The same placement for every grace and sign, whatever the file says."""
    adorned = (note.id for note in score.notes if note.is_grace or note.ornaments)
    return dict.fromkeys(adorned, placement) if placement else {}


def spelled(pitch: Pitch) -> str:
    """A pitch in plain letters: "Bb4", "F##5"."""
    return f"{pitch.step}{SIGNS.get(pitch.alter, f'({pitch.alter:+d})')}{pitch.octave}"


def described(score: Score, one: Realised) -> dict[str, Any]:
    """One ornament as JSON-able data; times are fractions of a quarter from the start of the piece."""
    return {
        "measure": score.measures[one.measure].number,
        "beat": str(one.beat),
        "hand": one.side,
        "kind": one.kind,
        "placement": one.placement,
        "note": one.note,
        "notes": [
            {
                "pitch": spelled(note.pitch),
                "onset": str(note.onset),
                "length": str(note.length),
                "from": note.source,
                "part": note.role,
            }
            for note in one.notes
        ],
        "taken": {name: str(length) for name, length in one.taken},
        "taken_from_rest": str(one.from_silence),
        "ms": float(one.ms),
        "remarks": [str(remark) for remark in one.remarks],
    }


def in_words(score: Score, one: Realised) -> str:
    """One line: where, what, and the notes with their lengths."""
    notes = " ".join(f"{spelled(note.pitch)}({note.length})" for note in one.notes)
    remarks = "".join(f"\n    {remark}" for remark in one.remarks)
    number = score.measures[one.measure].number
    return f"measure {number}, beat {one.beat}, {one.side} hand: {one.kind}, {one.placement}: {notes}{remarks}"
