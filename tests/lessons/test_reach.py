"""A fingering beside a student's hand."""

from lessons.handouts.choices import numbered
from lessons.reach import fits
from tests import make
from tests.people import Cast


def words_for(cast: Cast, fingers: tuple[str, str], **hand) -> tuple[str, str]:
    """How a chord's fingering lies: D5 over B flat 4 in the third measure is a major third, 4 semitones."""
    score = cast.edition.score
    chord = [note for note in score.notes if note.measure == 3 and note.side == "right" and note.pitch.name in "DB♭"]
    low, high = sorted((note for note in chord if note.pitch.name in ("D", "B♭")), key=lambda note: note.pitch.midi)
    make.fingering(passage=cast.passage, fingers={low.id: fingers[0], high.id: fingers[1]})
    measured = make.hand(student=cast.oda, **hand)
    lines = list(numbered(cast.passage))
    found = fits(lines, [measured], cast.passage)[lines[0].key]
    return found.kind, found.words


def test_a_third_between_first_and_third_finger_is_comfortable(cast: Cast):
    assert words_for(cast, ("1", "3"))[0] == "easy"


def test_a_third_between_neighbours_is_more_than_comfortable(cast: Cast):
    # Fingers 2 and 3 of a medium hand: 3 semitones in comfort, 5 at most (Parncutt et al. 1997, from memory).
    kind, words = words_for(cast, ("2", "3"), comfortable=13, largest=15)
    assert kind == "edge"
    assert "a third between 2 and 3" in words
    assert "m. 3 beat 3" in words


def test_what_was_measured_between_two_fingers_counts(cast: Cast):
    assert words_for(cast, ("2", "3"), comfortable=13, largest=15, pairs={"2-3": [2, 3]})[0] == "beyond"
    cast.passage.fingerings.all().delete()


def test_a_hand_that_was_never_measured_says_nothing(cast: Cast):
    make.fingering(passage=cast.passage, fingers={cast.passage.first_note: "2"})
    assert fits(list(numbered(cast.passage)), [], cast.passage) == {}
