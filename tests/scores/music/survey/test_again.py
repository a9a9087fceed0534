"""The list made shorter by what returns."""

from dataclasses import replace

from scores.music.notation import Ornament, Score
from scores.music.recurrences import again, recurrences
from scores.music.survey import Finding, survey
from scores.music.survey.again import shortened
from tests.scores.music import make_notes as make

TUNE = "C4 E4 D4 F4 E4 G4 F4 A4"
OTHER = "B4 G3 A4 C4 D5 B3 G4 F3"


def piece(*tunes: str) -> Score:
    """Two measures of 4/4 a tune; the second note of each has a turn."""
    notes = []
    for place, tune in enumerate(tunes):
        line = make.line(tune, [1] * 8, start=8 * place, prefix=f"t{place}.")
        notes += [line[0], replace(line[1], ornaments=(Ornament("turn"),)), *line[2:]]
    return make.score(*notes)


def short(score: Score) -> list[Finding]:
    said = again(recurrences(score), len(score.measures))
    return [one for one in shortened(survey(score), said, score) if one.kind in ("ornament", "recurrence")]


def test_what_returns_is_said_in_one_line():
    found = short(piece(TUNE, OTHER, TUNE))
    assert [(one.kind, one.number) for one in found] == [("ornament", "1"), ("ornament", "3"), ("recurrence", "5")]
    assert str(found[-1]) == "Measures 5–6 are 1–2 again; what was found there is not said twice."
    assert found[-1].notes == ("t2.0",)


def test_what_the_first_place_does_not_have_stays():
    score = piece(TUNE, OTHER, TUNE)
    with_finger = replace(
        score, notes=tuple(replace(note, printed="3") if note.id == "t2.3" else note for note in score.notes)
    )
    said = again(recurrences(with_finger), len(with_finger.measures))
    found = shortened(survey(with_finger), said, with_finger)
    assert [one.kind for one in found if "t2.3" in one.notes] == ["printed"]


def test_what_returns_transposed_stays():
    higher = "D4 F#4 E4 G4 F#4 A4 G4 B4"
    found = short(piece(TUNE, OTHER, higher))
    assert [one.kind for one in found] == ["ornament"] * 3


def test_nothing_is_changed_where_nothing_returns():
    score = piece(TUNE, OTHER)
    assert shortened(survey(score), (), score) == survey(score)
