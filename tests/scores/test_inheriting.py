"""Notes at the places where their music returns. What is expected is read off the invented score by eye."""

from datetime import UTC, datetime
from fractions import Fraction

import pytest

from scores import noting
from scores.inheriting import choices_everywhere, depart, follow_again, here, leave_out
from scores.lines import problems_of, shown_lines
from scores.marking import remove_passage
from scores.models import Cue, Edition, Fingering, OrnamentChoice, Passage, RhythmDrill
from scores.music.drill import from_data
from scores.reattaching import plan, reattach
from tests import make
from tests.people import Cast
from tests.scores.rondino import RONDINO

NOW = datetime(2020, 11, 24, 12, 0, tzinfo=UTC)
RUN = "123454" + "321"  # the theme's right hand, note by note


@pytest.fixture
def rondino(cast: Cast) -> Edition:
    return make.edition(piece=make.piece(studio=cast.studio, title="Rondino"), music=RONDINO, name="rondino.musicxml")


def passage(edition: Edition, first: int, last: int, hands: str = "both") -> Passage:
    """Whole measures by their printed numbers."""
    notes = edition.score.in_measures(first - 1, last - 1, hands)
    return make.passage(edition=edition, first=notes[0].id, last=notes[-1].id, hands=hands)


def notes_of(edition: Edition, first: int, last: int, side: str = "right"):
    return [note for note in edition.score.in_measures(first - 1, last - 1, side) if note.is_attack]


def fingered(edition: Edition, first: int, last: int, digits: str = RUN, hands: str = "both") -> Fingering:
    one = passage(edition, first, last, hands)
    notes = notes_of(edition, first, last)
    return noting.write_fingering(
        passage=one, side="right", fingers=dict(zip((note.id for note in notes), digits, strict=True)), remark="lightly"
    )


def fresh(one: Passage) -> Passage:
    """The passage as the next request reads it."""
    return Passage.objects.select_related("edition__piece").get(pk=one.pk)


def shown(edition: Edition, first: int, last: int, one: Fingering) -> list[str]:
    return [one.fingers.get(note.id, "") for note in notes_of(edition, first, last, one.side)]


def test_a_fingering_stands_where_its_notes_come_again(rondino: Edition):
    line = fingered(rondino, 1, 2)
    (inherited,) = here(passage(rondino, 5, 6)).fingerings
    assert shown(rondino, 5, 6, inherited) == list(RUN)
    assert (inherited.pk, inherited.remark) == (line.pk, "lightly")
    assert inherited.inherited.words == "from measures 1–2"
    assert not inherited.inherited.caution


def test_a_transposed_place_has_the_fingers_and_asks_to_look_again(rondino: Edition):
    fingered(rondino, 1, 2)
    (inherited,) = here(passage(rondino, 7, 8)).fingerings
    assert shown(rondino, 7, 8, inherited) == list(RUN)
    assert inherited.inherited.words == "from measures 1–2, a fifth higher"
    assert "black keys" in inherited.inherited.caution


def test_where_one_hand_returns_its_fingering_stands_and_not_the_other_hands(rondino: Edition):
    line = fingered(rondino, 1, 2)
    left = notes_of(rondino, 1, 2, "left")
    noting.write_fingering(passage=line.passage, side="left", fingers={note.id: "2" for note in left})
    found = here(passage(rondino, 9, 10)).fingerings
    assert [one.side for one in found] == ["right"]


def test_where_the_music_is_another_nothing_stands(rondino: Edition):
    fingered(rondino, 1, 2)
    assert here(passage(rondino, 3, 4)).fingerings == ()


def test_a_passage_of_a_part_of_the_place_has_its_part_of_the_line(rondino: Edition):
    fingered(rondino, 1, 2)
    (inherited,) = here(passage(rondino, 5, 5)).fingerings
    assert shown(rondino, 5, 5, inherited) == list(RUN[:6])
    assert len(inherited.fingers) == 6


def test_a_line_longer_than_what_returns_stands_where_the_passage_returns_in_it(rondino: Edition):
    fingered(rondino, 1, 4, RUN + "531" + "351")
    (inherited,) = here(passage(rondino, 5, 6)).fingerings
    assert shown(rondino, 5, 6, inherited) == list(RUN)


def test_passages_that_share_notes_do_not_inherit_from_each_other(rondino: Edition):
    fingered(rondino, 1, 2)
    assert here(passage(rondino, 2, 6)).fingerings == ()


def test_a_change_of_the_source_is_seen_at_once_at_all_places(rondino: Edition):
    line = fingered(rondino, 1, 2)
    places = [passage(rondino, 5, 6), passage(rondino, 9, 10)]
    first = notes_of(rondino, 1, 2)[0]
    noting.keep_fingers(fingering=line, fingers={**line.fingers, first.id: "2"})
    assert [
        shown(rondino, *where, here(fresh(one)).fingerings[0])[0]
        for one, where in zip(places, ((5, 6), (9, 10)), strict=True)
    ] == ["2", "2"]


def test_checks_run_anew_at_the_transposed_place(rondino: Edition):
    line = fingered(rondino, 1, 2, "123454" + "32-")
    noting.keep_fingers(fingering=line, fingers={**line.fingers, notes_of(rondino, 1, 1)[2].id: "9"})
    (inherited,) = here(passage(rondino, 7, 8)).fingerings
    ids = {note for problem in problems_of(inherited) for note in problem.notes}
    assert ids <= {note.id for note in notes_of(rondino, 7, 8)}
    assert ids


def test_the_lines_of_the_desk_follow_on_after_its_own(rondino: Edition):
    fingered(rondino, 1, 2)
    own = fingered(rondino, 5, 6, "234543" + "432")
    lines = [line for line in shown_lines(own.passage, here(fresh(own.passage)).fingerings) if line.fingering]
    assert [(line.numeral, bool(line.fingering.inherited)) for line in lines] == [("I", False), ("II", True)]


def test_what_stands_here_already_is_not_shown_twice(rondino: Edition):
    fingered(rondino, 1, 2)
    own = fingered(rondino, 5, 6)
    assert [one.pk for one in here(fresh(own.passage)).fingerings] == [own.pk]


def test_an_ornament_choice_stands_at_the_same_sign(rondino: Edition):
    turned = next(note for note in rondino.score.notes if note.ornaments)
    source = passage(rondino, 1, 2)
    OrnamentChoice.objects.create(studio=source.studio, passage=source, note=turned.id, placement="on")
    for first, semitones in ((5, 0), (7, 7), (9, 0)):
        (choice,) = here(passage(rondino, first, first + 1)).choices
        note = rondino.score.by_id[choice.note]
        assert (note.measure, choice.placement, choice.inherited.semitones) == (first, "on", semitones)
        assert note.ornaments


def test_an_edition_has_a_choice_at_every_place_though_no_passage_is_marked_there(rondino: Edition):
    turns = [note.id for note in rondino.score.notes if note.ornaments]
    source = passage(rondino, 1, 2)
    OrnamentChoice.objects.create(studio=source.studio, passage=source, note=turns[0], placement="on")
    other = passage(rondino, 5, 6)
    OrnamentChoice.objects.create(studio=source.studio, passage=other, note=turns[1], placement="before")
    found = {choice.note: choice.placement for choice in choices_everywhere(rondino)}
    assert found == {turns[0]: "on", turns[1]: "before", turns[2]: "on", turns[3]: "on"}


def test_the_places_own_ornament_choice_goes_first(rondino: Edition):
    turns = [note for note in rondino.score.notes if note.ornaments]
    for one, note, placement in (
        (passage(rondino, 1, 2), turns[0], "on"),
        (passage(rondino, 5, 6), turns[1], "before"),
    ):
        OrnamentChoice.objects.create(studio=one.studio, passage=one, note=note.id, placement=placement)
    assert [choice.placement for choice in here(fresh(one)).choices] == ["before"]


def test_a_drill_stands_where_both_hands_return(rondino: Edition):
    source = passage(rondino, 1, 2)
    drill = noting.plan_drill(passage=source, start=Fraction(3), end=Fraction(6), tempo_now=60, tempo_goal=88)
    (inherited,) = here(passage(rondino, 5, 6)).drills
    assert (inherited.start, inherited.end, inherited.pk) == ("15", "18", drill.pk)
    assert len(from_data(inherited.stages)) == len(from_data(drill.stages)) > 5
    assert here(passage(rondino, 9, 10)).drills == ()


def test_a_cue_stands_at_its_note_or_beat(rondino: Edition):
    source = passage(rondino, 1, 2)
    tied = notes_of(rondino, 2, 2)[1]
    noting.write_cue(passage=source, text="float", note=tied.id)
    noting.write_cue(passage=source, text="breathe", measure=1, beat="3")
    found = here(passage(rondino, 7, 8)).cues
    assert sorted((cue.text, cue.measure, cue.beat) for cue in found) == [("breathe", 7, "3"), ("float", 7, "2")]
    assert rondino.score.by_id[next(cue.note for cue in found if cue.note)].pitch.name == "C"


def test_a_note_taken_away_stands_nowhere(rondino: Edition):
    line = fingered(rondino, 1, 2)
    place = passage(rondino, 5, 6)
    noting.remove_note(line, at=NOW)
    assert here(fresh(place)).fingerings == ()
    noting.restore_note(line)
    remove_passage(line.passage, at=NOW)
    assert here(fresh(place)).fingerings == ()


def test_an_inherited_row_cannot_be_saved_over_the_note_it_shows(rondino: Edition):
    line = fingered(rondino, 1, 2)
    (inherited,) = here(passage(rondino, 5, 6)).fingerings
    with pytest.raises(TypeError):
        inherited.save()
    assert Fingering.objects.get(pk=line.pk).fingers == line.fingers


# Another word at one place


def test_changed_at_one_place_the_others_keep_the_source(rondino: Edition):
    line = fingered(rondino, 1, 2)
    here_too, there = passage(rondino, 5, 6), passage(rondino, 9, 10)
    own = depart(note=here(here_too).fingerings[0])
    noting.keep_fingers(fingering=own, fingers={**own.fingers, notes_of(rondino, 5, 5)[0].id: "2"})
    notes = here(fresh(here_too))
    assert [(one.pk, shown(rondino, 5, 6, one)[0]) for one in notes.fingerings] == [(own.pk, "2")]
    assert [one.pk for one in notes.departed] == [line.pk]
    assert [one.pk for one in here(fresh(there)).fingerings] == [line.pk]
    assert shown(rondino, 9, 10, here(fresh(there)).fingerings[0]) == list(RUN)


def test_a_place_that_departed_gives_its_own_word_to_no_other(rondino: Edition):
    line = fingered(rondino, 1, 2)
    own = depart(note=here(passage(rondino, 5, 6)).fingerings[0])
    noting.keep_fingers(fingering=own, fingers={**own.fingers, notes_of(rondino, 5, 5)[0].id: "2"})
    assert here(fresh(line.passage)).inherited == []


def test_left_out_at_one_place_it_stands_at_the_others(rondino: Edition):
    fingered(rondino, 1, 2)
    place = passage(rondino, 5, 6)
    leave_out(note=here(place).fingerings[0], at=NOW)
    assert (here(fresh(place)).fingerings, len(here(fresh(place)).departed)) == ((), 1)
    assert len(here(passage(rondino, 9, 10)).fingerings) == 1


@pytest.mark.parametrize("away", [depart, lambda note: leave_out(note=note, at=NOW)])
def test_what_departed_can_follow_again(rondino: Edition, away):
    line = fingered(rondino, 1, 2)
    place = passage(rondino, 5, 6)
    away(note=here(place).fingerings[0])
    follow_again(passage=place, source=line, at=NOW)
    notes = here(fresh(place))
    assert [one.pk for one in notes.fingerings] == [line.pk]
    assert notes.departed == ()


def test_departing_twice_keeps_one_row(rondino: Edition):
    fingered(rondino, 1, 2)
    place = passage(rondino, 5, 6)
    inherited = here(place).fingerings[0]
    leave_out(note=inherited, at=NOW)
    depart(note=inherited)
    assert place.fingerings.count() == 1
    assert place.fingerings.standing().count() == 1


@pytest.mark.parametrize("model", [Cue, RhythmDrill, OrnamentChoice])
def test_every_kind_can_depart_and_be_left_out(rondino: Edition, model):
    source, place = passage(rondino, 1, 2), passage(rondino, 5, 6)
    turned = next(note for note in rondino.score.notes if note.ornaments)
    noting.write_cue(passage=source, text="float", measure=0)
    noting.plan_drill(passage=source, start=Fraction(3), end=Fraction(6), tempo_now=60, tempo_goal=88)
    OrnamentChoice.objects.create(studio=source.studio, passage=source, note=turned.id, placement="on")
    inherited = next(note for note in here(place).inherited if isinstance(note, model))
    own = depart(note=inherited)
    assert model.objects.get(pk=own.pk).passage_id == place.pk
    leave_out(note=inherited, at=NOW)
    assert not [note for note in here(fresh(place)).every if isinstance(note, model)]


def test_as_many_queries_for_many_notes_as_for_one(rondino: Edition, django_assert_num_queries):
    fingered(rondino, 1, 2)
    place = passage(rondino, 5, 6)
    with django_assert_num_queries(4):
        here(fresh_with(place))
    for number in range(10):
        fingered(rondino, 1, 2, "12345" + str(number % 5 + 1) + "321")
        noting.write_cue(passage=passage(rondino, 9, 10), text=f"cue {number}", measure=8)
    with django_assert_num_queries(4):
        assert len(here(fresh_with(place)).fingerings) > 4


def fresh_with(one: Passage) -> Passage:
    """The row without what was gathered for it, its edition read already."""
    again = Passage(**{field.attname: getattr(one, field.attname) for field in one._meta.concrete_fields})
    again.edition = one.edition
    return again


# In another edition of the piece


def taken_over(one: Passage, there: Edition, *, keep: bool = True) -> Passage:
    return fresh(reattach(plan(fresh(one), there), at=NOW, keep=keep))


def test_a_passage_takes_the_notes_of_other_places_to_another_edition(rondino: Edition):
    line = fingered(rondino, 1, 2)
    noting.write_cue(passage=line.passage, text="float", measure=0)
    there = make.edition(piece=rondino.piece, music=RONDINO, label="First print")
    made = taken_over(passage(rondino, 5, 6), there)
    notes = here(made)
    assert [(shown(there, 5, 6, one), one.inherited) for one in notes.fingerings] == [(list(RUN), None)]
    assert [(one.text, one.measure, one.inherited) for one in notes.cues] == [("float", 4, None)]


def test_what_stands_there_already_is_not_written_twice(rondino: Edition):
    line = fingered(rondino, 1, 2)
    place = passage(rondino, 5, 6)
    there = make.edition(piece=rondino.piece, music=RONDINO, label="First print")
    taken_over(line.passage, there)
    made = taken_over(place, there)
    assert [one.inherited.words for one in here(made).fingerings] == ["from measures 1–2"]
    assert not made.fingerings.exists()
