"""Finds the weights of the house rules (some minutes; prints, changes nothing):
`DJANGO_SETTINGS_MODULE=tests.settings python -m tests.bench.calibrate`.

One half of the handbook's scales and arpeggios is used, every second key of the circle of fifths; the other half is
only reported on. Each weight in turn is made a little larger and smaller, and a change that brings the handbook's
fingerings nearer to the front is kept. Weights that scales say nothing about (chords, repeated notes, leaps, learned
fingers) stay as set by hand.

Scales do not tell what passing the thumb costs against staying in one position, because they all pass about as often.
So in the end all passing is raised together until most printed fingers of two pieces of music21's corpus are met; two
other pieces are only reported on.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Sequence
from dataclasses import replace
from math import inf, log2
from pathlib import Path

from music21 import corpus

from scores.music.fingering.cost import POINT, strike, total
from scores.music.fingering.hand import hand
from scores.music.fingering.house import House
from scores.music.fingering.passage import read_passage
from scores.music.fingering.search import best_shapes
from scores.music.fingering.text import fingers_of
from scores.music.fingering.weights import WEIGHTS, Weights
from scores.music.notation import SIDES, Note, Side
from scores.reading_files.reading import read
from tests.scores.music.fingering.handbook import Exercise, arpeggios, scales

USED = {"C", "D", "E", "F#", "G#", "Ab", "Bb"}
# Set by hand before any search, from how the trade speaks of these things.
FIRST_GUESS = {
    "stretch": 2.0, "large": 0.5, "large_fingers": 1.0, "small": 0.3, "small_fingers": 0.6,
    "pass_two": 3.2, "pass_three": 2.6, "pass_four": 3.6, "pass_wide": 0.6, "pass_from_black": -0.6,
    "pass_to_black": 2.5, "late": 1.0, "early": 0.5, "fourth": 0.15, "fifth": 0.2, "three_four": 0.2, "four_five": 0.35,
    "thumb_black": 1.2, "thumb_black_white": 0.8, "fifth_black": 0.5, "fifth_black_white": 0.4,
    "fourth_white_third_black": 0.5, "returns": 2.5, "short": 1.5,
    "start": 0.6, "pass_far": 2.2, "pass_stretch": 0.5,
}  # fmt: skip
PASSING = ("pass_two", "pass_three", "pass_four", "pass_five")
RAISES = (0.0, 0.6, 1.2, 1.8)
PIECES_USED, PIECES_KEPT = ("polonaise_op1n1", "polonaise_op1n4"), ("polonaise_op1n2", "polonaise_op1n3")
FIRST_PASS_FIVE = 6.0
FACTORS = (0.6, 0.8, 1.25, 1.6)
MARGIN = 0.4  # points by which the handbook's fingering should lead
WORST = 5.0  # points beyond which one exercise counts no more
PULL = 0.03  # loss for each doubling or halving of a first guess, so that nothing moves without a reason
FURTHEST = 1.5  # doublings that a weight may move


def ranked(exercise: Exercise, weights: Weights, count: int) -> tuple[int, float]:
    """The rank of the handbook's fingering (count + 1 if it is not among the first), and its lead in points: how much
    less it costs than the best other one."""
    model = House(read_passage(exercise.notes, exercise.side), hand(exercise.side), weights=weights)
    found = [("".join(str(shape[0]) for shape in shapes), cost) for cost, shapes in best_shapes(model, count)]
    rank = next((place + 1 for place, (text, _) in enumerate(found) if text in exercise.answers), count + 1)
    ours = min(total([t for step in model.account([(int(f),) for f in a]) for t in step]) for a in exercise.answers)
    rival = min(cost for text, cost in found if text not in exercise.answers)
    return rank, (rival - ours) / POINT


def loss(exercises: Sequence[Exercise], weights: Weights) -> float:
    value = 0.0
    for exercise in exercises:
        rank, lead = ranked(exercise, weights, 4)
        value += min(max(0.0, MARGIN - lead), WORST) / WORST + (rank > 1) * 0.5 + (rank > 3) * 0.5
    return value


def pull(weights: Weights) -> float:
    """How far the weights have moved from the first guesses."""
    moved = [abs(log2(getattr(weights, name) / guess)) for name, guess in FIRST_GUESS.items()]
    return inf if max(moved) > FURTHEST else PULL * sum(moved)


def tune(exercises: Sequence[Exercise], weights: Weights, seconds: float) -> Weights:
    """Coordinate descent from `weights` until nothing helps or the time is up."""
    until = time.monotonic() + seconds
    best = loss(exercises, weights) + pull(weights)
    improved = True
    while improved and time.monotonic() < until:
        improved = False
        for name in FIRST_GUESS:
            for factor in FACTORS:
                trial = replace(weights, **{name: round(getattr(weights, name) * factor, 2)})
                drift = pull(trial)
                if drift < best and time.monotonic() < until:
                    cost = loss(exercises, trial) + drift
                    if cost < best - 1e-6:
                        weights, best, improved = trial, cost, True
        print(f"loss {best:.2f}", flush=True)
    return weights


def printed(piece: str) -> list[tuple[Side, list[Note], dict[str, int]]]:
    """For each hand with printed fingers: its notes, and the printed finger by note id."""
    name = f"{piece}.mxl"
    score = read(name, (Path(corpus.__file__).parent / "schumann_clara" / name).read_bytes()).score
    found = []
    for side in SIDES:
        notes = [note for note in score.notes if note.side == side]
        fingers = {note.id: fingers_of(note.printed)[0] for note in notes if fingers_of(note.printed)}
        if fingers:
            found.append((side, notes, fingers))
    return found


def met(pieces: Sequence[str], weights: Weights) -> tuple[int, int]:
    """How many printed fingers the best fingering of each hand has, and how many there are."""
    same = whole = 0
    for side, notes, fingers in (hand_of for piece in pieces for hand_of in printed(piece)):
        model = House(read_passage(notes, side), hand(side), weights=weights)
        for step, shape in zip(model.steps, best_shapes(model, 1)[0][1], strict=True):
            for code, key in zip(shape, step.struck, strict=False):
                same += fingers.get(key.note.id) == strike(code)
        whole += len(fingers)
    return same, whole


def raised(weights: Weights, points: float) -> Weights:
    return replace(weights, **{name: round(getattr(weights, name) + points, 2) for name in PASSING})


def report(name: str, exercises: Sequence[Exercise], weights: Weights) -> None:
    ranks = {exercise.name: ranked(exercise, weights, 10)[0] for exercise in exercises}
    first, three = sum(rank == 1 for rank in ranks.values()), sum(rank <= 3 for rank in ranks.values())
    print(f"{name}: {len(ranks)} exercises, first {first / len(ranks):.0%}, among three {three / len(ranks):.0%}")
    print("  not first:", ", ".join(f"{which} ({rank})" for which, rank in ranks.items() if rank > 1) or "none")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=240)
    seconds = parser.parse_args().seconds
    os.nice(10)
    exercises = scales() + arpeggios()
    used = [exercise for exercise in exercises if exercise.tonic in USED]
    kept = [exercise for exercise in exercises if exercise.tonic not in USED]
    weights = WEIGHTS
    if seconds:
        weights = tune(used, replace(WEIGHTS, pass_five=FIRST_PASS_FIVE, **FIRST_GUESS), seconds)
        raises = [raised(weights, points) for points in RAISES]
        weights = max(raises, key=lambda trial: met(PIECES_USED, trial)[0])
    print({name: getattr(weights, name) for name in (*FIRST_GUESS, "pass_five")})
    print("the same as the weights in use" if weights == WEIGHTS else "other than the weights in use")
    report("used", used, weights)
    report("kept back", kept, weights)
    for name, pieces in (("used", PIECES_USED), ("kept back", PIECES_KEPT)):
        same, whole = met(pieces, weights)
        print(f"printed fingers met, {name}: {same} of {whole}")


if __name__ == "__main__":
    main()
