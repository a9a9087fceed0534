"""The preparation list beside the music."""

import re
from datetime import UTC, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from scores import preparing
from scores.models import Edition, Looked, Passage, SurveyHabit
from scores.surveying import findings_of, look_at
from tests import make
from tests.music import ATTRIBUTES, note, score
from tests.scores.rondino import RONDINO

AT = datetime(2020, 11, 23, 10, tzinfo=UTC)


@pytest.fixture
def teacher(cast, logged_in):
    return logged_in(cast.teacher)


def url(cast, name: str = "preparation") -> str:
    return reverse(name, args=[cast.edition.pk])


def key(cast, kind: str) -> str:
    return next(one.key for one in findings_of(cast.edition) if one.kind == kind)


def test_the_list_stands_beside_the_engraved_music_in_score_order(teacher, cast):
    text = teacher.get(url(cast)).content.decode()
    assert 'class="engraving"' in text
    sentences = re.findall(r'class="sentence">([^<]+)<', text)
    assert sentences[1] == "A grace note before B♭4: C5."
    assert "4 in the right hand against 3 in the left." in sentences
    assert "0 of 5 looked at" in text


def test_edition_and_piece_lead_to_it(teacher, cast):
    for name, pk in (("edition", cast.edition.pk), ("piece", cast.edition.piece_id)):
        assert f'href="{url(cast)}"' in teacher.get(reverse(name, args=[pk])).content.decode()


def test_a_tick_survives_leaving(teacher, cast):
    answer = teacher.post(url(cast, "look-at-finding"), {"look": key(cast, "grace"), "back": url(cast)})
    assert answer["Location"] == url(cast)
    assert "1 of 5 looked at" in teacher.get(url(cast)).content.decode()
    teacher.post(url(cast, "look-at-finding"), {"forget": key(cast, "grace")})
    assert "0 of 5 looked at" in teacher.get(url(cast)).content.decode()


def test_a_script_is_told_that_the_tick_is_kept(teacher, cast):
    headers = {"X-Requested-With": "XMLHttpRequest"}
    answer = teacher.post(url(cast, "look-at-finding"), {"look": key(cast, "grace")}, headers=headers)
    assert answer.json() == {"looked": True}
    assert Looked.objects.get().key == key(cast, "grace")


def test_what_is_no_finding_cannot_be_ticked_or_marked(teacher, cast):
    assert teacher.post(url(cast, "look-at-finding"), {"look": "grace::right:elsewhere"}).status_code == 404
    assert teacher.post(url(cast, "passage-of-finding"), {"key": ""}).status_code == 404
    assert not Looked.objects.exists()


def test_one_press_makes_a_passage_with_its_note_begun_and_an_undo(teacher, cast):
    answer = teacher.post(url(cast, "passage-of-finding"), {"key": key(cast, "cross-rhythm")}, follow=True)
    passage = Passage.objects.get()
    place, _ = answer.redirect_chain[0]
    assert place == f"{reverse('desk', args=[passage.pk])}#drill-{passage.drills.get().pk}"
    assert f'action="{reverse("remove-passage", args=[passage.pk])}"' in answer.content.decode()
    assert "To its passage" in teacher.get(url(cast)).content.decode()


def test_kinds_that_are_switched_off_stay_off_for_this_teacher(teacher, cast):
    answer = teacher.post(
        url(cast, "switch-findings"), {"kind": ["grace", "ornament"], "back": url(cast) + "?hands=right"}
    )
    assert answer["Location"] == url(cast) + "?hands=right"
    text = teacher.get(url(cast)).content.decode()
    assert "0 of 2 looked at" in text
    assert "against" not in re.findall(r'class="sentence">([^<]+)<', text)
    assert "cross-rhythm" in SurveyHabit.objects.get(user=cast.teacher).off


@pytest.mark.parametrize(
    "back", ["https://elsewhere.example/", "//elsewhere.example/editions/1/preparation/", "/today/"]
)
def test_the_way_back_leads_nowhere_else(teacher, cast, back: str):
    assert teacher.post(url(cast, "switch-findings"), {"back": back})["Location"] == url(cast)


def test_one_hand_and_what_was_not_looked_at_can_be_asked_for(teacher, cast):
    left = teacher.get(url(cast), {"hands": "left"}).content.decode()
    assert "Nothing of these kinds stands here." in left
    look_at(edition=cast.edition, key=key(cast, "grace"), at=AT)
    assert "A grace note" not in teacher.get(url(cast), {"only": "open"}).content.decode()
    assert teacher.get(url(cast), {"hands": "third", "only": "odd", "from": "-1"}).status_code == 200


def test_an_edition_in_which_nothing_is_hard_teaches_what_would_stand_here(teacher, cast):
    plain = score(
        [ATTRIBUTES + note("C5", "half.") + "<backup><duration>36</duration></backup>" + note("C3", "half.", staff=2)],
        title="Plain",
    )
    edition = make.edition(piece=make.piece(studio=cast.studio), music=plain)
    text = teacher.get(reverse("preparation", args=[edition.pk])).content.decode()
    assert "Here stands what a piece will need a word on" in text


def test_a_score_that_cannot_be_surveyed_still_shows_its_music(teacher, cast, monkeypatch, caplog):
    def fails(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(preparing, "findings_for", fails)
    answer = teacher.get(url(cast))
    assert answer.status_code == 200
    assert "could not be looked through" in answer.content.decode()
    assert 'class="engraving"' in answer.content.decode()


def test_a_long_list_comes_in_parts(teacher, cast, monkeypatch):
    monkeypatch.setattr(preparing, "A_PAGE", 2)
    first = teacher.get(url(cast)).content.decode()
    assert first.count('class="finding') - first.count('class="findings') == 2
    assert "More findings" in first
    last = teacher.get(url(cast), {"from": 4}).content.decode()
    assert "Earlier findings" in last
    assert "More findings" not in last


def test_what_is_in_a_file_cannot_become_markup(teacher, cast):
    words = "<direction><direction-type><words>rit. &lt;b&gt;</words></direction-type></direction>"
    music = score([ATTRIBUTES + note("C5", "half."), note("C5", "quarter") + words + note("C5", "half")], title="Words")
    edition = make.edition(piece=make.piece(studio=cast.studio), music=music)
    text = teacher.get(reverse("preparation", args=[edition.pk])).content.decode()
    assert "“rit. &lt;b&gt;”" in text


def test_more_findings_ticks_and_passages_add_no_query(teacher, cast):
    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert teacher.get(url(cast)).status_code == 200
        return len(counted)

    queries()
    before = queries()
    for number, finding in enumerate(findings_of(cast.edition)):
        passage = make.passage(edition=cast.edition) if number % 2 else None
        look_at(edition=cast.edition, key=finding.key, at=AT, passage=passage)
    for number in range(10):
        make.student(studio=cast.studio, name=f"Student {number}")
        make.passage(edition=cast.edition)
    assert queries() == before
    assert before <= 12


def test_a_tempo_and_a_speed_can_be_given_and_stay_in_the_address(teacher, cast):
    fast = teacher.get(url(cast), {"tempo": "200", "fast": "2"}).content.decode()
    assert "strokes running, up to" in fast
    assert "tempo=200&amp;fast=2&amp;hands=right" in fast
    slow = teacher.get(url(cast), {"tempo": "40", "fast": "2"}).content.decode()
    assert "strokes running, up to" not in slow
    found = re.search(r'name="key" value="(fast:[^"]+)"', fast)
    data = {"key": found[1], "tempo": "200", "fast": "2"}
    assert teacher.post(url(cast, "passage-of-finding"), data).status_code == 302
    assert teacher.post(url(cast, "passage-of-finding"), {**data, "tempo": "40"}).status_code == 404


@pytest.mark.parametrize(
    "asked", [{"tempo": "0"}, {"tempo": "quick"}, {"fast": "-1"}, {"fast": "nan"}, {"tempo": "inf"}]
)
def test_a_speed_that_makes_no_sense_is_said_and_the_list_stands(teacher, cast, asked):
    text = teacher.get(url(cast), asked).content.decode()
    assert "A tempo lies between 20 and 300" in text
    assert f'value="{next(iter(asked.values()))}"' in text
    assert "0 of 5 looked at" in text


def test_a_long_works_list_is_made_shorter_by_what_returns_too(teacher, cast):
    edition = make.edition(piece=make.piece(studio=cast.studio, title="Rondino"), music=RONDINO)
    Edition.objects.filter(pk=edition.pk).update(notes=60_000)
    text = teacher.get(reverse("preparation", args=[edition.pk])).content.decode()
    assert "Measures 5–6 are 1–2 again" in text
