"""What an account's entries come to. Pure: lines in, numbers out.

A line's amount is in minor units: above zero it is owed, below zero it was paid or taken off.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Line:
    """One entry. `key` names it; `cancels` is the key of the entry that it takes back, "" for none."""

    day: date
    minor: int
    key: str = ""
    cancels: str = ""


@dataclass(frozen=True)
class Open:
    """What is unpaid of one entry."""

    line: Line
    minor: int


def balance(lines: Iterable[Line], *, on: date | None = None) -> int:
    """The sum of the entries, those of the day `on` included, later ones not."""
    return sum(line.minor for line in lines if on is None or line.day <= on)


def in_order(lines: Iterable[Line]) -> list[Line]:
    """By day; those of one day stay in the order in which they came."""
    return sorted(lines, key=lambda line: line.day)


def running(lines: Iterable[Line], *, opening: int = 0) -> list[tuple[Line, int]]:
    """Each line in order with the balance after it."""
    found = []
    total = opening
    for line in in_order(lines):
        total += line.minor
        found.append((line, total))
    return found


def unpaid(lines: Sequence[Line]) -> list[Open]:
    """The entries that are not paid in full, oldest first: what was paid goes to the oldest entry first.

    An entry and the one that takes back all of it cancel each other and take no part. The open amounts sum to the
    balance where that is above zero; else there are none.
    """
    whole = {line.key: line.minor for line in lines if line.key}
    cancelled = {line.cancels for line in lines if line.cancels and whole.get(line.cancels) == -line.minor}
    standing = [line for line in in_order(lines) if line.key not in cancelled and line.cancels not in cancelled]
    paid = -sum(line.minor for line in standing if line.minor < 0)
    found = []
    for line in standing:
        if line.minor <= 0:
            continue
        covered = min(paid, line.minor)
        paid -= covered
        if covered < line.minor:
            found.append(Open(line, line.minor - covered))
    return found
