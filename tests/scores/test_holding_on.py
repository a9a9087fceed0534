"""Notes of other places, when an edition gets another file. What is expected is read off the invented score by eye."""

from datetime import UTC, datetime

import pytest

from lessons.choosing import offered_here
from scores import inheriting, noting, ornamenting, replacing
from scores.inheriting import here
from scores.models import Cue, Edition, Fingering, Passage
from tests import make
from tests.music import note
from tests.people import Cast
from tests.scores.rondino import MEASURES, RONDINO
from tests.scores.test_inheriting import RUN, fingered, fresh, passage, rondino, shown  # noqa: F401
from tests.scores.test_replacing import done, sent, words

AT = datetime(2020, 12, 1, tzinfo=UTC)


def mended(*places: int) -> str:
    """The score with the fourth note, A flat, of the theme an A, in measures (from 1) that begin like the first."""
    music, at = RONDINO, note("Ab5", "eighth")
    parts = music.split(at)
    assert len(parts) == 4  # in measures 1, 5 and 9
    for place, part in zip((1, 5, 9), parts[1:], strict=True):
        parts[(1, 5, 9).index(place) + 1] = (note("A5", "eighth") if place in places else at) + part
    return "".join(parts)


def test_a_line_stays_where_a_mended_note_lets_the_music_return_no_more(rondino: Edition):  # noqa: F811
    line = fingered(rondino, 1, 2)
    there = passage(rondino, 5, 6)
    row, after = done(rondino, mended(5))
    (own,) = here(fresh(there)).fingerings
    assert own.inherited is None
    assert own.instead_of == line
    assert shown(after, 5, 6, own) == [*RUN[:3], "", *RUN[4:]]
    assert words(row) == ["Measure 5, beat 2½: A flat 5 is not there; its finger 4 is left out."]


def test_a_line_stays_whole_where_its_source_was_mended(rondino: Edition):  # noqa: F811
    fingered(rondino, 1, 2)
    there = passage(rondino, 5, 6)
    _, after = done(rondino, mended(1))
    (own,) = here(fresh(there)).fingerings
    assert shown(after, 5, 6, own) == list(RUN)


def test_where_both_places_are_mended_alike_the_line_stands_from_elsewhere_as_before(rondino: Edition):  # noqa: F811
    line = fingered(rondino, 1, 2)
    there = passage(rondino, 5, 6)
    row, _ = done(rondino, mended(1, 5))
    (inherited,) = here(fresh(there)).fingerings
    assert (inherited.pk, Fingering.objects.count()) == (line.pk, 1)
    assert len(words(row)) == 2


def test_two_passages_at_one_place_name_a_finger_once(rondino: Edition):  # noqa: F811
    fingered(rondino, 1, 2)
    passage(rondino, 5, 6)
    passage(rondino, 5, 6, "right")
    row, _ = done(rondino, mended(5))
    assert len(words(row)) == 1


def test_the_page_before_the_exchange_names_what_is_named_after_it(rondino: Edition):  # noqa: F811
    fingered(rondino, 1, 2)
    passage(rondino, 5, 6)
    row = sent(rondino, mended(5))
    before = [one.words for one in replacing.would_leave(row)]
    done_row, _ = done(rondino, mended(5))
    assert before == words(done_row) != []


def test_cues_and_ornaments_of_another_place_stay_too(rondino: Edition):  # noqa: F811
    home, there = passage(rondino, 1, 2, "right"), passage(rondino, 5, 6, "right")
    noting.write_cue(passage=home, text="float", note=home.first_note)
    turn = next(one for one in rondino.score.notes if one.ornaments)
    ornamenting.keep_ornament(passage=home, note=turn.id, placement="before", at=AT)
    done(rondino, mended(5))
    notes = here(fresh(there))
    assert [(one.text, one.note, one.inherited) for one in notes.cues] == [("float", there.first_note, None)]
    assert [(one.placement, one.inherited) for one in notes.choices] == [("before", None)]


def test_taken_back_they_stand_from_elsewhere_again(rondino: Edition):  # noqa: F811
    line = fingered(rondino, 1, 2)
    noting.write_cue(passage=line.passage, text="float", note=line.passage.first_note)
    there = passage(rondino, 5, 6)
    row, _ = done(rondino, mended(5))
    replacing.take_back(studio=rondino.studio, replacement=row.pk, at=AT)
    notes = here(fresh(there))
    assert [(one.pk, shown(rondino, 5, 6, one)) for one in notes.fingerings] == [(line.pk, list(RUN))]
    assert [one.inherited is None for one in notes.cues] == [False]
    assert (Fingering.objects.count(), Cue.objects.count()) == (1, 1)


def test_what_was_changed_since_stays_the_places_own_when_the_file_is_taken_back(rondino: Edition):  # noqa: F811
    fingered(rondino, 1, 2)
    there = passage(rondino, 5, 6)
    row, _ = done(rondino, mended(5))
    (own,) = here(fresh(there)).fingerings
    Fingering.objects.filter(pk=own.pk).update(remark="with weight")
    replacing.take_back(studio=rondino.studio, replacement=row.pk, at=AT)
    assert [one.remark for one in here(fresh(there)).fingerings] == ["with weight"]


def test_a_student_keeps_the_line_that_was_given_at_that_place(cast: Cast, rondino: Edition):  # noqa: F811
    line = fingered(rondino, 1, 2)
    there = passage(rondino, 5, 6)
    assigned = make.assigned(lesson=cast.lesson, passage=there, fingerings=[line])
    row, after = done(rondino, mended(5))
    assigned.passage = fresh(there)
    (offered,) = offered_here(assigned)
    assert shown(after, 5, 6, offered.fingering)[:3] == list(RUN[:3])
    replacing.take_back(studio=rondino.studio, replacement=row.pk, at=AT)
    assigned.passage = fresh(there)
    (offered,) = offered_here(assigned)
    assert (offered.fingering.pk, shown(rondino, 5, 6, offered.fingering)) == (line.pk, list(RUN))


@pytest.mark.parametrize("how", ["own", "not here"])
def test_what_was_said_of_one_place_survives_an_exchange(rondino: Edition, how: str):  # noqa: F811
    fingered(rondino, 1, 2)
    there = passage(rondino, 5, 6)
    (inherited,) = here(there).fingerings
    if how == "own":
        own = inheriting.depart(note=inherited)
        Fingering.objects.filter(pk=own.pk).update(fingers=dict.fromkeys(own.fingers, "2"))
    else:
        inheriting.leave_out(note=inherited, at=AT)
    extra = '<measure number="x">' + MEASURES[2] + "</measure>"
    row, after = done(rondino, RONDINO.replace('<measure number="3">', extra + '<measure number="3">'))
    notes = here(fresh(there))
    assert (row.left, len(notes.departed)) == ([], 1)
    assert [set(one.fingers.values()) for one in notes.fingerings] == ([{"2"}] if how == "own" else [])
    assert fresh(there).first_measure == after.score.by_id[there.first_note].measure == 5
    replacing.take_back(studio=rondino.studio, replacement=row.pk, at=AT)
    assert [set(one.fingers.values()) for one in here(fresh(there)).fingerings] == ([{"2"}] if how == "own" else [])


def test_no_more_queries_for_more_passages(rondino: Edition, django_assert_num_queries):  # noqa: F811
    fingered(rondino, 1, 2)
    row = sent(rondino, mended(5))
    for _ in range(2):
        row.edition.__dict__.pop("score", None)
        with django_assert_num_queries(10):
            replacing.would_leave(row)
        for _ in range(10):
            passage(rondino, 5, 6)
    assert Passage.objects.count() == 21
