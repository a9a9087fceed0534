"""Played times to written ones: for every quarter the coarsest grid that its attacks fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

# Parts of a quarter, and what a finer grid must save in misplacement (in quarters) to be preferred. Ours; common
# practice in transcription: simple divisions first, triplets before thirty-seconds.
GRIDS: tuple[tuple[int, float], ...] = ((1, 0.0), (2, 0.01), (4, 0.025), (3, 0.03), (6, 0.05), (8, 0.055))
CLOSE = Fraction(1, 12)  # a key let go this much before the next attack was meant to last until it


@dataclass
class Played:
    """A note as the grid has it, in quarters from the start."""

    start: Fraction
    end: Fraction
    key: int


def on_grid(notes: Sequence[tuple[int, int, int]], quarter: int) -> tuple[list[Played], dict[int, int]]:
    """Notes (start, end, key) in ticks to written times, and the grid of each quarter that has attacks."""
    attacks: dict[int, list[Fraction]] = {}
    for start, _, _ in notes:
        at = Fraction(start, quarter)
        attacks.setdefault(int(at), []).append(at - int(at))
    grids = {window: best_grid(offsets) for window, offsets in attacks.items()}
    played = []
    for start, end, key in notes:
        begin = snap(Fraction(start, quarter), grids)
        finish = snap(Fraction(end, quarter), grids)
        shortest = Fraction(1, max(2, grids.get(int(begin), 2)))
        played.append(Played(begin, max(finish, begin + shortest), key))
    return until_next(played), grids


def best_grid(offsets: list[Fraction]) -> int:
    def cost(parts: int) -> float:
        return sum(float(abs(offset - Fraction(round(offset * parts), parts))) for offset in offsets) / len(offsets)

    return min(GRIDS, key=lambda grid: cost(grid[0]) + grid[1])[0]


def snap(at: Fraction, grids: dict[int, int]) -> Fraction:
    window = int(at)
    parts = grids.get(window, 2)
    return window + Fraction(round((at - window) * parts), parts)


def until_next(played: list[Played]) -> list[Played]:
    """Lengthens notes that end just before the next attack, as played legato does."""
    starts = sorted({note.start for note in played})
    following = dict(pairwise(starts))
    for note in played:
        nxt = following.get(note.start)
        if nxt is not None and note.end < nxt and nxt - note.end <= max(CLOSE, (nxt - note.start) / 4):
            note.end = nxt
    return played


def voices_of(played: list[Played], most: int = 4) -> list[list[tuple[Fraction, Fraction, list[int]]]]:
    """Chords (start, end, keys) of one hand in voices in which nothing overlaps. What does not fit into `most` voices
    is cut short."""
    chords: dict[tuple[Fraction, Fraction], set[int]] = {}
    for note in played:
        chords.setdefault((note.start, note.end), set()).add(note.key)
    voices: list[list[tuple[Fraction, Fraction, list[int]]]] = []
    for (start, end), keys in sorted(chords.items(), key=lambda item: (item[0][0], -max(item[1]))):
        chord = (start, end, sorted(keys))
        home = next((voice for voice in voices if voice[-1][1] <= start), None)
        if home is not None:
            home.append(chord)
        elif len(voices) < most:
            voices.append([chord])
        else:
            make_room(voices, chord)
    return voices


def make_room(
    voices: list[list[tuple[Fraction, Fraction, list[int]]]], chord: tuple[Fraction, Fraction, list[int]]
) -> None:
    """Ends the note that began longest ago, or joins the chord that began at the same moment."""
    voice = min(voices, key=lambda one: one[-1][0])
    start, end, keys = voice[-1]
    if start == chord[0]:
        voice[-1] = (start, max(end, chord[1]), sorted({*keys, *chord[2]}))
    else:
        voice[-1] = (start, chord[0], keys)
        voice.append(chord)
