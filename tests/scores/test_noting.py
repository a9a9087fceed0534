"""Passage notes and the verbs that change them. The rules are common practice; see also the checks of fingerings."""

from datetime import UTC, datetime
from fractions import Fraction

import pytest

from scores import noting
from scores.lines import can_be_given, joins_of, problems_of, roman, shown_lines
from scores.models import Fingering, Source
from scores.music.refusal import Refusal
from scores.rhythms import found_in, plan_of
from scores.stretches import stretch
from tests import make
from tests.music import BACK, note, score
from tests.people import Cast

NOW = datetime(2020, 11, 24, 12, 0, tzinfo=UTC)


def ids(passage, side: str = "right") -> list[str]:
    """The struck notes of a hand in the order in which they are fingered."""
    return [one.id for moment in stretch(passage, side) for one in moment.notes]


def fingers(passage, digits: str, side: str = "right") -> dict[str, str]:
    return dict(zip(ids(passage, side), digits, strict=False))


def measures_of(cast: Cast, first: int, last: int, hands: str = "right"):
    """A passage of whole measures (indexes) of the cast's edition."""
    notes = cast.edition.score.in_measures(first, last, hands)
    return make.passage(edition=cast.edition, first=notes[0].id, last=notes[-1].id, hands=hands)


# Fingerings


def test_a_new_line_is_as_long_as_the_passage(cast: Cast):
    line = noting.write_fingering(passage=cast.passage, side="right")
    assert (line.first_note, line.last_note) == (ids(cast.passage)[0], ids(cast.passage)[-1])
    assert line.fingers == {}
    assert line.studio == cast.studio


def test_a_line_may_cover_a_part_of_the_passage(cast: Cast):
    notes = ids(cast.passage)
    line = noting.write_fingering(passage=cast.passage, side="right", first=notes[7], last=notes[10])
    assert [
        one.id for moment in stretch(cast.passage, "right", line.first_note, line.last_note) for one in moment.notes
    ] == (notes[7:11])


def test_lines_are_numbered_in_the_order_they_were_written(cast: Cast):
    for _ in range(4):
        noting.write_fingering(passage=cast.passage, side="right")
    lines = shown_lines(cast.passage, list(cast.passage.fingerings.standing()))
    assert [line.numeral for line in lines if line.fingering] == ["I", "II", "III", "IV"]


def test_roman_numerals_are_written_as_in_books():
    assert [roman(number) for number in (1, 4, 9, 14, 40)] == ["I", "IV", "IX", "XIV", "XL"]


def test_a_hand_that_strikes_nothing_gets_no_line(cast: Cast):
    pickup = cast.edition.score.notes[0]
    passage = make.passage(edition=cast.edition, first=pickup.id, last=pickup.id, hands="both")
    with pytest.raises(Refusal):
        noting.write_fingering(passage=passage, side="left")


def test_fingers_outside_the_line_are_not_kept(cast: Cast):
    notes = ids(cast.passage)
    line = noting.write_fingering(passage=cast.passage, side="right", first=notes[0], last=notes[2])
    kept = noting.keep_fingers(fingering=line, fingers={notes[1]: "2", notes[9]: "3", "elsewhere": "1"})
    assert Fingering.objects.get(pk=kept.pk).fingers == {notes[1]: "2"}


def test_a_line_that_was_changed_elsewhere_is_not_overwritten(cast: Cast):
    line = noting.write_fingering(passage=cast.passage, side="right")
    seen, first = noting.version(line), ids(cast.passage)[0]
    noting.keep_fingers(fingering=line, fingers={first: "2"}, seen=seen)
    with pytest.raises(noting.ChangedMeanwhile) as changed:
        noting.keep_fingers(fingering=line, fingers={first: "3"}, seen=seen)
    assert changed.value.current.fingers == {first: "2"}
    assert Fingering.objects.get(pk=line.pk).fingers == {first: "2"}


def test_the_same_fingers_sent_twice_are_no_conflict(cast: Cast):
    line = noting.write_fingering(passage=cast.passage, side="right")
    seen, first = noting.version(line), ids(cast.passage)[0]
    noting.keep_fingers(fingering=line, fingers={first: "2"}, seen=seen)
    noting.keep_fingers(fingering=line, fingers={first: "2"}, seen=seen)


def test_a_line_of_the_program_becomes_the_teachers_when_she_changes_it(cast: Cast):
    first = ids(cast.passage)[0]
    line = noting.write_fingering(passage=cast.passage, side="right", fingers={first: "2"}, source=Source.PROGRAM)
    assert noting.keep_fingers(fingering=line, fingers={first: "2"}).source == Source.PROGRAM
    assert noting.keep_fingers(fingering=line, fingers={first: "3"}).source == Source.TEACHER


def test_the_printed_fingers_can_be_copied_into_a_line_of_ones_own(cast: Cast):
    line = noting.copy_printed(passage=cast.passage, side="right")
    assert sorted(line.fingers.values()) == ["2", "5"]
    assert line.source == Source.TEACHER


def test_a_line_with_something_impossible_is_kept_but_not_given_to_students(cast: Cast):
    passage = measures_of(cast, 3, 3)  # F5, E♭5, then B♭4 and D5 together
    line = noting.write_fingering(passage=passage, side="right", fingers=fingers(passage, "4322"))
    assert line.fingers[ids(passage)[3]] == "2"
    assert [problem.kind for problem in problems_of(line)] == ["same-finger"]
    assert not can_be_given(line)
    mended = noting.keep_fingers(fingering=line, fingers=fingers(passage, "4313"))
    assert can_be_given(mended)


def test_an_empty_line_is_not_given_to_students(cast: Cast):
    assert not can_be_given(noting.write_fingering(passage=cast.passage, side="right"))


def test_a_line_is_copied_where_the_moments_agree(cast: Cast):
    other = make.edition(piece=make.piece(studio=cast.studio), label="Another")
    target = make.passage(edition=other)
    digits = "2232354123441325"
    line = noting.write_fingering(
        passage=cast.passage, side="right", fingers=fingers(cast.passage, digits), remark="Light."
    )
    copy = noting.copy_fingering(fingering=line, to=target)
    assert copy.passage == target
    assert copy.fingers == fingers(target, digits)
    assert copy.remark == "Light."


def test_a_part_is_copied_to_the_same_part_of_the_other_passage(cast: Cast):
    target = make.passage(edition=make.edition(piece=make.piece(studio=cast.studio)))
    notes = ids(cast.passage)
    line = noting.write_fingering(
        passage=cast.passage, side="right", first=notes[7], last=notes[9], fingers={notes[8]: "3"}
    )
    copy = noting.copy_fingering(fingering=line, to=target)
    assert copy.fingers == {ids(target)[8]: "3"}
    assert (copy.first_note, copy.last_note) == (ids(target)[7], ids(target)[9])


def test_a_copy_says_where_the_passages_part(cast: Cast):
    line = noting.write_fingering(passage=measures_of(cast, 2, 3), side="right")  # 4 single notes, 2 single, a chord
    with pytest.raises(noting.DoesNotFit) as refusal:
        noting.copy_fingering(fingering=line, to=measures_of(cast, 1, 3))
    assert "Its place 2 is measure 1, beat 1½ of that passage: a grace" in str(refusal.value)
    with pytest.raises(noting.DoesNotFit) as refusal:
        noting.copy_fingering(fingering=line, to=measures_of(cast, 2, 2))
    assert str(refusal.value) == "That passage ends after 4 places; the line to be copied has 7."


def test_a_copy_says_where_one_passage_has_a_chord(cast: Cast):
    line = noting.write_fingering(passage=measures_of(cast, 2, 2), side="right")
    with pytest.raises(noting.DoesNotFit) as refusal:
        noting.copy_fingering(fingering=line, to=measures_of(cast, 3, 4))
    assert str(refusal.value) == (
        "The line does not fit there. Its place 3 is measure 3, beat 3 of that passage; notes struck together: "
        "2 there, 1 here."
    )


def test_each_pair_of_options_is_looked_at_where_parts_join(cast: Cast):
    notes = ids(cast.passage)
    edge = 7  # B♭4 B♭4 C5 B♭4 E♭5 G5 F5 | C5 ...
    for finger in "13":
        noting.write_fingering(
            passage=cast.passage, side="right", first=notes[0], last=notes[edge - 1], fingers={notes[edge - 1]: finger}
        )
    for finger in "12":
        noting.write_fingering(
            passage=cast.passage, side="right", first=notes[edge], last=notes[-1], fingers={notes[edge]: finger}
        )
    [join] = joins_of(cast.passage, shown_lines(cast.passage, list(cast.passage.fingerings.standing())))
    assert (join.measure, join.beat, join.after) == ("2", "1", ("III", "IV"))
    assert [[len(cell.problems) for cell in cells] for _, cells in join.rows] == [[1, 0], [0, 0]]


def test_lines_over_the_whole_passage_join_nothing(cast: Cast):
    for _ in range(2):
        noting.write_fingering(passage=cast.passage, side="right")
    assert joins_of(cast.passage, shown_lines(cast.passage, list(cast.passage.fingerings.standing()))) == ()


def turn_of(cast: Cast):
    return next(one for one in cast.edition.score.notes if one.ornaments)


# Rhythm drills


def test_four_against_three_is_found_and_planned(cast: Cast):
    [span] = found_in(cast.passage, [])
    assert (span.measure, span.ratio, span.end - span.start) == ("2", (4, 3), 3)
    drill = noting.plan_drill(passage=cast.passage, start=span.start, end=span.end, tempo_now=60, tempo_goal=80)
    assert plan_of(drill)[-1].stage.marks[0] == 60
    assert found_in(cast.passage, [drill])[0].planned


def test_hands_that_fit_plainly_get_no_drill(cast: Cast):
    first = cast.edition.score.measures[1].start
    with pytest.raises(Refusal):
        noting.plan_drill(passage=cast.passage, start=first, end=first + 1, tempo_now=60, tempo_goal=80)


def test_a_span_in_which_one_hand_rests_gets_no_drill(cast: Cast):
    with pytest.raises(Refusal) as refusal:
        noting.plan_drill(passage=cast.passage, start=Fraction(0), end=Fraction(1), tempo_now=60, tempo_goal=80)
    assert str(refusal.value) == noting.BOTH_HANDS


def test_a_drill_is_copied_only_where_the_rhythm_is_the_same(cast: Cast):
    [span] = found_in(cast.passage, [])
    drill = noting.plan_drill(passage=cast.passage, start=span.start, end=span.end, tempo_now=60, tempo_goal=80)
    twin = make.passage(edition=make.edition(piece=make.piece(studio=cast.studio)))
    copy = noting.copy_drill(drill=drill, to=twin)
    assert (copy.start, copy.end, copy.stages) == (drill.start, drill.end, drill.stages)
    with pytest.raises(noting.DoesNotFit):
        noting.copy_drill(drill=drill, to=measures_of(cast, 3, 4))


# Cues


def test_a_cue_stands_at_its_note(cast: Cast):
    turn = turn_of(cast)
    cue = noting.write_cue(passage=cast.passage, text="Let the wrist turn.", note=turn.id)
    assert (cue.measure, cue.beat, cue.note) == (3, "1", turn.id)


def test_a_cue_stands_at_a_beat(cast: Cast):
    cue = noting.write_cue(passage=cast.passage, text="Breathe.", measure=2, beat="5/2")
    assert (cue.measure, cue.beat, cue.note) == (2, "5/2", "")


def test_a_cue_outside_the_passage_is_refused(cast: Cast):
    passage = measures_of(cast, 1, 1)
    with pytest.raises(Refusal):
        noting.write_cue(passage=passage, text="Breathe.", measure=3)
    with pytest.raises(Refusal):
        noting.write_cue(passage=passage, text="Breathe.", note=turn_of(cast).id)


def test_a_cue_is_copied_to_the_moment_of_the_same_number(cast: Cast):
    source, target = measures_of(cast, 2, 2), measures_of(cast, 3, 4)
    cue = noting.write_cue(passage=source, text="Lean.", note=ids(source)[1])
    assert noting.copy_cue(cue=cue, to=target).note == ids(target)[1]


def test_a_cue_beyond_the_end_of_the_other_passage_is_refused(cast: Cast):
    source = measures_of(cast, 1, 2)
    cue = noting.write_cue(passage=source, text="Lean.", note=ids(source)[-1])
    with pytest.raises(noting.DoesNotFit):
        noting.copy_cue(cue=cue, to=measures_of(cast, 2, 2))
    beat = noting.write_cue(passage=source, text="Lean.", measure=2)
    with pytest.raises(noting.DoesNotFit):
        noting.copy_cue(cue=beat, to=measures_of(cast, 2, 2))


def test_what_was_taken_away_comes_back(cast: Cast):
    cue = noting.write_cue(passage=cast.passage, text="Breathe.", measure=1)
    noting.remove_note(cue, at=NOW)
    assert not cast.passage.cues.standing()
    noting.restore_note(cue)
    assert cast.passage.cues.standing().get() == cue


def test_a_tied_note_is_not_struck_again_and_takes_no_finger(cast: Cast):
    tied = score(
        [
            note("C4", "half.", extra="tied_start") + BACK + note("C3", "half.", staff=2),
            note("C4", "quarter", extra="tied_stop") + note("D4", "half") + BACK + note("C3", "half.", staff=2),
        ],
        title="Tied",
    )
    passage = make.passage(edition=make.edition(piece=make.piece(studio=cast.studio), music=tied))
    assert len(ids(passage)) == 2
