"""Which way a text runs: embedding levels of its characters and the order in which a line's pieces stand.

The Unicode Bidirectional Algorithm (UAX #9) without what names and titles do not use: explicit embeddings, isolates and
paired brackets. Even levels run from left to right, odd ones from right to left.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar
from unicodedata import bidirectional, mirrored

Piece = TypeVar("Piece")

MIRRORS = dict(zip("()[]{}<>«»‹›", ")(][}{><»«›‹", strict=True))


def runs_right_to_left(text: str) -> bool:
    """By the first character that has a direction (rules P2 and P3)."""
    for char in text:
        kind = bidirectional(char)
        if kind in ("L", "R", "AL"):
            return kind != "L"
    return False


def levels(text: str) -> list[int]:
    """The embedding level of each character, in a paragraph that runs as its first strong character does."""
    base = 1 if runs_right_to_left(text) else 0
    if base == 0 and not any(bidirectional(char) in ("R", "AL", "AN") for char in text):
        return [0] * len(text)
    kinds = resolved(text, "R" if base else "L")
    return [level_of(kind, base) for kind in kinds]


def level_of(kind: str, base: int) -> int:
    """Rules I1 and I2."""
    if kind == "R":
        return 1
    if kind == "L":
        return 2 * base
    return 2


def resolved(text: str, base: str) -> list[str]:
    """Each character as L, R or EN (a number within right-to-left text): rules W1 to W7, N1 and N2."""
    kinds = weak(text, base)
    index = 0
    while index < len(kinds):
        if kinds[index] in "LR" or kinds[index] == "EN":
            index += 1
            continue
        end = index
        while end < len(kinds) and kinds[end] == "N":
            end += 1
        before = side(kinds[index - 1]) if index else base
        after = side(kinds[end]) if end < len(kinds) else base
        kinds[index:end] = [before if before == after else base] * (end - index)
        index = end
    return kinds


def side(kind: str) -> str:
    """How a kind counts beside neutral characters: numbers like the right-to-left text they stand in."""
    return "L" if kind == "L" else "R"


def weak(text: str, base: str) -> list[str]:
    """Each character as L, R, EN or N (neutral)."""
    kinds: list[str] = []
    strong = base
    for char in text:
        kind = bidirectional(char)
        if kind == "NSM":
            kind = kinds[-1] if kinds else base
        elif kind in ("R", "AL"):
            kind = strong = "R"
        elif kind == "L":
            strong = "L"
        elif kind in ("EN", "AN"):
            kind = "L" if strong == "L" else "EN"
        elif kind == "ET" and kinds[-1:] == ["EN"]:
            kind = "EN"
        else:
            kind = kind if kind in ("CS", "ES") else "N"
        kinds.append(kind)
    for index, kind in enumerate(kinds):
        if kind in ("CS", "ES"):
            between = 0 < index < len(kinds) - 1 and kinds[index - 1] == kinds[index + 1] == "EN"
            kinds[index] = "EN" if between else "N"
    return kinds


def visual_order(pieces: Sequence[Piece], levels: Sequence[int]) -> list[tuple[Piece, int]]:
    """The pieces of one line from left to right, with their levels (rule L2)."""
    order = list(zip(pieces, levels, strict=True))
    for level in range(max(levels, default=0), 0, -1):
        start = 0
        while start < len(order):
            end = start
            while end < len(order) and order[end][1] >= level:
                end += 1
            order[start:end] = order[start:end][::-1]
            start = max(end, start + 1)
    return order


def mirror(text: str) -> str:
    """Characters of a right-to-left stretch without letters, as they stand from left to right."""
    return "".join(MIRRORS.get(char, char) if mirrored(char) else char for char in reversed(text))
