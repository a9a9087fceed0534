"""Lines that the program suggests. How good they are is tested beside the engine; here: that they are kept as such."""

import pytest

from scores import proposing
from scores.lines import can_be_given
from scores.models import Source
from scores.music.refusal import Refusal
from scores.noting import keep_fingers, remove_note
from scores.stretches import stretch
from tests import make
from tests.people import Cast
from tests.scores.test_noting import NOW


def test_up_to_four_different_lines_are_suggested_each_for_every_note(cast: Cast):
    found = proposing.propose_lines(passage=cast.passage, side="right")
    notes = {note.id for moment in stretch(cast.passage, "right") for note in moment.notes}
    assert 2 <= len(found) <= 4
    assert all(set(line.fingers) == notes for line in found)
    assert len({tuple(line.fingers.values()) for line in found}) == len(found)
    assert {line.source for line in found} == {Source.PROGRAM}
    assert all(can_be_given(line) for line in found)


def test_what_stands_there_already_is_not_suggested_again(cast: Cast):
    first = proposing.propose_lines(passage=cast.passage, side="right")
    assert proposing.propose_lines(passage=cast.passage, side="right") == []
    remove_note(first[0], at=NOW)
    [again] = proposing.propose_lines(passage=cast.passage, side="right")
    assert again.fingers == first[0].fingers


def test_a_suggestion_says_something_about_itself(cast: Cast):
    assert all(line.remark for line in proposing.propose_lines(passage=cast.passage, side="right"))


def test_a_suggestion_is_taken_over_by_keeping_or_by_changing_it(cast: Cast):
    one, other, *_ = proposing.propose_lines(passage=cast.passage, side="right")
    assert proposing.adopt(one).source == Source.TEACHER
    changed = keep_fingers(fingering=other, fingers={cast.passage.first_note: "1"})
    assert changed.source == Source.TEACHER


def test_a_hand_that_strikes_nothing_is_suggested_nothing(cast: Cast):
    pickup = cast.edition.score.notes[0]
    passage = make.passage(edition=cast.edition, first=pickup.id, last=pickup.id)
    assert proposing.propose_lines(passage=passage, side="left") == []


def test_a_passage_too_long_to_search_while_one_waits_is_refused(cast: Cast, monkeypatch):
    monkeypatch.setattr(proposing, "MOST_MOMENTS", 14)
    with pytest.raises(Refusal) as refusal:
        proposing.propose_lines(passage=cast.passage, side="right")
    assert "15 moments" in str(refusal.value)
