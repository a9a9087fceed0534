"""What returns in a score: against trying everything, and by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scores.music.notation import Hands, Measure, Note, Pitch, Score, reading_order
from scores.music.order import play_order
from scores.music.recurrences import (
    STROKES,
    STROKES_TRANSPOSED,
    Again,
    Group,
    Place,
    again,
    pairs,
    recurrences,
)
from scores.music.texture import differences, texture_of
from tests.scores.music.make_notes import note, signed

CHROMATIC = [("C", 0), ("C", 1), ("D", 0), ("E", -1), ("E", 0), ("F", 0), ("F", 1), ("G", 0), ("A", -1), ("A", 0)]


def pitch_of(key: int) -> Pitch:
    """A pitch for a key, spelled with what stands first in the list."""
    names = [*CHROMATIC, ("B", -1), ("B", 0)]
    step, alter = names[key % 12]
    return Pitch(step, alter, key // 12 - 1)


def score_of(*bars: tuple[list[int], list[int]], signs: dict[int, dict] | None = None) -> Score:
    """A score of 2/4 measures: for each the keys that the right hand strikes one after the other, and the left hand's;
    a key of 0 is a rest, each note an eighth."""
    measures, notes = [], []
    for index, bar in enumerate(bars):
        start = Fraction(2 * index)
        measures.append(Measure(index, str(index + 1), start, Fraction(2), 2, 4, **(signs or {}).get(index, {})))
        for side, keys in zip(("right", "left"), bar, strict=True):
            for place, key in enumerate(keys):
                if key:
                    notes.append(
                        Note(
                            f"m{index + 1}{side[0]}{place}",
                            pitch_of(key),
                            start + Fraction(place, 2),
                            Fraction(1, 2),
                            index,
                            side,
                            1 if side == "right" else 2,
                            "1",
                        )
                    )
    return Score(tuple(measures), tuple(sorted(notes, key=reading_order)))


def told(groups: tuple[Group, ...]) -> set[tuple]:
    return {(group.hands, tuple((place.measures, place.semitones) for place in group.places)) for group in groups}


# Trying everything


class BruteForce:
    """All pairs of ranges of all lengths, note by note: nothing shared with the code under test but the vocabulary."""

    def __init__(self, score: Score, order: tuple[int, ...]) -> None:
        self.score, self.order = score, order
        self.bars = [
            [
                (one.onset - measure.start, one.side, one.length, one.pitch.midi)
                for one in score.notes
                if one.measure == measure.index
            ]
            for measure in score.measures
        ]

    def bar(self, played: int, hands: Hands) -> list[tuple]:
        return sorted(one for one in self.bars[self.order[played]] if hands in ("both", one[1]))

    def shift(self, p: int, q: int, length: int, hands: Hands) -> int | str | None:
        """The semitones from one range to another; "any" where both are silent, None where they differ."""
        shifts = set()
        for step in range(length):
            one, other = self.bar(p + step, hands), self.bar(q + step, hands)
            if len(one) != len(other) or any(a[:3] != b[:3] for a, b in zip(one, other, strict=True)):
                return None
            shifts |= {b[3] - a[3] for a, b in zip(one, other, strict=True)}
        if not shifts:
            return "any"
        return shifts.pop() if len(shifts) == 1 else None

    def same(self, p: int, q: int, length: int, hands: Hands, *, exact: bool) -> bool:
        if p < 0 or q + length > len(self.order):
            return False
        found = self.shift(p, q, length, hands)
        return found is not None and (not exact or found in (0, "any"))

    def words(self, hands: Hands, *, exact: bool):
        """Start and length of every trimmed maximal pair's range."""
        count = len(self.order)
        for p in range(count):
            for q in range(p + 1, count):
                for length in range(1, count - q + 1):
                    if not self.same(p, q, length, hands, exact=exact):
                        break
                    longer = self.same(p, q, length + 1, hands, exact=exact)
                    if longer or self.same(p - 1, q - 1, length + 1, hands, exact=exact):
                        continue
                    for start, end in self.parted(*self.trimmed(p, p + length, hands), hands, exact=exact):
                        if start < end:
                            yield start, end - start

    def trimmed(self, start: int, end: int, hands: Hands) -> tuple[int, int]:
        while start < end and not self.bar(start, hands):
            start += 1
        while start < end and not self.bar(end - 1, hands):
            end -= 1
        return start, end

    def parted(self, start: int, end: int, hands: Hands, *, exact: bool):
        """The range itself, and its parts at the first place where a measure is played twice."""
        yield start, end
        for q in range(len(self.order) - (end - start) + 1):
            measures = self.order[q : q + end - start]
            if self.same(start, q, end - start, hands, exact=exact) and len(set(measures)) < len(measures):
                opening = 0
                for step in range(1, len(measures) + 1):
                    if step == len(measures) or measures[step] <= measures[step - 1]:
                        yield self.trimmed(q + opening, q + step, hands)
                        opening = step
                return

    def groups(self) -> set[tuple]:
        found = set()
        for hands in ("both", "right", "left"):
            for exact in (True, False):
                for start, length in self.words(hands, exact=exact):
                    places = self.places(start, length, hands, exact=exact)
                    moved = any(shift for _, shift in places)
                    if len(places) < 2 or (not exact and not moved):
                        continue
                    struck = sum(len({one[0] for one in self.bar(start + step, hands)}) for step in range(length))
                    if struck < (STROKES if exact else STROKES_TRANSPOSED):
                        continue
                    if hands != "both" and self.in_both(places):
                        continue
                    found.add((hands, tuple(places)))
        return found

    def places(self, start: int, length: int, hands: Hands, *, exact: bool) -> list[tuple]:
        found, used, first = [], set(), None
        for q in range(len(self.order) - length + 1):
            if not self.same(start, q, length, hands, exact=exact) or not self.bar(q, hands):
                continue
            first = q if first is None else first
            measures = self.order[q : q + length]
            if not used & set(measures) and len(set(measures)) == length:
                used |= set(measures)
                found.append((measures, self.shift(first, q, length, hands)))
        return found

    def in_both(self, places: list[tuple]) -> bool:
        (first, _), *others = places
        for measures, shift in others:
            for one, other in zip(first, measures, strict=True):
                mine, theirs = sorted(self.bars[one]), sorted(self.bars[other])
                if [(*a[:3], a[3] + shift) for a in mine] != theirs:
                    return False
        return True


RIGHT = [[60, 62, 64, 65], [67, 65, 64, 62], [62, 64, 66, 67], [], [72, 0, 72, 0], [60, 62]]
LEFT = [[48, 52, 55, 52], [50, 54, 57, 54], [], [36]]
bars = st.tuples(st.sampled_from(RIGHT), st.sampled_from(LEFT))
repeats = st.dictionaries(
    st.integers(0, 9), st.sampled_from([{"repeat_start": True}, {"repeat_end": True}]), max_size=3
)


@settings(deadline=None, max_examples=250)
@given(st.lists(bars, min_size=2, max_size=10), repeats)
def test_trying_everything_finds_the_same_groups(music, signs):
    score = score_of(*music, signs=signs)
    assert told(recurrences(score)) == BruteForce(score, play_order(score.measures)).groups()


@settings(deadline=None, max_examples=150)
@given(st.lists(st.sampled_from("AB"), min_size=2, max_size=14))
def test_trying_everything_finds_the_same_in_music_that_says_little(letters):
    music = {"A": ([60, 62, 64, 65], [48, 52, 55, 52]), "B": ([67, 69, 71, 72], [])}
    score = score_of(*(music[letter] for letter in letters))
    assert told(recurrences(score)) == BruteForce(score, play_order(score.measures)).groups()


# By hand

A, B, C = ([60, 62, 64, 65], [48]), ([67, 65, 64, 62], [43]), ([72, 71, 69, 67], [41])
HIGHER = [([67, 69, 71, 72], [55]), ([74, 72, 71, 69], [50])]  # A and B a fifth up


def test_a_range_that_comes_again_is_one_group_at_its_full_length():
    groups = recurrences(score_of(A, B, C, A, B))
    assert told(groups) == {("both", (((0, 1), 0), ((3, 4), 0)))}
    assert [group.kind for group in groups] == ["exact"]


def test_a_theme_with_a_repeat_comes_again_with_all_its_parts():
    """Played A A B C A A B: both A and B return, though the whole would play A twice."""
    end = {"repeat_end": True}
    groups = recurrences(score_of(A, B, C, A, B, signs={0: end, 3: {"repeat_start": True, **end}}))
    assert told(groups) >= {("both", (((0,), 0), ((3,), 0))), ("both", (((0, 1), 0), ((3, 4), 0)))}


def test_a_range_that_comes_again_a_fifth_higher_says_so_in_semitones_and_letter_steps():
    (group,) = recurrences(score_of(A, B, C, *HIGHER))
    assert (group.kind, group.places[1]) == ("transposed", Place((3, 4), 7, 4))


def test_what_only_one_hand_plays_again_is_named_with_that_hand():
    (group,) = recurrences(score_of(A, B, C, (A[0], [50]), (B[0], [45, 47])))
    assert (group.kind, group.hands, [place.measures for place in group.places]) == (
        "one hand",
        "right",
        [(0, 1), (3, 4)],
    )


def test_a_repeat_sign_alone_makes_no_recurrence():
    assert recurrences(score_of(A, B, signs={1: {"repeat_end": True}})) == ()


def test_what_runs_across_a_repeat_is_found_where_it_is_written_out():
    # A B is repeated with two endings, B and C; at the end A C stands written out.
    signs = {1: {"repeat_end": True, "ending": "1"}, 2: {"ending": "2"}}
    music = (A, B, C, ([59, 61, 59, 61], [35]), A, C)
    longest = recurrences(score_of(*music, signs=signs))[0]
    assert [place.measures for place in longest.places] == [(0, 2), (4, 5)]
    assert longest.places[0].runs == ((0, 0), (2, 2))


def test_fewer_strokes_than_a_figure_has_are_not_named():
    few = ([60, 0, 62, 0], [])
    assert recurrences(score_of(few, C, few)) == ()


def test_spelling_and_printed_fingers_make_no_other_music_but_are_named():
    score = score_of(A, B, A)
    respelled = replace(score.by_id["m3r1"], pitch=Pitch("E", -2, 4), printed="3", voice="2")
    score = replace(score, notes=tuple(respelled if one.id == "m3r1" else one for one in score.notes))
    assert told(recurrences(score)) == {("both", (((0,), 0), ((2,), 0)))}
    assert set(differences(score.by_id["m1r1"], respelled)) == {"spelling", "fingering", "voice"}


@pytest.mark.parametrize("change", [{"length": Fraction(1, 4)}, {"tie_stop": True}, {"side": "left"}])
def test_another_length_a_tie_or_the_other_hand_is_other_music(change):
    score = score_of(A, B, A)
    notes = tuple(replace(one, **change) if one.id == "m3r1" else one for one in score.notes)
    assert not [group for group in recurrences(replace(score, notes=notes)) if group.hands == "both"]


def test_each_note_of_a_place_has_its_fellow_at_another():
    score = score_of(A, B, C, *HIGHER)
    (group,) = recurrences(score)
    fellows = pairs(texture_of(score, "both"), *group.places)
    assert len(fellows) == 10
    assert {score.by_id[two].pitch.midi - score.by_id[one].pitch.midi for one, two in fellows.items()} == {7}


# One saying for each measure


def test_measures_are_said_to_be_earlier_ones_again_the_longest_first():
    score = score_of(A, B, C, A, B, A)
    assert again(recurrences(score), 6) == (Again(3, 4, (0, 1), "both"), Again(5, 5, (0,), "both"))


def test_both_hands_come_before_what_is_transposed_and_that_before_one_hand():
    score = score_of(A, B, C, A, HIGHER[1], (A[0], [50]), (B[0], [45]))
    said = again(recurrences(score), 7)
    assert [(one.first, one.last, one.kind) for one in said] == [(3, 3, "exact"), (5, 6, "one hand")]
    assert said[1].at(6) == 1


@settings(deadline=None, max_examples=100)
@given(st.lists(bars, min_size=2, max_size=12), repeats)
def test_every_saying_is_true_and_none_speaks_of_a_measure_twice(music, signs):
    score = score_of(*music, signs=signs)
    said = again(recurrences(score), len(score.measures))
    spoken_of = [measure for one in said for measure in range(one.first, one.last + 1)]
    assert len(spoken_of) == len(set(spoken_of))
    for one in said:
        texture = texture_of(score, one.hands)
        for measure in range(one.first, one.last + 1):
            assert one.at(measure) < measure
            if texture.notes[measure]:
                assert texture.interval(one.at(measure), measure) == one.semitones


def test_an_ornament_sign_is_named_as_a_difference():
    assert list(differences(note("a", "C4", 0, 1), signed("b", "C4", 4, 1, "turn"))) == ["ornaments"]
