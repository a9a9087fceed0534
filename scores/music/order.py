"""In which order the measures of a score are played: repeats, endings, da capo, dal segno, fine, coda."""

from __future__ import annotations

import re
from collections.abc import Sequence

from scores.music.notation import Measure

MOST = 50  # times as many measures as are written: no score is played longer, so its signs contradict each other


def play_order(measures: Sequence[Measure]) -> tuple[int, ...]:
    """The indexes of the written measures in the order in which they are played.

    A repeat goes back to the last opening sign, or to what follows the repeat or the "fine" before it, or to the
    beginning. After a jump back (da capo, dal segno) repeats are not taken again and of several endings the last is
    played; then the music ends at "fine" or goes on to the coda. What is written after such an end is another piece,
    with a beginning of its own, as in a book of dances. All this is common practice. Where the signs lead round in a
    circle, the measures as they are written.
    """
    return Player(measures).order()


class Player:
    """Walks through the measures as a player does. `turn` is how often the repeat at hand is being played."""

    def __init__(self, measures: Sequence[Measure]) -> None:
        self.measures = measures
        self.played: list[int] = []
        self.coda = self.coda_measure()
        self.begin(0)

    def begin(self, place: int) -> None:
        """A piece begins at this measure: "da capo" leads back here."""
        self.beginning = self.opening = place
        self.turn = 1
        self.jumped = self.at_coda = False

    def order(self) -> tuple[int, ...]:
        place: int | None = 0 if self.measures else None
        while place is not None:
            place = self.step(place)
            if len(self.played) > MOST * len(self.measures):
                return tuple(range(len(self.measures)))
            if place is None and self.jumped:
                place = self.following(max(self.played))
                if place is not None:
                    self.begin(place)
        return tuple(self.played)

    def coda_measure(self) -> int | None:
        """Where the coda begins: at the last of its signs, where there are two or a word that leads there."""
        signs = [measure.index for measure in self.measures if "coda" in measure.marks]
        leads = any("to coda" in measure.marks for measure in self.measures)
        return signs[-1] if signs and (leads or len(signs) > 1) else None

    def step(self, place: int) -> int | None:
        """Plays a measure, or leaves it out; gives the next one, None at the end."""
        measure = self.measures[place]
        takes_repeats = not self.jumped or self.at_coda
        before = self.measures[place - 1] if place else None
        is_new = measure.repeat_start or (before and ("fine" in before.marks or (before.ending and not measure.ending)))
        if is_new and place != self.opening:
            self.opening, self.turn = place, 1
        if measure.ending and not self.has_ending(place, takes_repeats):
            return self.following(place)
        self.played.append(place)
        if measure.repeat_end and takes_repeats:
            if self.turn < self.turns(place):
                self.turn += 1
                return self.opening
            if not (measure.ending and self.more_endings(place)):
                self.opening, self.turn = place + 1, 1
        return self.after(measure)

    def after(self, measure: Measure) -> int | None:
        """Where the player goes from a measure whose repeats are done."""
        if not self.jumped:
            if "da capo" in measure.marks:
                self.jumped, self.opening = True, self.beginning
                return self.beginning
            segno = self.segno_before(measure.index) if "dal segno" in measure.marks else None
            if segno is not None:
                self.jumped, self.opening = True, segno
                return segno
        elif not self.at_coda:
            if "fine" in measure.marks:
                return None
            if self.leads_to_coda(measure) and self.coda is not None:
                self.at_coda, self.opening, self.turn = True, self.coda, 1
                return self.coda
        return self.following(measure.index)

    def following(self, place: int) -> int | None:
        return place + 1 if place + 1 < len(self.measures) else None

    def segno_before(self, place: int) -> int | None:
        return next((index for index in range(place, -1, -1) if "segno" in self.measures[index].marks), None)

    def leads_to_coda(self, measure: Measure) -> bool:
        if self.coda is None or measure.index >= self.coda:
            return False
        return "to coda" in measure.marks or (
            "coda" in measure.marks and not any("to coda" in one.marks for one in self.measures)
        )

    def has_ending(self, place: int, takes_repeats: bool) -> bool:
        """Whether the ending that a measure stands under is the one to play now."""
        if not takes_repeats:
            return not self.more_endings(place)
        return self.turn in numbers_in(self.measures[place].ending)

    def group(self, place: int) -> list[Measure]:
        """The measures under the endings that a measure's own ending stands among."""
        first = last = place
        while first and self.measures[first - 1].ending and not self.closes(first - 1):
            first -= 1
        while last + 1 < len(self.measures) and self.measures[last + 1].ending and not self.closes(last):
            last += 1
        return list(self.measures[first : last + 1])

    def closes(self, place: int) -> bool:
        """Whether a new row of endings begins after this measure: the numbers start again."""
        now, following = (self.measures[one].ending for one in (place, place + 1))
        return now != following and max(numbers_in(now)) >= min(numbers_in(following))

    def more_endings(self, place: int) -> bool:
        """Whether another ending follows the one that a measure stands under."""
        return self.group(place)[-1].ending != self.measures[place].ending

    def turns(self, place: int) -> int:
        """How often what a closing repeat sign ends is played in all."""
        measure = self.measures[place]
        if not measure.ending:
            return measure.times
        endings = {one.ending for one in self.group(place)}
        highest = max(number for ending in endings for number in numbers_in(ending))
        return highest + 1 if len(endings) == 1 else highest


def numbers_in(ending: str) -> tuple[int, ...]:
    """The turns for which an ending is played: "1, 2", "1-3", "2."; what names none is for the first."""
    found: list[int] = []
    for first, last in re.findall(r"(\d{1,2})(?:\s*-\s*(\d{1,2}))?", ending):
        found.extend(range(int(first), int(last or first) + 1))
    return tuple(found) or (1,)
