"""The desk of a passage: what it shows, to whom, and at what cost."""

import json
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from scores import desk as desk_module
from scores import noting
from scores.desk import gather_desk, tidy_width
from scores.stretches import stretch
from tests import make
from tests.people import Cast


@pytest.fixture
def teacher(cast: Cast, logged_in):
    return logged_in(cast.teacher)


def url(passage, name: str = "desk") -> str:
    return reverse(name, kwargs={"pk": passage.pk})


def text(response) -> str:
    return response.content.decode()


def note_ids(passage, side: str = "right") -> list[str]:
    return [note.id for moment in stretch(passage, side) for note in moment.notes]


def test_the_heading_says_piece_edition_place_and_hand(cast: Cast, teacher):
    page = text(teacher.get(url(cast.passage)))
    assert "Ländler in E-flat" in page
    assert "Brandt edition · measures 0–4 · right hand" in page


def test_an_empty_desk_says_what_will_stand_there(cast: Cast, teacher):
    passage = make.passage(edition=cast.edition, hands="left")
    page = text(teacher.get(url(passage)))
    assert "Each fingering will stand here" in page
    assert "New line, left hand" in page
    assert "New line, right hand" not in page


def test_the_music_is_engraved_with_every_note_of_the_passage(cast: Cast, teacher):
    page = text(teacher.get(url(cast.passage)))
    for note in note_ids(cast.passage):
        assert f'data-note="{note}"' in page


def test_a_line_has_a_place_for_each_note_and_a_digit_where_one_is_written(cast: Cast, teacher):
    notes = note_ids(cast.passage)
    line = make.fingering(passage=cast.passage, fingers={notes[0]: "2", notes[2]: "4-5"})
    page = text(teacher.get(url(cast.passage, "desk-music")))
    assert len(re.findall(rf'class="place" data-note="[^"]*" data-line="{line.pk}"', page)) == len(notes)
    digits = re.findall(rf'<text class="digit" data-note="([^"]*)" data-line="{line.pk}"[^>]*>([^<]*)<', page)
    assert sorted(digits) == sorted([(notes[0], "2"), (notes[2], "4-5")])


def test_a_changed_finger_does_not_engrave_the_music_again(cast: Cast, teacher, monkeypatch):
    line = make.fingering(passage=cast.passage, fingers={})
    teacher.get(url(cast.passage))
    asked = []
    monkeypatch.setattr("scores.engraving.engrave", lambda *args, **options: asked.append(options))
    noting.keep_fingers(fingering=line, fingers={note_ids(cast.passage)[0]: "3"})
    page = text(teacher.get(url(cast.passage)))
    assert asked == []
    assert re.search(r'class="digit"[^>]*>3<', page)


def test_the_printed_fingers_stand_as_a_line_of_their_own(cast: Cast, teacher):
    page = text(teacher.get(url(cast.passage)))
    assert 'data-line="printed-right"' in page
    assert "Copy into a line of yours" in page


def test_a_system_says_its_measures_notes_and_fingers(cast: Cast, teacher):
    notes = note_ids(cast.passage)
    make.fingering(passage=cast.passage, fingers={notes[1]: "2"})
    [label] = re.findall(r'aria-label="(Measures[^"]*)"', text(teacher.get(url(cast.passage) + "?width=1400")))
    assert label.startswith("Measures 0 to 4.")
    assert "measure 1 beat 1 B flat 4, I 2;" in label
    assert "measure 1 beat 1½ grace C 5" in label


def test_remarks_stand_beside_the_system_of_their_measure(cast: Cast):
    make.cue(passage=cast.passage, text="First.", measure=1)
    make.cue(passage=cast.passage, text="Last.", measure=4)
    systems = gather_desk(cast.passage, 320).systems
    assert len(systems) > 2
    assert [
        (remark.text, system.first <= remark.measure <= system.last) for system in systems for remark in system.remarks
    ] == [("First.", True), ("Last.", True)]


def test_every_measure_is_engraved_once_at_any_width(cast: Cast):
    for width in (300, 700, 1200):
        systems = gather_desk(cast.passage, width).systems
        assert [index for one in systems for index in range(one.first, one.last + 1)] == [0, 1, 2, 3, 4]


def test_graces_and_ornaments_are_listed_with_their_places(cast: Cast):
    found = [(place.number, place.beat, place.what) for place in gather_desk(cast.passage).ornaments.places]
    assert found == [("1", "1½", "grace note C5"), ("3", "1", "turn on F5")]


def test_the_script_is_told_the_moments_with_chords_low_to_high(cast: Cast, teacher):
    page = text(teacher.get(url(cast.passage)))
    data = json.loads(re.search(r'<script id="desk-data"[^>]*>(.*?)</script>', page, re.S)[1])
    chord = next(moment for moment in data["moments"]["right"] if len(moment) == 2)
    assert [data["notes"][note]["spoken"] for note in chord] == ["B flat 4", "D 5"]


def test_a_draft_that_cannot_be_played_is_marked(cast: Cast, teacher):
    chord = next(moment for moment in stretch(cast.passage, "right") if len(moment.notes) == 2)
    make.fingering(passage=cast.passage, fingers=dict.fromkeys(chord.ids, "3"))
    page = text(teacher.get(url(cast.passage)))
    assert "A draft: it cannot be played yet" in page
    assert "finger 3 is asked for on two keys at once" in page


def test_a_passage_that_was_taken_away_offers_to_come_back(cast: Cast, teacher):
    cast.passage.removed_at = "2020-11-24T12:00Z"
    cast.passage.save()
    assert "Bring the passage back" in text(teacher.get(url(cast.passage)))


def test_a_failing_engraver_leaves_the_words_within_reach(cast: Cast, teacher, monkeypatch):
    def fail(*args, **options):
        raise RuntimeError("died")

    make.cue(passage=cast.passage, text="Breathe here.")
    monkeypatch.setattr(desk_module, "engrave_cached", fail)
    response = teacher.get(url(cast.passage))
    assert response.status_code == 200
    assert "could not be engraved" in text(response)
    assert "Breathe here." in text(response)


def test_the_music_alone_answers_for_a_width(cast: Cast, teacher):
    page = text(teacher.get(url(cast.passage, "desk-music") + "?width=333"))
    assert 'data-width="320"' in page
    assert "<html" not in page


def test_music_that_did_not_change_is_not_sent_again(cast: Cast, teacher):
    first = teacher.get(url(cast.passage, "desk-music"))
    again = teacher.get(url(cast.passage, "desk-music"), headers={"If-None-Match": first["ETag"]})
    assert again.status_code == 304


@pytest.mark.parametrize(
    ("asked", "width"), [("941.5", 940), ("12", 280), ("99999", 1400), ("wide", 940), ("inf", 940), ("nan", 940)]
)
def test_a_width_is_brought_to_what_is_engraved(asked: str, width: int):
    assert tidy_width(asked) == width


def test_more_notes_on_a_passage_ask_no_more_queries(cast: Cast, teacher):
    def count() -> int:
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert teacher.get(url(cast.passage)).status_code == 200
        return len(queries)

    make.fingering(passage=cast.passage, fingers={})
    make.cue(passage=cast.passage)
    before = count()
    for _ in range(10):
        make.fingering(passage=cast.passage, fingers={})
        make.cue(passage=cast.passage)
    assert count() == before <= 12
