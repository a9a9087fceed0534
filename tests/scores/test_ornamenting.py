"""What is said of ornaments, taken over from a period, and taken back."""

from datetime import UTC, datetime

import pytest
from django.core.signing import BadSignature

from scores.models import OrnamentChoice
from scores.music.refusal import Refusal
from scores.ornament_places import choices_in
from scores.ornamenting import keep_ornament, restore, take_over_style, token_of
from tests import make
from tests.people import Cast

NOW = datetime(2020, 3, 4, 12, tzinfo=UTC)


def turn_of(cast: Cast) -> str:
    return next(one.id for one in cast.edition.score.notes if one.ornaments)


def grace_of(cast: Cast) -> str:
    return next(one.id for one in cast.edition.score.notes if one.is_grace)


def test_a_choice_is_said_changed_and_taken_back(cast: Cast):
    turn = turn_of(cast)
    keep_ornament(passage=cast.passage, note=turn, placement="on", at=NOW, remark="As Türk has it.")
    keep_ornament(passage=cast.passage, note=turn, start="main", count=5, at=NOW)
    [choice] = OrnamentChoice.objects.standing()
    assert (choice.placement, choice.start, choice.count, choice.remark) == ("", "main", 5, "")
    keep_ornament(passage=cast.passage, note=turn, at=NOW)
    assert not OrnamentChoice.objects.standing()


@pytest.mark.parametrize("field", ["placement", "remark"])
def test_one_word_is_enough_for_a_choice(cast: Cast, field: str):
    keep_ornament(passage=cast.passage, note=turn_of(cast), at=NOW, **{field: "on"})
    assert OrnamentChoice.objects.standing().count() == 1


def test_a_note_without_an_ornament_or_outside_the_passage_is_refused(cast: Cast):
    plain = next(one.id for one in cast.edition.score.notes if not one.ornaments and not one.is_grace)
    first = cast.edition.score.in_measures(0, 0)[0].id
    short = make.passage(edition=cast.edition, first=first, last=first)
    for passage, note in ((cast.passage, plain), (short, turn_of(cast))):
        with pytest.raises(Refusal):
            keep_ornament(passage=passage, note=note, placement="on", at=NOW)


def test_a_period_fills_in_only_what_is_open(cast: Cast):
    turn, grace = turn_of(cast), grace_of(cast)
    keep_ornament(passage=cast.passage, note=turn, placement="on", remark="Mine.", at=NOW)
    # Romantic music mostly has them before the beat (LilyPond glossary).
    take_over_style(passage=cast.passage, period="romantic", at=NOW)
    found = {row.note: row for row in OrnamentChoice.objects.standing()}
    assert (found[turn].placement, found[turn].remark) == ("on", "Mine.")
    assert found[grace].placement == "before"


def test_undo_brings_back_what_stood_there(cast: Cast):
    turn, grace = turn_of(cast), grace_of(cast)
    keep_ornament(passage=cast.passage, note=turn, placement="on", turn=False, long=True, count=4, at=NOW)
    before = take_over_style(passage=cast.passage, period="romantic", at=NOW)
    token = token_of(cast.passage, before)
    keep_ornament(passage=cast.passage, note=turn, at=NOW)
    restore(passage=cast.passage, token=token, at=NOW)
    choices = choices_in(cast.passage.ornament_choices.all())
    assert list(choices) == [turn]
    assert (choices[turn].placement, choices[turn].turn, choices[turn].long, choices[turn].count) == (
        "on",
        False,
        True,
        4,
    )
    assert grace not in choices


def test_an_undo_is_for_its_own_passage_and_cannot_be_made_up(cast: Cast):
    other = make.passage(edition=cast.edition, name="Once more")
    token = token_of(cast.passage, [(turn_of(cast), None)])
    for passage, given in ((other, token), (cast.passage, token[:-2] + "xx")):
        with pytest.raises(BadSignature):
            restore(passage=passage, token=given, at=NOW)
