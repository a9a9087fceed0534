"""What the player and those who keep a file are answered."""

import gzip
import io
import re
from fractions import Fraction
from pathlib import Path

import mido
import pytest
from django.contrib.staticfiles import finders
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from scores.models import OrnamentChoice
from scores.noting import plan_drill
from scores.playing import read_tempo
from scores.rhythms import found_in
from tests import make
from tests.people import Cast


@pytest.fixture
def teacher(cast: Cast, logged_in):
    return logged_in(cast.teacher)


@pytest.fixture
def passage(cast: Cast):
    return make.passage(edition=cast.edition, hands="both")


def url(name: str, row, query: str = "") -> str:
    return reverse(name, kwargs={"pk": row.pk}) + query


def grace_of(passage) -> str:
    return next(note.id for note in passage.edition.score.notes if note.is_grace)


def placement_in(answer) -> str:
    return next(one["placement"] for one in answer.json()["ornaments"] if "grace" in one["what"])


def keys_in(answer) -> list[int]:
    read = mido.MidiFile(file=io.BytesIO(answer.content))
    return [event.note for track in read.tracks for event in track if event.type == "note_on"]


def a_drill(passage):
    [span] = found_in(passage, [])
    return plan_drill(passage=passage, start=span.start, end=span.end, tempo_now=60, tempo_goal=80)


def test_a_passage_is_told_note_for_note(teacher, passage):
    data = teacher.get(url("sounding", passage)).json()
    assert (data["start"], data["end"], data["turn"], data["bar"], data["nominal"]) == ("0", "13", "15", "-2", "3")
    assert data["notes"][:3] == [
        ["0", "1", 70, "r", passage.first_note, "", 0, 0],
        ["1", "1", 51, "l", data["notes"][1][4], "", 0, 0],
        ["1", "1/2", 70, "r", data["notes"][2][4], "", 0, 0],
    ]
    # Four in the time of three: exact, as the file has it.
    four = [note for note in data["notes"] if note[1] == "3/4" and note[2] >= 72 and Fraction(note[0]) < 7]
    assert [note[0] for note in four] == ["4", "19/4", "11/2", "25/4"]
    assert {note[4] for note in data["notes"]} <= set(passage.edition.score.by_id)


def test_what_the_teacher_chose_is_heard_and_may_be_tried_otherwise(teacher, cast: Cast, passage):
    grace = grace_of(passage)
    assert placement_in(teacher.get(url("sounding", passage))) == "on"
    OrnamentChoice.objects.create(studio=cast.studio, passage=passage, note=grace, placement="before")
    assert placement_in(teacher.get(url("sounding", passage))) == "before"
    assert placement_in(teacher.get(url("sounding", passage, f"?on={grace}"))) == "on"
    assert OrnamentChoice.objects.get().placement == "before"


def test_a_choice_that_was_taken_away_is_not_heard(teacher, cast: Cast, passage):
    OrnamentChoice.objects.create(
        studio=cast.studio, passage=passage, note=grace_of(passage), placement="before", removed_at=timezone.now()
    )
    assert placement_in(teacher.get(url("sounding", passage))) == "on"


def test_a_drills_grid_comes_with_the_passage(teacher, passage):
    assert teacher.get(url("sounding", passage)).json()["parts"] == []
    drill = a_drill(passage)
    assert teacher.get(url("sounding", passage)).json()["parts"] == [[drill.start, drill.end, 12]]


@pytest.mark.parametrize("tempo", ["0", "-3", "1e999", "1e99999999", "abc", "nan", "301", "9" * 400, "1/0"])
def test_a_tempo_that_nobody_plays_at_is_answered_in_words(teacher, passage, tempo):
    answer = teacher.get(url("sounding", passage), {"tempo": tempo})
    assert answer.status_code == 422
    assert "between 20 and 300" in answer.json()["refused"]
    answer = teacher.get(url("passage-midi", passage), {"tempo": tempo}, follow=True)
    assert answer.redirect_chain == [(url("desk", passage), 302)]
    assert "between 20 and 300" in answer.content.decode()


def test_a_tempo_may_have_a_comma():
    assert read_tempo(" 66,5 ") == Fraction(133, 2)


def test_a_placement_of_a_note_that_has_no_ornament_changes_nothing(teacher, passage):
    plain = teacher.get(url("sounding", passage)).json()
    assert teacher.get(url("sounding", passage, "?before=nothing&on=n0")).json() == plain


def test_the_notes_need_not_be_sent_again_while_nothing_changed(teacher, passage):
    first = teacher.get(url("sounding", passage))
    again = teacher.get(url("sounding", passage), headers={"if-none-match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_a_midi_file_says_the_placement_and_the_tempo(teacher, cast: Cast, passage):
    grace = grace_of(passage)
    on, before = (teacher.get(url("passage-midi", passage, f"?{where}={grace}&tempo=72")) for where in ("on", "before"))
    assert on["Content-Type"] == "audio/midi"
    assert on["Content-Disposition"].startswith("attachment;")
    assert on["Content-Disposition"].endswith("0-4.mid")
    assert sorted(keys_in(on)) == sorted(keys_in(before))
    assert on.content != before.content
    read = mido.MidiFile(file=io.BytesIO(on.content))
    assert [event.tempo for event in read.tracks[0] if event.type == "set_tempo"] == [round(60e6 / 72)]


def test_a_drills_cycle_is_a_midi_file_of_its_own(teacher, passage):
    answer = teacher.get(url("drill-midi", a_drill(passage)))
    assert sorted(keys_in(answer)) == sorted([72, 75, 80, 79, 44, 51, 48])
    assert mido.MidiFile(file=io.BytesIO(answer.content)).length == pytest.approx(3 * 60 / 90)


def test_every_recorded_key_has_an_address_that_can_be_fetched(teacher):
    table = teacher.get(reverse("piano")).json()
    assert len(table) == 30
    assert {int(key) for key in table} == set(range(21, 109, 3))
    assert all("#" not in address for address in table.values())


def test_the_page_has_a_player_and_credits_the_recordings(teacher, cast: Cast):
    page = teacher.get(url("desk", cast.passage)).content.decode()
    assert f'data-sounding="{url("sounding", cast.passage)}"' in page
    assert "Alexander Holm" in page
    assert '<option value="1 0" selected>' in page


def test_the_player_adds_no_more_than_25_kb_before_play_is_pressed(teacher, cast: Cast):
    """All that the page fetches for it at once; the library and the recorded keys are only named."""
    page = teacher.get(url("desk", cast.passage)).content.decode()
    scripts = re.findall(r'<(?:script|link)[^>]+?(?:src|href)="/static/([^"]+)"', page)
    ours = [name for name in scripts if re.match(r"scores/(player|sound|schedule|recordings)\b", name)]
    scripts_of_sound = ["sound.js", "schedule.js", "recordings.js", "player.js"]
    assert ours == ["scores/player.css", *(f"scores/{name}" for name in scripts_of_sound)]
    assert not [name for name in scripts if name.startswith("sound/")]
    section = page[page.index('<section class="player"') : page.rindex("</noscript>")]
    parts = [Path(finders.find(name)).read_bytes() for name in ours] + [section.encode()]
    assert sum(len(gzip.compress(part)) for part in parts) <= 25_000


def test_ten_more_ornaments_and_drills_add_no_query(teacher, cast: Cast, passage):
    def count() -> int:
        with CaptureQueriesContext(
            connection,
        ) as captured:
            assert teacher.get(url("sounding", passage)).status_code == 200
        return len(captured)

    a_drill(passage)
    OrnamentChoice.objects.create(studio=cast.studio, passage=passage, note=grace_of(passage), placement="on")
    before = count()
    drill = passage.drills.get()
    for place, note in enumerate(passage.edition.score.notes[:10]):
        OrnamentChoice.objects.get_or_create(
            passage=passage, note=note.id, defaults={"studio": cast.studio, "placement": "on"}
        )
        drill.pk, drill.start = None, str(4 + Fraction(place, 100))
        drill.save(force_insert=True)
    assert count() == before <= 12
