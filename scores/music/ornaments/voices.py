"""A score as chains: each struck key with its ties joined, lane by lane, so that one can lend the next its time."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from dataclasses import dataclass, field
from fractions import Fraction

from scores.music.notation import Note, Score, Side

Lane = tuple[Side, str]


@dataclass(slots=True)
class Chain:
    """One struck key with the notes tied to it. `trim` is what a later ornament takes from its end, `shift` how much
    later (earlier if negative) than written it is struck."""

    notes: list[Note]
    end: Fraction
    trim: Fraction = Fraction(0)
    shift: Fraction = Fraction(0)

    @property
    def attack(self) -> Note:
        return self.notes[0]

    @property
    def id(self) -> str:
        return self.attack.id

    @property
    def onset(self) -> Fraction:
        return self.attack.onset

    @property
    def length(self) -> Fraction:
        return self.end - self.onset

    @property
    def lane(self) -> Lane:
        return (self.attack.side, self.attack.voice)


@dataclass(slots=True)
class Voices:
    """All chains of a score, and the ways to find them."""

    chains: list[Chain] = field(default_factory=list)
    of_note: dict[str, Chain] = field(default_factory=dict)
    at: dict[tuple[Lane, Fraction], list[Chain]] = field(default_factory=dict)
    ending: dict[tuple[Lane, Fraction], list[Chain]] = field(default_factory=dict)
    graces: dict[tuple[Lane, Fraction], list[Note]] = field(default_factory=dict)

    lane_ends: dict[Lane, tuple[list[Fraction], list[Fraction]]] = field(default_factory=dict)

    def silence_before(self, lane: Lane, moment: Fraction) -> Fraction:
        """How long the lane has been silent at a moment; 0 while a note of it is held."""
        onsets, ends = self.lane_ends.get(lane, ([], []))
        place = bisect_left(onsets, moment)
        last = ends[place - 1] if place else Fraction(0)
        return max(Fraction(0), moment - last)

    def room_before(self, lane: Lane, moment: Fraction) -> tuple[Fraction, list[Chain]]:
        """How many quarters may be taken before a moment, and from which chains: half of the shortest that ends there;
        none to take from means the silence before, all of it."""
        before = [chain for chain in self.ending.get((lane, moment), ()) if chain.onset < moment]
        if before:
            return min(chain.length for chain in before) / 2, before
        return self.silence_before(lane, moment), []


def voices(score: Score) -> Voices:
    """Joins ties on the same key in the same lane (hand and voice); a later note of a tie whose first is missing
    stands by itself."""
    found = Voices()
    open_ties: dict[tuple[Lane, int], Chain] = {}
    at = defaultdict(list)
    graces = defaultdict(list)
    for note in score.notes:
        lane = (note.side, note.voice)
        if note.is_grace:
            graces[(lane, note.onset)].append(note)
            continue
        key = (lane, note.pitch.midi)
        chain = open_ties.pop(key, None) if note.tie_stop else None
        if chain is not None and chain.end == note.onset:
            chain.notes.append(note)
            chain.end = note.end
        else:
            chain = Chain([note], note.end)
            found.chains.append(chain)
            at[(lane, note.onset)].append(chain)
        found.of_note[note.id] = chain
        if note.tie_start:
            open_ties[key] = chain
    ending = defaultdict(list)
    for chain in found.chains:
        ending[(chain.lane, chain.end)].append(chain)
    found.at, found.ending, found.graces = dict(at), dict(ending), dict(graces)
    for chain in found.chains:
        onsets, ends = found.lane_ends.setdefault(chain.lane, ([], []))
        onsets.append(chain.onset)
        ends.append(max(chain.end, ends[-1]) if ends else chain.end)
    return found
