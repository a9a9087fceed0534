"""Music in words, for those who do not see it."""

from fractions import Fraction

from scores.engraving.words import describe
from scores.music.notation import Grace, Measure, Note, Pitch, Score


def score() -> Score:
    def note(name: str, step: str, onset: int, side: str = "right", measure: int = 0, **more) -> Note:
        return Note(
            name, Pitch(step, more.pop("alter", 0), 4), Fraction(onset), Fraction(1), measure, side, 1, "1", **more
        )

    return Score(
        measures=(
            Measure(0, "12", Fraction(0), Fraction(2), 2, 4),
            Measure(1, "", Fraction(2), Fraction(2), 2, 4),
        ),
        notes=(
            note("a", "E", 0, grace=Grace(0)),
            note("b", "F", 0, alter=1, printed="3"),
            note("c", "G", 1),
            note("d", "B", 1, alter=-1),
            note("e", "C", 0, "left", tie_start=True),
            note("f", "C", 2, "left", 1, tie_stop=True),
        ),
    )


def test_measures_hands_notes_and_printed_fingers_are_named():
    assert describe(score(), 0, 0) == ("Measure 12. Right hand: grace note E4, F♯4 finger 3, G4 + B♭4. Left hand: C4.")


def test_chosen_fingers_stand_in_the_place_of_printed_ones():
    said = describe(score(), 0, 0, hands="right", fingers={"c": "1", "d": "4-5"})
    assert said == "Measure 12. Right hand: grace note E4, F♯4, G4 finger 1 + B♭4 finger 4-5."


def test_a_measure_without_a_number_is_counted_and_a_held_note_is_said_to_be():
    assert describe(score(), 1, 1) == "Measure 2. Left hand: held."
