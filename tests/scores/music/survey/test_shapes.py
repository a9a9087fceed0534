"""What the hand must do: stretches, leaps, crossing, holding, thumbs."""

from fractions import Fraction

from scores.music.fingering.hand import from_reach
from scores.music.notation import Score
from scores.music.survey import Finding, Options, survey
from tests.scores.music import make_notes as make


def of(score: Score, *kinds: str, **options) -> list[Finding]:
    return [one for one in survey(score, Options(**options)) if one.kind in kinds]


def chords(*moments: str, side: str = "right", length: object = 1) -> Score:
    notes = [
        make.note(f"{at}.{place}", name, Fraction(str(length)) * at, length, side=side)
        for at, names in enumerate(moments)
        for place, name in enumerate(names.split())
    ]
    return make.score(*notes)


def hands(comfortable: int, largest: int):
    return tuple(from_reach(side, comfortable, largest) for side in ("right", "left"))


def test_a_stretch_and_what_is_beyond_reach_are_told_apart_by_the_hand():
    octave = chords("C4 C5")
    assert of(octave, "stretch", "reach") == []
    [small] = of(octave, "stretch", "reach", hands=hands(10, 12))
    assert (small.kind, small.params["interval"], small.params["reach"]) == ("stretch", 12, 10)
    [beyond] = of(octave, "stretch", "reach", hands=hands(9, 11))
    assert (beyond.kind, beyond.params["reach"]) == ("reach", 11)


def test_each_hand_has_its_own_reach():
    mixed = (from_reach("right", 14, 16), from_reach("left", 9, 11))
    assert of(chords("C4 C5"), "stretch", "reach", hands=mixed) == []
    assert len(of(chords("C3 C4", side="left"), "reach", hands=mixed)) == 1


def test_stretches_that_follow_each_other_are_one_finding_with_the_widest():
    [one] = of(chords("C4 C5", "D4 E5", "E4 E5"), "stretch", hands=hands(10, 16))
    assert (one.params["count"], one.params["interval"], one.notes) == (
        3,
        14,
        ("0.0", "0.1", "1.0", "1.1", "2.0", "2.1"),
    )


def test_a_key_held_from_before_is_part_of_the_stretch():
    score = make.score(make.note("low", "C4", 0, 2), make.note("high", "F5", 1, 1))
    [one] = of(score, "reach")
    assert (one.notes, one.beat, one.anchor) == (("low", "high"), 2, "high")


def test_a_leap_is_listed_where_there_is_no_time_to_travel():
    leap = chords("C3", "C6", length="1/2")
    [one] = of(leap, "leap", tempo=120)
    assert (one.notes, one.params["interval"], one.params["ms"]) == (("0.0", "1.0"), 36, 250)
    assert of(leap, "leap", tempo=30) == []
    assert of(chords("C3", "C4", length="1/4"), "leap", tempo=200) == []


def test_hands_cross_where_the_left_holds_a_key_above_the_right():
    score = make.score(
        make.note("r", "C4", 0, 2), make.note("l", "G4", 1, 1, side="left"), make.note("m", "C3", 2, 1, side="left")
    )
    [one] = of(score, "crossed-hands")
    assert (one.detail, set(one.notes), one.hand) == ("above", {"r", "l"}, "both")


def test_one_key_wanted_by_both_hands_is_said_as_such():
    score = make.score(make.note("r", "C4", 0, 2), make.note("l", "C4", 1, 1, side="left"))
    [one] = of(score, "crossed-hands")
    assert (one.detail, str(one)) == ("shared", "Both hands want C4 at once.")


def test_a_hand_that_has_let_go_is_not_crossed():
    score = make.score(make.note("r", "C4", 0, 1), make.note("l", "G4", 1, 1, side="left"))
    assert of(score, "crossed-hands") == []


def test_a_finger_held_while_the_others_move():
    score = make.score(make.note("held", "C4", 0, 4), *make.line("E4 F4 G4 F4", (1, 1, 1, 1), voice="2"))
    [one] = of(score, "held")
    assert (one.notes, one.params["count"]) == (("held",), 3)
    assert of(make.score(make.note("held", "C4", 0, 2), *make.line("E4 F4", (1, 1), voice="2")), "held") == []


def test_held_notes_that_overlap_are_one_finding_and_those_apart_are_two():
    moving = make.line("E5 F5 G5 F5 E5 F5 G5 F5", [1] * 8, voice="2")
    overlapping = make.score(make.note("a", "C4", 0, 3), make.note("b", "D4", 2, 3), *moving)
    assert [one.notes for one in of(overlapping, "held")] == [("a", "b")]
    apart = make.score(make.note("a", "C4", 0, 3), make.note("b", "D4", 4, 3), *moving)
    assert [one.notes for one in of(apart, "held")] == [("a",), ("b",)]


def test_ties_count_as_one_held_note():
    score = make.score(
        make.note("a", "C4", 0, 2, tie_start=True),
        make.note("b", "C4", 2, 2, tie_stop=True),
        *make.line("E5 F5 G5 F5", (1, 1, 1, 1), voice="2"),
    )
    [one] = of(score, "held")
    assert (one.notes, one.params["count"]) == (("a",), 3)


def test_a_wide_grip_with_the_thumb_on_black_is_a_trap_in_each_hand():
    assert [one.notes for one in of(chords("Eb4 G4 D5"), "thumb")] == [("0.0",)]
    assert of(chords("E4 G4 D5"), "thumb") == []
    assert of(chords("Eb4 G4 Eb5"), "thumb") == []  # both ends black: the hand lies straight
    assert [one.notes for one in of(chords("F2 C3 Eb3", side="left"), "thumb")] == [("0.2",)]


def test_the_same_grip_in_an_accompaniment_is_one_finding():
    [one] = of(chords("C4", "Eb4 G4 D5", "C4", "Eb4 G4 D5"), "thumb")
    assert one.notes == ("1.0", "3.0")


def test_five_black_keys_on_end_make_the_thumb_pass_on_one():
    [one] = of(chords("Db4", "Eb4", "Gb4", "Ab4", "Bb4"), "thumb")
    assert (one.detail, one.params["count"]) == ("run", 5)
    assert of(chords("Db4", "Eb4", "Gb4", "Ab4"), "thumb") == []
    assert of(chords("Db4", "Eb4", "Gb4", "Eb4", "Db4"), "thumb") == []
