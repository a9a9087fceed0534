"""What a fingering costs a hand, and what to offer instead: the engine's front door.

Everything here answers and nothing raises: an empty passage has no options; six notes at once, a span of four octaves
or fixed fingers that contradict each other come back as options with `impossible` saying what, where, and what would
help.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice, pairwise
from typing import Literal

from scores.music.fingering.cost import CANNOT, POINT, Model, Shape, Terms, by_rule, code_text, total
from scores.music.fingering.hand import Hand
from scores.music.fingering.house import House
from scores.music.fingering.obstacles import obstacles
from scores.music.fingering.passage import Passage, read_passage
from scores.music.fingering.problems import Problem
from scores.music.fingering.published import Published
from scores.music.fingering.remarks import Remark, remarks
from scores.music.fingering.remedies import Remedies
from scores.music.fingering.search import best_shapes, different, in_order
from scores.music.fingering.text import fingers_of, write_finger
from scores.music.notation import Note, Score, moments

RuleSet = Literal["house", "published"]

# Points for each thing in a fingering that cannot be played: more than any playable passage of some lines costs.
IMPOSSIBLE = 1000
# How many fingerings are looked at for one that reads otherwise: the fingers of keys tied in from before do not show.
DEEPEST = 40
# Moments on each side of a join that are weighed.
AROUND_A_JOIN = 6


@dataclass(frozen=True)
class Option:
    """One fingering of a passage. `fingers` has every note that is struck, but none that no finger is left for; `cost`
    in points, for comparison between fingerings of the same passage only, `IMPOSSIBLE` for each thing that cannot be;
    `by_rule` is its parts; `impossible` what this hand cannot play in it, in words."""

    fingers: dict[str, str]
    cost: float
    by_rule: dict[str, float]
    impossible: tuple[Problem, ...] = ()
    remarks: tuple[Remark, ...] = ()

    @property
    def is_playable(self) -> bool:
        return not self.impossible


@dataclass(frozen=True)
class Judgement(Option):
    """As an option, for a fingering that was given: `assumed` are the notes it left unmarked, each with the finger that
    costs least; they are in `fingers` too."""

    assumed: dict[str, str] = field(default_factory=dict)


def judge(
    notes: Iterable[Note],
    fingers: Mapping[str, str],
    hand: Hand,
    *,
    rules: RuleSet = "house",
    tempo: float | None = None,
    learned: Mapping[str, str] | None = None,
    score: Score | None = None,
) -> Judgement:
    """What a fingering costs this hand. `tempo` in quarters a minute; `learned` is a fingering the student knows, which
    costs effort to leave. `score` lets problems and remarks name measure and beat. Notes of the other hand are left
    out; what is no finger counts as unmarked."""
    model = make_model(notes, hand, fingers, rules, tempo, learned)
    found = best_shapes(model, 1)
    if not found:
        return Judgement({}, 0.0, {})
    option = make_option(model, found[0][1], score, fingers, Remedies(model.passage, hand, fingers))
    assumed = {note: text for note, text in option.fingers.items() if not fingers_of(fingers.get(note))}
    return Judgement(option.fingers, option.cost, option.by_rule, option.impossible, option.remarks, assumed)


def best(
    notes: Iterable[Note],
    hand: Hand,
    k: int = 10,
    *,
    fixed: Mapping[str, str] | None = None,
    rules: RuleSet = "house",
    tempo: float | None = None,
    learned: Mapping[str, str] | None = None,
    score: Score | None = None,
) -> tuple[Option, ...]:
    """The `k` least costly fingerings, exactly and in order; notes in `fixed` keep their fingers. Fewer if there are no
    more, or if the rest cannot be played while these can."""
    model = make_model(notes, hand, fixed, rules, tempo, learned)
    found, seen = list[Sequence[Shape]](), set[tuple[Shape, ...]]()
    for _, shapes in islice(in_order(model), DEEPEST * max(0, k)):
        # Keys tied in from before are held by some finger that nobody reads of.
        read = written_codes(model.passage, shapes)
        if read not in seen:
            seen.add(read)
            found.append(shapes)
        if len(found) >= k:
            break
    return playable(model, found, score, fixed)


def propose(
    notes: Iterable[Note],
    hand: Hand,
    *,
    fixed: Mapping[str, str] | None = None,
    count: int = 4,
    rules: RuleSet = "house",
    tempo: float | None = None,
    learned: Mapping[str, str] | None = None,
    score: Score | None = None,
) -> tuple[Option, ...]:
    """Up to `count` clearly different fingerings, the least costly first; the first is the best there is."""
    model = make_model(notes, hand, fixed, rules, tempo, learned)
    return playable(model, [shapes for _, shapes in different(model, count)], score, fixed)


def make_model(
    notes: Iterable[Note],
    hand: Hand,
    fixed: Mapping[str, str] | None,
    rules: str,
    tempo: float | None,
    learned: Mapping[str, str] | None,
) -> Model:
    passage = read_passage(notes, hand.side)
    if rules == "published":
        return Published(passage, hand, fixed)
    return House(passage, hand, fixed, tempo=tempo, learned=learned)


def playable(
    model: Model, found: Sequence[Sequence[Shape]], score: Score | None, fixed: Mapping[str, str] | None
) -> tuple[Option, ...]:
    """The options that can be played, or if none can, the one with the fewest obstacles."""
    remedies = Remedies(model.passage, model.hand, fixed or {})
    read = [shapes for shapes in found if any(written_codes(model.passage, shapes))]
    options = [make_option(model, shapes, score, fixed or {}, remedies) for shapes in read]
    fewest = min((len(option.impossible) for option in options), default=0)
    return tuple(option for option in options if len(option.impossible) == fewest)


def make_option(
    model: Model, shapes: Sequence[Shape], score: Score | None, fixed: Mapping[str, str], remedies: Remedies
) -> Option:
    terms: list[Terms] = model.account(shapes)
    blocks, rest = divmod(sum(total(step) for step in terms), CANNOT)
    cost = blocks * IMPOSSIBLE + rest / POINT
    rules = by_rule(terms)
    if "cannot" in rules:
        rules["cannot"] = float(blocks * IMPOSSIBLE)
    blocked = obstacles(
        model.passage, model.hand, shapes, score, remedies, asked=fixed, melodic=isinstance(model, Published)
    )
    said = remarks(model.passage, model.hand, shapes, score)
    return Option(written(model.passage, shapes, fixed), cost, rules, blocked, said)


def written(passage: Passage, shapes: Sequence[Shape], fixed: Mapping[str, str]) -> dict[str, str]:
    """The fingering as text by note id, a fixed finger as it was fixed."""
    found: dict[str, str] = {}
    for step, shape in zip(passage.steps, shapes, strict=True):
        texts = [code_text(code) for code in shape[: len(step.struck)]]
        found |= {key.note.id: text for key, text in zip(step.struck, texts, strict=True) if key.note.is_attack}
        found |= {note: texts[place] for note, place in step.doubled}
    kept = {note: write_finger(fingers_of(fixed[note])) for note in found if fingers_of(fixed.get(note))}
    return found | kept


def written_codes(passage: Passage, shapes: Sequence[Shape]) -> tuple[Shape, ...]:
    """The codes of the keys that are struck here: those of keys tied in from before are not written."""
    return tuple(
        tuple(shape[place] for place in range(len(step.struck)) if step.is_struck_here(place))
        for step, shape in zip(passage.steps, shapes, strict=True)
    )


def compare(one: Mapping[str, str], other: Mapping[str, str], notes: Iterable[Note]) -> list[tuple[str, str, str]]:
    """Where two fingerings differ, note by note in the order of the music: (id, finger in one, finger in the other), ""
    for an unmarked note."""
    return [
        (note.id, one.get(note.id, ""), other.get(note.id, ""))
        for moment in moments(notes)
        for note in moment.notes
        if one.get(note.id, "") != other.get(note.id, "")
    ]


def join(
    earlier: tuple[Iterable[Note], Mapping[str, str]],
    later: tuple[Iterable[Note], Mapping[str, str]],
    hand: Hand,
    *,
    tempo: float | None = None,
    score: Score | None = None,
) -> Judgement:
    """How well one part leads into the next: what the way across costs, and what to say of the moments around it."""
    first = [note for moment in moments(n for n in earlier[0] if n.side == hand.side) for note in moment.notes]
    second = [note for moment in moments(n for n in later[0] if n.side == hand.side) for note in moment.notes]
    first, second = first[-AROUND_A_JOIN:], second[:AROUND_A_JOIN]
    both = judge(first + second, {**earlier[1], **later[1]}, hand, tempo=tempo, score=score)
    apart = [judge(part, fingers, hand, tempo=tempo) for part, fingers in ((first, earlier[1]), (second, later[1]))]
    across = round(both.cost - apart[0].cost - apart[1].cost, 2)
    return Judgement(both.fingers, max(across, 0.0), both.by_rule, both.impossible, both.remarks, both.assumed)


@dataclass(frozen=True)
class Widest:
    """The widest moment of a fingering: the notes from low to high with their fingers, and how many semitones they
    span. `together` says whether they are down at once or follow each other."""

    notes: tuple[Note, ...]
    fingers: tuple[str, ...]
    semitones: int
    together: bool


def widest(notes: Iterable[Note], fingers: Mapping[str, str], hand: Hand) -> Widest | None:
    """Where the hand is opened furthest: by keys that are down at once, or if there are none by two notes of a line
    that different fingers play without a leap. None where nothing is spanned."""
    passage = read_passage(notes, hand.side)
    given = judge((key.note for step in passage.steps for key in step.struck), fingers, hand).fingers
    at_once = [tuple(key.note for key in step.sounding) for step in passage.steps if len(step.sounding) > 1]
    in_line = [
        (last.struck[0].note, step.struck[0].note)
        for last, step in pairwise(passage.steps)
        if opens(last.struck[0].note, step.struck[0].note, given, hand)
    ]
    found = max(at_once or in_line, key=spanned, default=())
    if not found:
        return None
    low_to_high = tuple(sorted(found, key=lambda note: note.pitch.midi))
    return Widest(low_to_high, tuple(given.get(note.id, "") for note in low_to_high), spanned(found), bool(at_once))


def opens(note: Note, other: Note, fingers: Mapping[str, str], hand: Hand) -> bool:
    """Whether two notes in turn are played by an open hand, neither crossed nor leaping."""
    finger, second = fingers_of(fingers.get(note.id))[-1:], fingers_of(fingers.get(other.id))[:1]
    if not finger or not second or finger == second:
        return False
    played = (finger[0], note.pitch.midi, second[0], other.pitch.midi)
    return hand.span(*played) > 0 and hand.reaches(*played)


def spanned(notes: Sequence[Note]) -> int:
    keys = [note.pitch.midi for note in notes]
    return max(keys) - min(keys)
