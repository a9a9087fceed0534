"""How a line lies in a measured hand."""

import pytest

from scores import judging
from scores.judging import can_be_judged, engine_hand, said_remarks, verdict_on
from scores.lines import ShownLine, shown_lines
from scores.music.fingering.hand import hand as hand_of_size
from scores.music.fingering.options import best
from scores.music.notation import Moment
from scores.stretches import notes_in, stretch
from studio.models import FingerWidth
from tests import make
from tests.people import Cast

MEDIUM = {"comfortable": 13, "largest": 15}


def chord_of(cast: Cast) -> Moment:
    """D5 over B flat 4, a major third of four semitones, in the third measure."""
    return next(moment for moment in stretch(cast.passage, "right") if len(moment.notes) == 2)


def whole_line(cast: Cast, low: str, high: str) -> dict[str, str]:
    """A finger for every note: these on the chord, and on the others what costs a medium hand least."""
    fixed = dict(zip(chord_of(cast).ids, (low, high), strict=True))
    return best(notes_in(cast.passage, "right"), hand_of_size("right"), 1, fixed=fixed)[0].fingers


def line_with(cast: Cast, low: str, high: str) -> ShownLine:
    """A line with these fingers on the chord and none elsewhere."""
    row = make.fingering(passage=cast.passage, fingers=dict(zip(chord_of(cast).ids, (low, high), strict=True)))
    return next(line for line in shown_lines(cast.passage, [row]) if line.fingering)


def level(cast: Cast, line: ShownLine, **measured) -> str:
    row = make.hand(student=cast.oda, **{**MEDIUM, **measured})
    row.delete()
    return verdict_on(line, engine_hand(row), cast.passage).level


def test_a_third_between_thumb_and_third_finger_lies_well(cast: Cast):
    assert level(cast, line_with(cast, "1", "3")) == "well"


def test_a_major_third_between_second_and_third_asks_for_care(cast: Cast):
    # A medium hand: 3 semitones in comfort, 5 at most (Parncutt et al. 1997, from memory).
    assert level(cast, line_with(cast, "2", "3")) == "care"


def test_what_was_measured_between_two_fingers_decides(cast: Cast):
    line = line_with(cast, "2", "3")
    assert level(cast, line, pairs={"2-3": [4, 5]}) == "well"
    assert level(cast, line, pairs={"2-3": [2, 3]}) == "beyond"


def test_neighbouring_keys_are_no_stretch_for_the_smallest_hand(cast: Cast):
    d, e = [moment for moment in stretch(cast.passage, "right") if moment.notes[0].measure == 3][:2]
    row = make.fingering(
        passage=cast.passage,
        fingers={d.notes[0].id: "4", e.notes[0].id: "3"},
        first_note=d.notes[0].id,
        last_note=e.notes[0].id,
    )
    line = next(line for line in shown_lines(cast.passage, [row]) if line.fingering)
    assert level(cast, line, comfortable=7, largest=8) == "well"


def test_a_leap_that_a_larger_hand_reaches_asks_for_no_less_care(cast: Cast):
    # B flat 4 to E flat 5 between second and third finger: a large hand stretches, a small one must leave its place.
    moments = [moment for moment in stretch(cast.passage, "right") if moment.notes[0].measure == 1]
    b_flat, e_flat = moments[2].notes[0], moments[3].notes[0]
    row = make.fingering(
        passage=cast.passage,
        fingers={b_flat.id: "2", e_flat.id: "3"},
        first_note=b_flat.id,
        last_note=e_flat.id,
    )
    line = next(line for line in shown_lines(cast.passage, [row]) if line.fingering)
    small, large = {"comfortable": 9, "largest": 12}, {"comfortable": 16, "largest": 17}
    assert (level(cast, line, **small), level(cast, line, **large)) == ("care", "care")
    hand = engine_hand(make.hand(student=cast.oda, **small))
    assert verdict_on(line, hand, cast.passage).furthest.span == 5


def test_what_cannot_be_played_is_said_first_with_what_would_help(cast: Cast):
    line = line_with(cast, "2", "3")
    hand = make.hand(student=cast.oda, **MEDIUM, pairs={"2-3": [2, 3]})
    first = said_remarks(verdict_on(line, engine_hand(hand), cast.passage), cast.edition.score)[0]
    assert first.tone == "cannot"
    assert "Roll the chord" in first.text


def test_broad_fingers_are_told_to_the_engine(cast: Cast):
    hand = engine_hand(make.hand(student=cast.oda, width=FingerWidth.BROAD, side="left", pairs={"2-5": [8, 10]}))
    assert hand.side == "left"
    assert hand.traits == {"broad fingers"}
    assert hand.by_pair[(2, 5)].max_comfortable == 8


def test_a_line_is_judged_once_for_a_hand_and_again_when_line_or_hand_changes(cast: Cast, monkeypatch):
    line, asked = line_with(cast, "1", "3"), []

    def counted(*args, **options):
        asked.append(args)
        return judge(*args, **options)

    judge = judging.judge
    monkeypatch.setattr(judging, "judge", counted)
    monkeypatch.setattr(judging, "remembered", judging.Remembered())
    hand = engine_hand(make.hand(student=cast.oda))
    same = engine_hand(make.hand(student=cast.ravi))
    larger = engine_hand(make.hand(student=cast.ilmari, comfortable=14, largest=16))
    assert verdict_on(line, hand, cast.passage) is verdict_on(line, same, cast.passage)
    assert len(asked) == 1
    verdict_on(line, larger, cast.passage)
    line.fingers[chord_of(cast).ids[0]] = "2"
    verdict_on(line, hand, cast.passage)
    assert len(asked) == 3


def test_the_oldest_judgements_are_forgotten(cast: Cast, monkeypatch):
    monkeypatch.setattr(judging, "remembered", judging.Remembered(most=2))
    line = line_with(cast, "1", "3")
    for largest in (13, 14, 15):
        verdict_on(line, engine_hand(make.hand(student=cast.oda, largest=largest)), cast.passage)
        cast.oda.hands.all().delete()
    assert len(judging.remembered.kept) == 2


@pytest.mark.parametrize("fingers", [(), ("3", "3")])
def test_an_empty_line_and_one_that_cannot_be_are_not_judged(cast: Cast, fingers):
    row = make.fingering(passage=cast.passage, fingers=dict(zip(chord_of(cast).ids, fingers, strict=False)))
    line = next(line for line in shown_lines(cast.passage, [row]) if line.fingering)
    assert not can_be_judged(line)
