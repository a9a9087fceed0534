"""What a survey found: kept, ticked, made into passages."""

from datetime import UTC, datetime
from fractions import Fraction

import pytest

from scores import surveying
from scores.models import Difficulty, Looked, Passage, Preparation
from scores.music.survey import Finding, Options
from scores.surveying import findings_of, look_again, look_at, make_passage
from tests import make
from tests.music import ATTRIBUTES, BACK, note, score

pytestmark = pytest.mark.django_db

AT = datetime(2020, 11, 23, 10, tzinfo=UTC)


def finding(edition, kind: str) -> Finding:
    return next(one for one in findings_of(edition) if one.kind == kind)


def test_an_edition_comes_in_with_its_findings_and_its_difficulties(cast):
    edition = cast.edition
    assert Preparation.objects.get().edition == edition
    rows = {(row.kind, row.detail): row.count for row in edition.difficulties.all()}
    assert rows[("cross-rhythm", "4:3")] == 1
    assert rows[("grace", "")] == 1
    assert rows[("ornament", "turn")] == 1
    assert rows[("printed", "")] == 2
    assert {row.studio_id for row in Difficulty.objects.all()} == {cast.studio.pk}


def test_three_against_two_is_one_difficulty_whichever_hand_has_the_three(cast):
    def crossing(upper: int, lower: int) -> str:
        right = "".join(note("C5", "quarter", duration=36 // upper) for _ in range(upper))
        left = "".join(note("C3", "quarter", duration=36 // lower, staff=2) for _ in range(lower))
        return right + BACK + left

    music = score([ATTRIBUTES + crossing(3, 2), crossing(6, 6), crossing(2, 3)], title="Crossing")
    edition = make.edition(piece=make.piece(studio=cast.studio), music=music)
    rows = edition.difficulties.filter(kind="cross-rhythm").values_list("detail", "count")
    assert list(rows) == [("3:2", 2)]


def test_what_is_wrong_with_a_file_is_no_difficulty(cast):
    music = score([ATTRIBUTES + note("C5", "quarter"), note("C5", "half."), note("C5", "half")], title="Short")
    edition = make.edition(piece=make.piece(studio=cast.studio), music=music)
    assert any(one.is_fault for one in findings_of(edition))
    assert not edition.difficulties.filter(kind__in=("uneven", "missing")).exists()


def test_findings_that_an_older_survey_kept_are_made_anew(cast):
    Preparation.objects.filter(edition=cast.edition).update(version=0, packed=b"")
    assert findings_of(cast.edition)
    assert Preparation.objects.get().version > 0


def test_an_edition_stands_even_if_its_survey_fails(cast, monkeypatch, caplog):
    def fails(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(surveying, "survey", fails)
    edition = make.edition(piece=make.piece(studio=cast.studio))
    assert edition.pk
    assert not Preparation.objects.filter(edition=edition).exists()
    assert "could not be surveyed" in caplog.text


def test_a_long_work_is_surveyed_apart_and_says_the_same(cast, monkeypatch):
    here = findings_of(cast.edition)
    monkeypatch.setattr(surveying, "AT_ONCE", 3)
    surveying.surveyed.cache_clear()
    apart = surveying.surveyed(bytes(cast.edition.packed_score), Options())
    surveying.surveyed.cache_clear()
    assert apart == here


def test_a_tick_stays_once_and_can_be_taken_away(cast):
    key = finding(cast.edition, "grace").key
    look_at(edition=cast.edition, key=key, at=AT)
    look_at(edition=cast.edition, key=key, at=AT.replace(day=24))
    assert [(row.key, row.looked_at, row.studio) for row in Looked.objects.all()] == [(key, AT, cast.studio)]
    look_again(edition=cast.edition, key=key)
    assert not Looked.objects.exists()


def test_a_grace_becomes_a_passage_with_the_note_it_leads_to_and_the_ornaments_shown(cast):
    passage, place, is_new = make_passage(edition=cast.edition, finding=finding(cast.edition, "grace"), at=AT)
    by_id = cast.edition.score.by_id
    assert (place, is_new, passage.hands) == ("ornaments", True, "right")
    assert by_id[passage.first_note].is_grace
    assert by_id[passage.last_note].pitch.name == "B♭"
    assert Looked.objects.get().passage == passage


def test_a_cross_rhythm_becomes_a_passage_with_a_drill_begun(cast):
    passage, place, _ = make_passage(edition=cast.edition, finding=finding(cast.edition, "cross-rhythm"), at=AT)
    drill = passage.drills.get()
    assert (place, passage.hands, passage.first_number) == (f"drill-{drill.pk}", "both", "2")
    assert Fraction(drill.end) - Fraction(drill.start) == 3
    assert drill.stages


def test_a_leap_becomes_a_passage_with_a_fingering_begun(cast):
    music = score([ATTRIBUTES + note("C5", "eighth", staff=1) + note("C7", "eighth") * 5], title="Leap")
    edition = make.edition(piece=make.piece(studio=cast.studio), music=music)
    passage, place, _ = make_passage(edition=edition, finding=finding(edition, "leap"), at=AT)
    line = passage.fingerings.get()
    assert (place, line.side, line.fingers) == (f"line-{line.pk}", "right", {})


def test_printed_fingers_begin_the_line(cast):
    passage, _, _ = make_passage(edition=cast.edition, finding=finding(cast.edition, "printed"), at=AT)
    assert list(passage.fingerings.get().fingers.values()) == ["2"]


def test_a_fault_becomes_a_passage_with_its_measure_for_a_cue(cast):
    music = score([ATTRIBUTES + note("C5", "half."), note("C5", "quarter") * 4, note("C5", "half.")], title="Long")
    edition = make.edition(piece=make.piece(studio=cast.studio), music=music)
    passage, place, _ = make_passage(edition=edition, finding=finding(edition, "uneven"), at=AT)
    assert (place, passage.first_number, passage.last_number, passage.last_beat) == ("cues", "2", "2", "4")


def test_a_finding_gives_its_standing_passage_again_and_a_new_one_when_that_is_gone(cast):
    grace_note = finding(cast.edition, "grace")
    first, _, _ = make_passage(edition=cast.edition, finding=grace_note, at=AT)
    again, _, is_new = make_passage(edition=cast.edition, finding=grace_note, at=AT)
    assert (again, is_new) == (first, False)
    Passage.objects.filter(pk=first.pk).update(removed_at=AT)
    other, _, is_new = make_passage(edition=cast.edition, finding=grace_note, at=AT)
    assert (other != first, is_new) == (True, True)


def test_every_kind_of_finding_with_notes_can_become_a_passage(cast):
    fast = '<direction><direction-type><words>Presto</words></direction-type><sound tempo="200"/></direction>'
    quick = note("Eb4", "eighth") + note("D5", "eighth", chord=True) + note("C5", "eighth") * 4 + note("C7", "eighth")
    left = BACK + note("C3", "quarter", staff=2) + note("C6", "half", staff=2) + note("E3", "half", staff=2, chord=True)
    music = score([ATTRIBUTES + note("C5", "half."), fast + quick + left, note("C5", "quarter") * 4], title="Much")
    edition = make.edition(piece=make.piece(studio=cast.studio), music=music)
    found = {one.kind: one for one in findings_of(edition) if one.notes}
    assert {"tempo", "thumb", "repeat", "leap", "reach", "crossed-hands", "uneven"} <= found.keys()
    for one in found.values():
        passage, place, _ = make_passage(edition=edition, finding=one, at=AT)
        assert passage.first_measure >= one.measure
        assert place.split("-")[0] in ("ornaments", "cues", "line", "drill")
