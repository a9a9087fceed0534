"""What sounds lasts as long as what is written: the sums of time in every voice of every measure."""

from collections.abc import Sequence
from fractions import Fraction

from scores.music.notation import Measure, Score
from scores.music.ornaments import Performance


def covered(spans: list[tuple[Fraction, Fraction]]) -> list[tuple[Fraction, Fraction]]:
    """The union of spans."""
    union: list[tuple[Fraction, Fraction]] = []
    for start, end in sorted(spans):
        if union and start <= union[-1][1]:
            union[-1] = (union[-1][0], max(end, union[-1][1]))
        else:
            union.append((start, end))
    return union


def check_sums(music: Score, made: Performance) -> None:
    """In every voice of every measure what sounds lasts as long as what is written, but for what a rest lent and what
    another voice's key cost; no key overlaps an ornament's stroke; nothing is negative."""
    assert all(one.length > 0 and one.onset >= 0 for one in made.notes)
    for keys in _by(made.notes, lambda one: one.pitch.midi).values():
        strokes = [one for one in keys if not one.shared]
        for place, one in enumerate(strokes):
            for other in strokes[place + 1 :]:
                if one.ornament or other.ornament:
                    assert one.end <= other.onset or other.end <= one.onset
    written = _by([one for one in music.notes if not one.is_grace], lambda one: (one.side, one.voice))
    sounding = _by(made.notes, lambda one: (one.side, one.voice))
    let_go = dict(made.released)
    # An arpeggio on the beat over several voices makes the upper ones wait.
    waits = dict(pair for one in made.ornaments for pair in one.waited)
    lent = Fraction(0)
    for lane, notes in written.items():
        own = [one.id for one in music.notes if (one.side, one.voice) == lane]
        cost = sum((let_go.get(name, Fraction(0)) + waits.get(name, Fraction(0)) for name in own), Fraction(0))
        before = covered([(one.onset, one.end) for one in notes])
        after = covered([(one.onset, one.end) for one in sounding[lane]])
        gains = [_within(after, measure) - _within(before, measure) for measure in music.measures]
        assert -sum(min(gain, Fraction(0)) for gain in gains) <= cost
        lent += sum(gains, Fraction(0))
    # An arpeggio over several voices takes from several rests at once and books the longest.
    if not let_go and not waits and not any(one.kind == "arpeggiate" and one.from_silence for one in made.ornaments):
        assert lent == sum((one.from_silence for one in made.ornaments), Fraction(0))


def _by(items: Sequence, key) -> dict:  # type: ignore[no-untyped-def,type-arg]
    found: dict = {}  # type: ignore[type-arg]
    for item in items:
        found.setdefault(key(item), []).append(item)
    return found


def _within(spans: list[tuple[Fraction, Fraction]], measure: Measure) -> Fraction:
    return sum(
        (max(Fraction(0), min(end, measure.end) - max(start, measure.start)) for start, end in spans), Fraction(0)
    )
