"""A refusal says its sentence at once and can be translated later."""

from scores.music.refusal import Refusal


def test_the_sentence_is_filled_in() -> None:
    refusal = Refusal("%(count)d are too many.", {"count": 3})
    assert str(refusal) == "3 are too many."
    assert (refusal.msgid, refusal.params) == ("%(count)d are too many.", {"count": 3})


def test_a_sentence_without_places_may_hold_a_percent_sign() -> None:
    assert str(Refusal("100 % is too much.")) == "100 % is too much."
