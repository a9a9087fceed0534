"""How a finger line lies in a measured hand: the engine's judgement of it, remembered, in the teacher's words."""

from collections import OrderedDict
from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass
from threading import Lock
from typing import Literal

from django.utils.translation import gettext as _

from scores.lines import ShownLine
from scores.models import Passage
from scores.music.fingering.hand import Hand, Trait, from_reach
from scores.music.fingering.hand import hand as hand_of_size
from scores.music.fingering.options import Judgement, Widest, judge, widest
from scores.music.fingering.remarks import Remark
from scores.music.notation import Note, Score, Side
from scores.stretches import between, notes_in, place_of
from studio.models import FingerWidth
from studio.models import Hand as Measured

Level = Literal["well", "care", "beyond"]

# A reach is measured in whole semitones and most pairs are scaled from it: nearer than this nothing is known.
SURE_OF = 0.5
# Neighbouring keys are no stretch for any two fingers: common practice.
NEIGHBOURS = 2
# The engine's remarks that open this hand further than another.
OPENING = frozenset({"stretch", "shift"})
MOST_KEPT = 2000  # judgements of some kilobytes each


@dataclass(frozen=True)
class Stretch:
    """Two fingers asked to span `beyond` semitones more than is comfortable, or than can be. `notes` are the ids."""

    notes: tuple[str, ...]
    pair: tuple[int, int]
    span: int
    beyond: float


@dataclass(frozen=True)
class Verdict:
    """One line for one hand. `judgement` is the engine's; `widest` where it opens the hand furthest; `stretches` what
    is beyond this hand's comfort."""

    judgement: Judgement
    widest: Widest | None
    stretches: tuple[Stretch, ...]

    @property
    def level(self) -> Level:
        """Beyond reach; with care, where something is beyond what is comfortable; else it lies well."""
        if self.judgement.impossible:
            return "beyond"
        return "care" if self.stretches else "well"

    @property
    def rank(self) -> tuple[int, float]:
        """What cannot be played stands behind all that can; then the least costly first."""
        return len(self.judgement.impossible), self.judgement.cost

    @property
    def furthest(self) -> Stretch | None:
        return max(self.stretches, key=lambda stretch: stretch.beyond, default=None)

    @property
    def first_beyond(self) -> Stretch | None:
        """The first two fingers that are asked to span more than this hand can."""
        for problem in self.judgement.impossible:
            if problem.kind == "too-wide":
                params = {name: int(problem.params[name]) for name in ("finger", "second", "span", "reach")}
                low, high = sorted((params["finger"], params["second"]))
                return Stretch(problem.notes, (low, high), params["span"], params["span"] - params["reach"])
        return None


@dataclass(frozen=True)
class SaidRemark:
    """A remark in the reader's language, with the place it speaks of; `number` is "" where it is on the whole line."""

    tone: str
    number: str
    beat: str
    text: str

    @property
    def where(self) -> str:
        if not self.number:
            return ""
        return _("m. %(measure)s, beat %(beat)s") % {"measure": self.number, "beat": self.beat}


class Remembered:
    """Judgements that were asked for last, by what they depend on. A changed line or hand is another question."""

    def __init__(self, most: int = MOST_KEPT) -> None:
        self.most = most
        self.kept: OrderedDict[Hashable, Verdict] = OrderedDict()
        self.lock = Lock()

    def get(self, key: Hashable) -> Verdict | None:
        with self.lock:
            found = self.kept.get(key)
            if found:
                self.kept.move_to_end(key)
        return found

    def put(self, key: Hashable, verdict: Verdict) -> None:
        with self.lock:
            self.kept[key] = verdict
            while len(self.kept) > self.most:
                self.kept.popitem(last=False)


remembered = Remembered()


def engine_hand(measured: Measured) -> Hand:
    """The hand as the engine knows it."""
    traits: list[Trait] = ["broad fingers"] if measured.width == FingerWidth.BROAD else []
    side: Side = "left" if measured.side == "left" else "right"
    return from_reach(side, measured.comfortable, measured.largest, pairs=measured.pairs, traits=traits)


def question(line: ShownLine, hand: Hand, passage: Passage) -> Hashable:
    """What a verdict depends on. The music of an edition never changes: so edition, ends, fingers and hand are all."""
    ids = line.note_ids
    return (passage.edition_id, ids[0], ids[-1], frozenset(line.fingers.items()), hand)


def verdict_on(line: ShownLine, hand: Hand, passage: Passage) -> Verdict:
    """How the line lies in the hand."""
    key = question(line, hand, passage)
    found = remembered.get(key)
    if found is None:
        score, ids = passage.edition.score, line.note_ids
        # With the later notes of ties, which say how long a key is held.
        notes = between(score, notes_in(passage, line.side), ids[0], ids[-1])
        judged = judge(notes, line.fingers, hand, score=score)
        opened = widest(notes, judged.fingers, hand)
        found = Verdict(judged, opened, tuple(stretches_in(judged.remarks, hand, score)))
        remembered.put(key, found)
    return found


def moments_to_weigh(lines: Iterable[ShownLine], measured: Iterable[Measured], passage: Passage) -> int:
    """How many moments are to be looked at before all these lines are judged for all these hands."""
    hands = {engine_hand(row) for row in measured}
    return sum(
        len(line.moments)
        for line in lines
        for hand in hands
        if hand.side == line.side and remembered.get(question(line, hand, passage)) is None
    )


def can_be_judged(line: ShownLine) -> bool:
    """A line on which nothing is marked says nothing; one that cannot be played by any hand fits none."""
    return bool(line.fingers) and bool(line.moments) and not line.cannot


def stretches_in(remarks: Iterable[Remark], hand: Hand, score: Score) -> Iterator[Stretch]:
    """Where the engine speaks of a stretch, or of a leap that a large hand would have reached; not between neighbouring
    keys, nor where it is nearer to comfort than anyone has measured."""
    for remark in remarks:
        if remark.kind not in OPENING or len(remark.notes) != 2:
            continue
        later, earlier = (score.by_id[note] for note in remark.notes)
        finger, second = int(remark.params["finger"]), int(remark.params["second"])
        low, high = sorted((finger, second))
        span = int(remark.params["span"])
        if remark.kind == "shift" and not would_reach(hand, (second, earlier), (finger, later)):
            continue
        beyond = span - hand.by_pair[(low, high)].max_comfortable
        if span > NEIGHBOURS and beyond > SURE_OF:
            yield Stretch(remark.notes, (low, high), span, beyond)


def would_reach(hand: Hand, one: tuple[int, Note], other: tuple[int, Note]) -> bool:
    """Whether a large hand would have played two notes in turn without leaving its place, the fingers uncrossed."""
    (finger, key), (second, other_key) = one, other
    large, keys = hand_of_size(hand.side, "large"), (finger, key.pitch.midi, second, other_key.pitch.midi)
    return large.span(*keys) > 0 and large.reaches(*keys)


def said_remarks(verdict: Verdict, score: Score) -> tuple[SaidRemark, ...]:
    """The engine's remarks on a line: what cannot be played, what is said of the whole, stretches, the rest in order.
    Its caution is left to the page, which says it once."""
    cannot = [
        SaidRemark("cannot", "", "", _(problem.message) % dict(problem.params))
        for problem in verdict.judgement.impossible
    ]
    stretched = {stretch.notes for stretch in verdict.stretches}
    whole, wide, rest = [], [], []
    for remark in verdict.judgement.remarks:
        text = _(remark.message) % dict(remark.params)
        if remark.notes and (remark.kind != "stretch" or remark.notes in stretched):
            place = place_of(score, score.by_id[remark.notes[0]])
            said = SaidRemark(remark.tone, place.measure, place.beat, text)
            (wide if remark.kind in OPENING and remark.notes in stretched else rest).append(said)
        elif not remark.notes and remark.kind != "caution":
            whole.append(SaidRemark(remark.tone, "", "", text))
    return (*cannot, *whole, *wide, *rest)
