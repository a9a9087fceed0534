"""A score as chains: each struck key with its ties joined, lane by lane, so that one can lend the next its time."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field
from fractions import Fraction

from scores.music.notation import Note, Score, Side

Lane = tuple[Side, str]
ZERO = Fraction(0)


@dataclass(slots=True)
class Chain:
    """One struck key with the notes tied to it. `trim` is what a later ornament takes from its end, `shift` how much
    later (earlier if negative) than written it is struck."""

    notes: list[Note]
    end: Fraction
    trim: Fraction = ZERO
    shift: Fraction = ZERO

    @property
    def attack(self) -> Note:
        return self.notes[0]

    @property
    def id(self) -> str:
        return self.notes[0].id

    @property
    def onset(self) -> Fraction:
        return self.notes[0].onset

    @property
    def length(self) -> Fraction:
        return self.end - self.notes[0].onset if len(self.notes) > 1 else self.notes[0].length


@dataclass(slots=True)
class Struck:
    """What one lane strikes at a moment: chains from low to high, and the graces before them."""

    onset: Fraction
    chains: list[Chain] = field(default_factory=list)
    graces: list[Note] = field(default_factory=list)


class Voice:
    """One lane in order of time. What ends when is worked out only where somebody asks: most lanes adorn nothing."""

    def __init__(self) -> None:
        self.struck: list[Struck] = []
        self._onsets: list[Fraction] = []
        self._latest: list[Fraction] = []
        self._ending: dict[tuple[int, int], list[Chain]] | None = None

    def place(self, onset: Fraction) -> Struck:
        """The moment that notes at `onset` belong to; notes come in reading order."""
        if not self.struck or self.struck[-1].onset != onset:
            self.struck.append(Struck(onset))
        return self.struck[-1]

    def at(self, moment: Fraction) -> list[Chain]:
        """What is struck exactly at a moment."""
        self._index()
        place = bisect_left(self._onsets, moment)
        found = self.struck[place : place + 1]
        return found[0].chains if found and found[0].onset == moment else []

    def room_before(self, moment: Fraction) -> tuple[Fraction, list[Chain]]:
        """How many quarters may be taken before a moment, and from which chains: half of the shortest that ends there;
        none to take from means the silence before, all of it, or a note held through the moment."""
        ending = self._index().get((moment.numerator, moment.denominator), ())
        before = [chain for chain in ending if chain.onset < moment]
        if before:
            return min(chain.length for chain in before) / 2, before
        place = bisect_left(self._onsets, moment)
        last = self._latest[place - 1] if place else ZERO
        if last > moment:
            # A tied note is held through: the ornament sounds over it and takes nothing.
            return (moment - self._onsets[place - 1]) / 2, []
        return moment - last, []

    def is_held_through(self, moment: Fraction) -> bool:
        """A key is down before, at and after a moment."""
        self._index()
        place = bisect_left(self._onsets, moment)
        return place > 0 and self._latest[place - 1] > moment

    def _index(self) -> dict[tuple[int, int], list[Chain]]:
        if self._ending is None:
            self._ending = {}
            last = ZERO
            for struck in self.struck:
                for chain in struck.chains:
                    last = max(last, chain.end)
                    self._ending.setdefault((chain.end.numerator, chain.end.denominator), []).append(chain)
                self._onsets.append(struck.onset)
                self._latest.append(last)
        return self._ending


def voices(score: Score) -> dict[Lane, Voice]:
    """Joins ties on the same key in the same lane (hand and voice); a later note of a tie whose first is missing
    stands by itself."""
    found: dict[Lane, Voice] = {}
    open_ties: dict[tuple[Lane, int], Chain] = {}
    for note in score.notes:
        lane = (note.side, note.voice)
        voice = found.get(lane)
        if voice is None:
            voice = found[lane] = Voice()
        if note.is_grace:
            voice.place(note.onset).graces.append(note)
            continue
        chain = open_ties.pop((lane, note.pitch.midi), None) if note.tie_stop else None
        if chain is not None and chain.end == note.onset:
            chain.notes.append(note)
            chain.end = note.end
        else:
            chain = Chain([note], note.end)
            voice.place(note.onset).chains.append(chain)
        if note.tie_start:
            open_ties[(lane, note.pitch.midi)] = chain
    return found
