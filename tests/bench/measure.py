"""Measuring and telling: medians of several runs, and the one table that they stand in."""

from __future__ import annotations

import gc
import os
import platform
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import version
from pathlib import Path
from statistics import median

Work = Callable[[], object]
LIBRARIES = ("Django", "music21", "verovio", "svglib", "reportlab", "lxml", "networkx", "scipy", "gunicorn")
HEADINGS = ("what", "measured", "against", "ratio", "bound", "")


@dataclass(frozen=True)
class Row:
    """One line of the table: `measured` and `peer` are in `unit`, and their ratio is to be at most `bound`."""

    what: str
    measured: float
    peer_name: str
    peer: float
    bound: float
    unit: str = "ms"
    note: str = ""
    is_broken: bool = False  # not all of it could be measured

    @property
    def ratio(self) -> float:
        return self.measured / self.peer

    @property
    def is_over(self) -> bool:
        return self.ratio > self.bound

    @property
    def cells(self) -> tuple[str, ...]:
        return (
            self.what,
            f"{figure(self.measured)} {self.unit}",
            f"{self.peer_name}: {figure(self.peer)} {self.unit}",
            f"{self.ratio:.3g}",
            f"{self.bound:.3g}",
            "broken" if self.is_broken else "over" if self.is_over else "ok",
        )


def figure(number: float) -> str:
    """Three digits that count, and no powers of ten."""
    return f"{number:.0f}" if abs(number) >= 100 else f"{number:.3g}"


def lib(name: str) -> str:
    return f"{name} {version(name)}"


def milliseconds(work: Work) -> float:
    """How long one run takes."""
    start = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - start)


def medians(*works: Work, times: int = 5, before: Work | None = None) -> list[float]:
    """The median time of each work, in milliseconds. The works take turns, so that a busy moment of the machine falls
    on all of them. `before` is done ahead of each run and not counted."""
    gc.collect()
    gc.freeze()  # what the rest of this process has loaded shall slow nobody down
    runs: list[list[float]] = [[] for _ in works]
    for _ in range(times):
        for work, mine in zip(works, runs, strict=True):
            if before:
                before()
            mine.append(milliseconds(work))
    return [median(mine) for mine in runs]


def processor() -> str:
    info = Path("/proc/cpuinfo")
    lines = info.read_text().splitlines() if info.exists() else []
    named = (line.partition(":")[2].strip() for line in lines if line.startswith("model name"))
    return next(named, "") or platform.processor() or platform.machine()


def heading() -> str:
    """Where and with what it was measured."""
    return "\n".join(
        [
            f"{datetime.now():%Y-%m-%d %H:%M}, {processor()}, {os.cpu_count()} processors, "
            f"Python {platform.python_version()}",
            ", ".join(map(lib, LIBRARIES)),
            load("at the start"),
        ]
    )


def load(when: str) -> str:
    return f"Load average {when}: " + ", ".join(f"{part:.1f}" for part in os.getloadavg())


def table(rows: Iterable[Row]) -> str:
    """The rows under their headings, then what is to be said of them."""
    rows = list(rows)
    cells = [HEADINGS, *(row.cells for row in rows)]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    lines = [
        "  ".join(
            f"{cell:>{width}}" if 2 < place < 5 else f"{cell:{width}}" for place, (cell, width) in enumerate(pairs)
        )
        for pairs in (list(zip(row, widths, strict=True)) for row in cells)
    ]
    lines.insert(1, "-" * len(lines[0]))
    notes = [f"  {row.what}: {row.note}" for row in rows if row.note]
    return "\n".join(
        [
            *(line.rstrip() for line in lines),
            "",
            "The ratio is what was measured over what stands beside it; up to the bound it is ok.",
            *notes,
        ]
    )
