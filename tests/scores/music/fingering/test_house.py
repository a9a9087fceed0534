"""The house rules against the handbook, the mirror, the octave and larger hands."""

import random

import pytest

from scores.music.fingering.hand import from_reach, hand
from scores.music.fingering.options import best, judge
from tests.scores.music.fingering import make
from tests.scores.music.fingering.handbook import arpeggios, scales
from tests.scores.music.fingering.test_search import random_notes


def rank(exercise):
    """The place of the handbook's fingering among the first ten, 11 if it is not among them."""
    options = best(exercise.notes, hand(exercise.side), 10)
    texts = ["".join(option.fingers[note.id] for note in exercise.notes) for option in options]
    return next((place + 1 for place, text in enumerate(texts) if text in exercise.answers), 11)


@pytest.fixture(scope="module")
def ranks():
    return {exercise.name: rank(exercise) for exercise in scales() + arpeggios()}


def share(ranks, most):
    return sum(rank <= most for rank in ranks.values()) / len(ranks)


def test_the_handbook_fingering_is_among_the_first_three_nine_times_in_ten(ranks):
    assert len(ranks) == 64
    assert share(ranks, 3) >= 0.9


def test_the_handbook_fingering_comes_first_seven_times_in_ten(ranks):
    assert share(ranks, 1) >= 0.7


def play(name, text, hand_, **options):
    notes = make.line(name, side=hand_.side)
    return judge(notes, make.fingers(notes, text), hand_, **options)


RIGHT, LEFT = hand("right"), hand("left")


# Common practice, from here to the next heading.


@pytest.mark.parametrize(
    ("names", "fingers"),
    [
        ("C4 D4 E4 F4 G4", "12345"),
        ("C4+E4+G4", "135"),
        ("C4+F4+A4", "135"),
        ("E4+G4+C5", "125"),
        ("C4+E4+G4+C5", "1235"),
        ("C4+C5", "15"),
        ("C4+D4+E4+F4+G4", "12345"),
    ],
)
def test_what_lies_under_the_hand_gets_the_fingers_that_lie_there(names, fingers):
    notes = make.line(names)
    assert "".join(best(notes, RIGHT, 1)[0].fingers.values()) == fingers


def test_the_chromatic_scale_keeps_thumb_and_fifth_off_the_black_keys():
    notes = make.keys(range(60, 73), each=0.25)
    option = best(notes, RIGHT, 1)[0]
    black = [option.fingers[note.id] for note in notes if note.pitch.is_black]
    assert not {"1", "5"} & set(black)
    third, second = (judge(notes, make.fingers(notes, text), RIGHT) for text in ("1313123131312", "1212123121212"))
    assert third.cost < second.cost
    assert third.cost < 1.4 * option.cost


def test_fast_repetition_changes_fingers_and_slow_repetition_does_not():
    notes = make.line("E4 E4 E4 E4", each=0.25)
    fast = best(notes, RIGHT, 1, tempo=160)[0].fingers
    slow = best(notes, RIGHT, 1, tempo=15)[0].fingers
    assert all(fast[f"n{i}"] != fast[f"n{i + 1}"] for i in (1, 2, 3))
    assert len(set(slow.values())) == 1


def test_a_thumb_on_black_between_whites_costs_more_than_on_white():
    assert play("D4 Eb4 F4", "212", RIGHT).cost > play("D4 E4 F4", "212", RIGHT).cost


def test_the_thumb_passes_under_a_black_key_more_easily_than_up_to_one():
    from_black = play("G4 Ab4 Bb4 C5", "2341", RIGHT).by_rule["passing"]
    to_black = play("G4 A4 B4 C#5", "2341", RIGHT).by_rule["passing"]
    assert from_black < to_black


def test_speed_makes_passing_dearer_and_leaves_a_still_hand_alone():
    notes = make.line("C4 D4 E4 F4 G4 A4", each=0.25)
    fingers = make.fingers(notes, "123123")
    slow, fast = (judge(notes, fingers, RIGHT, tempo=tempo) for tempo in (40, 180))
    assert fast.by_rule["passing"] > slow.by_rule["passing"]
    assert play("C4 E4 G4", "135", RIGHT, tempo=40).cost == play("C4 E4 G4", "135", RIGHT, tempo=180).cost


def test_a_rest_gives_the_hand_time_to_move():
    near, rested = make.line("C4 E5"), make.line("C4 _ _ E5")
    costs = [judge(notes, make.fingers(notes, "11"), RIGHT).cost for notes in (near, rested)]
    assert costs[1] < costs[0]


def test_leaving_a_learned_fingering_costs_effort_and_the_old_one_none():
    notes = make.line("C4 D4 E4 F4 G4")
    learned = make.fingers(notes, "12345")
    assert judge(notes, learned, RIGHT, learned=learned).by_rule.get("learned", 0) == 0
    changed = judge(notes, make.fingers(notes, "12344"), RIGHT, learned=learned)
    assert changed.by_rule["learned"] > 0
    awkward = make.fingers(notes, "12312")
    assert best(notes, RIGHT, 1)[0].fingers != awkward
    assert best(notes, RIGHT, 1, learned=awkward)[0].fingers == awkward


def test_traits_make_what_they_name_dearer():
    slow_fourth = hand("right", traits=["slow fourth finger"])
    slow_thumb = hand("right", traits=["slow thumb"])
    broad = hand("right", traits=["broad fingers"])
    assert play("E4 F4 E4 F4", "3434", slow_fourth).cost > play("E4 F4 E4 F4", "3434", RIGHT).cost
    assert play("E4 F4 E4 F4", "2323", slow_fourth).cost == play("E4 F4 E4 F4", "2323", RIGHT).cost
    assert play("D4 E4 F4 G4", "2312", slow_thumb).cost > play("D4 E4 F4 G4", "2312", RIGHT).cost
    assert play("F#4 G4 A4", "234", broad).cost > play("F#4 G4 A4", "234", RIGHT).cost


def test_held_notes_keep_their_finger_and_may_change_it_silently():
    notes = (
        make.note("held", "C5", 0, 6),
        *(make.note(f"m{i}", name, i) for i, name in enumerate(["E4", "F4", "G4", "A4", "B4", "A4"])),
    )
    option = best(notes, RIGHT, 1)[0]
    assert option.is_playable
    held = option.fingers["held"]
    assert all(option.fingers[f"m{i}"] != held[-1] for i in range(1, 6))


# Properties.


def mirrored(notes):
    """The same keys seen in a mirror that stands on D: for the other hand."""
    side = "left" if notes[0].side == "right" else "right"
    return tuple(
        make.note(note.id, 124 - note.pitch.midi, note.onset, note.length, side=side, voice=note.voice)
        for note in notes
    )


def test_a_mirrored_passage_costs_the_other_hand_the_same():
    dice = random.Random(5)
    for _ in range(60):
        notes = random_notes(dice, 6, chords=0.3, held=0.2)
        here, there = best(notes, RIGHT, 3), best(mirrored(notes), LEFT, 3)
        assert [option.cost for option in here] == [option.cost for option in there]


def test_an_octave_higher_costs_the_same():
    dice = random.Random(6)
    for _ in range(60):
        notes = random_notes(dice, 6, chords=0.3, held=0.2)
        higher = tuple(
            make.note(note.id, note.pitch.midi + 12, note.onset, note.length, voice=note.voice) for note in notes
        )
        here, there = best(notes, RIGHT, 3), best(higher, RIGHT, 3)
        assert [(option.fingers, option.by_rule) for option in here] == [(o.fingers, o.by_rule) for o in there]


@pytest.mark.parametrize("rules", ["house", "published"])
def test_a_larger_hand_never_finds_a_passage_harder(rules):
    dice = random.Random(7)
    for _ in range(60):
        notes = random_notes(dice, 7, chords=0.3, held=0.2)
        comfortable = dice.uniform(9, 14)
        reach = comfortable + dice.uniform(0, 3)
        smaller = from_reach("right", comfortable, reach)
        larger = from_reach("right", comfortable + dice.uniform(0, 2), reach + dice.uniform(0, 2))
        hard, easy = (best(notes, one, 1, rules=rules)[0] for one in (smaller, larger))
        assert easy.cost <= hard.cost


def test_a_larger_hand_never_finds_a_given_fingering_harder():
    dice = random.Random(8)
    sizes = [hand("right", size) for size in ("small", "medium", "large")]
    for _ in range(150):
        notes = random_notes(dice, 6, chords=0.2)
        fingers = {note.id: str(dice.randint(1, 5)) for note in notes}
        costs = [judge(notes, fingers, one).cost for one in sizes]
        assert costs == sorted(costs, reverse=True)
