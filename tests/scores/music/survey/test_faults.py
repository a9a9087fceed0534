"""Bad material is reported and the walk goes on."""

from dataclasses import replace
from fractions import Fraction

from scores.music.notation import Rest, Score, Tuplet
from scores.music.survey import Finding, Options, survey
from scores.reading_files.reading import read
from tests.scores.music import make_notes as make
from tests.scores.reading_files.samples import one_staff, part, whole

ONLY = Options(kinds=frozenset({"uneven", "missing", "collision", "odd", "keyboard"}))


def faults(score: Score, *kinds: str) -> list[Finding]:
    return [one for one in survey(score, ONLY) if not kinds or one.kind in kinds]


def note(duration: int, name: str = "C", voice: int = 1, kind: str = "eighth") -> str:
    return (
        f"<note><pitch><step>{name}</step><octave>5</octave></pitch><duration>{duration}</duration>"
        f"<voice>{voice}</voice><type>{kind}</type></note>"
    )


def file_of(*measures: str, metre: tuple[int, int] = (3, 4)) -> Score:
    """One staff; each measure the notes inside it, six divisions to an eighth."""
    bodies = [one_staff(measures[0], metre=metre), *measures[1:]]
    text = "".join(f'<measure number="{number}">{body}</measure>' for number, body in enumerate(bodies, 1))
    return read("scan.musicxml", whole(part(text))).score


def test_a_measure_that_does_not_add_up_says_so_in_the_metres_own_unit():
    six, seven = note(6) * 6, note(6) * 7
    score = file_of(six, six, seven, six, metre=(6, 8))
    [one] = faults(score, "uneven")
    assert (one.number, str(one)) == ("3", "Measure 3 has 7 of 6 eighths.")
    assert len(one.notes) == 1


def test_units_get_finer_where_the_metres_own_does_not_count_them():
    score = file_of(note(6) * 6, note(6) * 5 + note(3, kind="16th"), note(6) * 6)
    assert str(faults(score, "uneven")[0]) == "Measure 2 has 11 of 12 sixteenths."


def test_a_pick_up_and_measures_that_complete_each_other_are_no_fault():
    assert faults(file_of(note(12, kind="quarter"), note(6) * 6, note(6) * 6), "uneven") == []
    assert faults(file_of(note(6) * 6, note(6) * 4, note(6) * 2, note(6) * 6), "uneven") == []


def test_a_hand_that_stops_before_the_measure_does_is_named():
    score = make.score(make.note("r", "C5", 0, 4), make.note("l", "C3", 0, 3, side="left"))
    [one] = faults(score, "uneven")
    assert (one.hand, str(one)) == ("left", "In measure 1 the left hand has 3 of 4 quarters.")


def test_an_empty_staff_is_said_once_for_all_its_measures():
    notes = [make.note(f"r{bar}", "C5", 4 * bar, 4) for bar in range(4)]
    notes.append(make.note("l", "C3", 0, 4, side="left"))
    [one] = faults(make.score(*notes), "missing")
    assert (one.number, one.last_number, one.hand) == ("2", "4", "left")
    rests = tuple(Rest(Fraction(4 * bar), Fraction(4), bar, "left", "2") for bar in range(1, 4))
    assert faults(replace(make.score(*notes), rests=rests), "missing") == []


def test_a_file_for_one_hand_says_which_one_is_missing():
    [one] = faults(make.score(make.note("r", "C5", 0, 4)), "missing")
    assert str(one) == "The file has nothing for the left hand."


def test_measures_without_anything_are_one_finding_without_notes():
    score = make.score(make.note("r", "C5", 0, 4), make.note("l", "C3", 0, 4, side="left"), measures=3)
    [one] = faults(score, "missing")
    assert (one.number, one.last_number, one.hand, one.notes) == ("2", "3", "both", ())


def both(*notes) -> Score:
    return make.score(*notes, make.note("left", "C3", 0, 4, side="left"))


def test_voices_that_collide_are_reported():
    struck = both(
        make.note("a", "C5", 0, 4), make.note("b", "C5", 2, 2, voice="2"), make.note("c", "E5", 0, 2, voice="2")
    )
    assert [(one.detail, one.notes) for one in faults(struck, "collision")] == [("struck", ("b",))]
    overlap = both(make.note("a", "C5", 0, 3), make.note("b", "D5", 2, 2))
    assert [(one.detail, str(one)) for one in faults(overlap, "collision")] == [
        ("overlap", "D5 begins in its voice before C5 has ended there.")
    ]
    twice = both(make.note("a", "C5", 0, 4), make.note("b", "C5", 0, 2))
    assert [one.detail for one in faults(twice, "collision")] == ["twice"]


def test_two_voices_that_begin_on_one_key_are_no_fault():
    unison = both(
        make.note("a", "C5", 0, 4), make.note("b", "C5", 0, 1, voice="2"), make.note("c", "D5", 1, 3, voice="2")
    )
    assert faults(unison, "collision") == []


def test_odd_rhythms_of_scanning_programs_are_reported_once_a_measure():
    differs = both(*(make.note(f"n{at}", "C5", at, 1, type="eighth") for at in range(4)))
    [one] = faults(differs, "odd")
    assert (one.detail, len(one.notes)) == ("differs", 4)
    untyped = both(make.note("a", "C5", 0, "17/29"), make.note("b", "C5", "17/29", "99/29"))
    assert [one.detail for one in faults(untyped, "odd")] == ["no value"]
    right = both(
        make.note("a", "C5", 0, "3/2", type="quarter", dots=1),
        make.note("b", "C5", "3/2", "5/2"),
        make.note("c", "D5", 0, "1/3", voice="2", type="eighth", tuplet=Tuplet(3, 2)),
    )
    assert faults(right, "odd") == []


def test_keys_that_no_piano_has_are_reported():
    [one] = faults(both(make.note("a", "C9", 0, 4)), "keyboard")
    assert str(one) == "C9 is no key of the piano."


def test_the_walk_goes_on_after_all_this():
    score = file_of(note(6) * 7, note(7, kind="eighth") * 5, note(6) * 6, note(6) * 5)
    assert {one.kind for one in faults(score)} >= {"uneven", "missing", "odd"}
    assert any(one.number == "4" for one in faults(score))


def test_a_score_without_notes_or_measures_has_no_findings():
    assert survey(Score((), ())) == ()
    assert survey(make.score(measures=1))[0].kind == "missing"
