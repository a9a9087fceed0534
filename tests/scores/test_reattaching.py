"""Taking a passage to another edition of the piece."""

from datetime import UTC, datetime

import pytest

from scores import noting, reattaching
from scores.models import Passage
from scores.music.refusal import Refusal
from tests import make
from tests.music import LAENDLER, note

AT = datetime(2020, 12, 1, tzinfo=UTC)


def other_edition(cast, music: str):
    return make.edition(piece=cast.edition.piece, music=music, label="First print")


@pytest.fixture
def fingered(cast):
    notes = [one.id for one in cast.edition.score.notes if one.side == "right" and one.is_attack]
    return make.fingering(passage=cast.passage, fingers=dict.fromkeys(notes, "3"))


def test_a_passage_goes_over_with_all_that_is_written_on_it(cast, fingered):
    noting.write_cue(passage=cast.passage, text="Loose wrist", note=cast.passage.first_note)
    there = other_edition(cast, LAENDLER)
    planned = reattaching.plan(cast.passage, there)
    assert (planned.left, planned.kept) == ([], planned.all)
    made = reattaching.reattach(planned, at=AT, keep=False)
    assert made.edition == there
    assert (made.where, made.hands) == (cast.passage.where, cast.passage.hands)
    assert list(made.fingerings.get().fingers.values()) == list(fingered.fingers.values())
    assert made.fingerings.get().fingers.keys() <= there.score.by_id.keys()
    assert made.cues.get().text == "Loose wrist"
    cast.passage.refresh_from_db()
    assert cast.passage.removed_at == AT


def test_what_is_not_there_is_named_and_nothing_is_lost_in_the_old_edition(cast, fingered):
    there = other_edition(cast, LAENDLER.replace(note("Eb5", "half."), note("C5", "half.")))
    planned = reattaching.plan(cast.passage, there)
    assert [one.kind for one in planned.left] == ["ends", "finger"]
    assert planned.kept == planned.all - 1
    reattaching.reattach(planned, at=AT, keep=True)
    fingered.refresh_from_db()
    assert fingered.removed_at is None
    assert Passage.objects.standing().count() == 2


def test_looking_changes_nothing(cast, fingered):
    reattaching.plan(cast.passage, other_edition(cast, LAENDLER))
    assert Passage.objects.count() == 1


def test_an_edition_without_the_passage_is_refused_by_its_name(cast):
    there = other_edition(cast, LAENDLER)
    end = next(one for one in cast.edition.score.notes if one.measure == 4 and one.side == "right")
    last = make.passage(edition=cast.edition, first=end.id, last=end.id)
    lacking = other_edition(cast, LAENDLER.replace(note("Eb5", "half."), note("C5", "half.")))
    assert reattaching.plan(last, there)
    with pytest.raises(Refusal, match="is found in “First print”"):
        reattaching.plan(last, lacking)


def test_it_can_be_taken_back(cast, fingered):
    made = reattaching.reattach(reattaching.plan(cast.passage, other_edition(cast, LAENDLER)), at=AT, keep=False)
    reattaching.take_back(old=cast.passage, new=made, at=AT)
    assert list(Passage.objects.standing()) == [cast.passage]


def test_an_own_place_of_a_note_stays_one_of_its_own(cast, fingered):
    fingered.remark = "for small hands"
    fingered.save()
    made = reattaching.reattach(reattaching.plan(cast.passage, other_edition(cast, LAENDLER)), at=AT, keep=True)
    assert (made.fingerings.get().remark, made.fingerings.get().side) == ("for small hands", "right")
