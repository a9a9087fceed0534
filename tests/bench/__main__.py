"""`make bench`: how fast and how large, each number beside a peer or a limit measured in the same run.

Nothing here fails: what is over its bound says so. Speed depends on the machine and on what else it does.
"""

from __future__ import annotations

import argparse
import importlib
import logging
import sys
import time
import traceback
from collections.abc import Iterator

from tests.bench.house import thrown_away
from tests.bench.measure import Row, heading, load, table

SUBJECTS = (
    "uploading",
    "recurrences",
    "handouts",
    "engines",
    "drills",
    "playing",
    "ossias",
    "survey",
    "growth",
    "queries",
    "searching",
    "editions",
    "memory",
    "week",
    "progress",
    "tuition",
)


def measured(subjects: list[str]) -> Iterator[Row]:
    for subject in subjects:
        start = time.perf_counter()
        try:
            yield from importlib.import_module(f"tests.bench.{subject}").rows()
        except Exception:
            print(f"\n{subject} could not be measured:", file=sys.stderr)
            traceback.print_exc()
        print(f"{subject} took {time.perf_counter() - start:.0f} s", file=sys.stderr)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description="Speed and size, as ratios of one run.")
    parser.add_argument("subjects", nargs="*", choices=[[], *SUBJECTS], help="only these")
    subjects = parser.parse_args().subjects or list(SUBJECTS)
    logging.disable(logging.WARNING)
    print(heading())
    with thrown_away():
        rows = list(measured(subjects))
    print(load("at the end") + "\n")
    print(table(rows))


if __name__ == "__main__":
    main()
