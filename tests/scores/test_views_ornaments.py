"""The ornaments on the desk: chosen, filled in, taken back."""

import html
import re

import pytest
from django.urls import reverse
from django.utils import timezone

from scores.models import OrnamentChoice
from scores.ornamenting import keep_ornament
from tests import make
from tests.music import ATTRIBUTES, BACK, note, score
from tests.people import Cast


@pytest.fixture
def teacher(cast: Cast, logged_in):
    return logged_in(cast.teacher)


def text(answer) -> str:
    return html.unescape(answer.content.decode())


def to(name: str, cast: Cast, **more: object) -> str:
    return reverse(name, kwargs={"pk": cast.passage.pk, **more})


def turn_of(cast: Cast) -> str:
    return next(one.id for one in cast.edition.score.notes if one.ornaments)


def test_how_an_ornament_is_played_is_kept_with_a_remark(cast: Cast, teacher):
    data = {"note": turn_of(cast), "placement": "on", "start": "main", "remark": "From above."}
    teacher.post(to("keep-ornament", cast), data)
    choice = OrnamentChoice.objects.get()
    assert (choice.placement, choice.start, choice.remark) == ("on", "main", "From above.")
    assert choice.studio == cast.studio
    assert "From above." in text(teacher.get(to("desk-music", cast)))


@pytest.mark.parametrize("data", [{"note": "nowhere", "placement": "on"}, {"placement": "late"}, {"start": "sideways"}])
def test_a_choice_that_makes_no_sense_is_refused(cast: Cast, teacher, data: dict):
    sent = {"note": turn_of(cast), **data}
    assert teacher.post(to("keep-ornament", cast), sent).status_code == 422
    assert not OrnamentChoice.objects.exists()


def test_what_was_typed_stands_beside_what_is_wrong_with_it(cast: Cast, teacher):
    data = {"note": turn_of(cast), "start": "sideways", "remark": "Keep these words."}
    answer = teacher.post(to("keep-ornament", cast), data)
    assert answer.status_code == 422
    page = text(answer)
    assert 'value="Keep these words."' in page
    assert "sideways is not one of the available choices" in page


def test_every_kept_choice_can_be_undone(cast: Cast, teacher):
    answer = teacher.post(to("keep-ornament", cast), {"note": turn_of(cast), "placement": "before"}, follow=True)
    [undo] = set(re.findall(r'action="([^"]*ornaments/restore/[^"]*)"', text(answer)))
    teacher.post(undo)
    assert not OrnamentChoice.objects.standing()


def test_a_period_is_offered_with_its_source_and_never_taken_by_itself(cast: Cast, teacher):
    page = text(teacher.get(to("desk", cast)))
    assert "LilyPond glossary" in page
    assert not OrnamentChoice.objects.exists()
    teacher.post(to("take-over-style", cast), {"period": "baroque"})
    assert {row.placement for row in OrnamentChoice.objects.all()} == {"on"}
    assert teacher.post(to("take-over-style", cast), {"period": "yesterday"}).status_code == 422


def test_both_placements_stand_over_the_music_and_the_chosen_one_is_marked(cast: Cast, teacher):
    teacher.post(to("keep-ornament", cast), {"note": turn_of(cast), "placement": "on"})
    page = text(teacher.get(to("desk-ornaments", cast), {"width": "940"}))
    lines = re.findall(r'class="(ossia[^"]*)" [^>]*data-ossia="(\w+)" data-ornament="([^"]+)"', page)
    assert ("ossia chosen", "on", turn_of(cast)) in lines
    assert ("ossia", "before", turn_of(cast)) in lines
    assert "ornament on the beat: G5 16th, F5 16th, E♭5 16th, F5 dotted eighth" in page


def test_the_speed_is_said_at_the_tempo_of_the_address(cast: Cast, teacher):
    # Four 16ths on a quarter: at 60 a 16th lasts 250 ms, at 120 half of that.
    for tempo, said in ((60, "250 ms each, 4.0 a second"), (120, "125 ms each, 8.0 a second")):
        assert said in text(teacher.get(to("desk", cast), {"tempo": tempo}))
    for wrong in ("0", "fast", "900", "nan"):
        assert teacher.get(to("desk", cast), {"tempo": wrong}).status_code == 200


def test_a_foreign_undo_is_not_found(cast: Cast, teacher):
    assert teacher.post(to("restore-ornaments", cast, token="made:up:x")).status_code == 404


def test_the_edition_leaves_with_the_desks_choices_where_that_is_asked_for(cast: Cast, teacher):
    teacher.post(to("keep-ornament", cast), {"note": turn_of(cast), "start": "main"})
    url = reverse("edition-file", kwargs={"pk": cast.edition.pk})
    assert b'<turn start-note="main"' in teacher.get(url, {"chosen": "1"}).content
    assert b"start-note" not in teacher.get(url).content


def test_speed_is_spoken_of_with_care(cast: Cast, teacher):
    assert "pain that lasts belongs to a doctor" in text(teacher.get(to("desk", cast)))


def test_a_line_that_no_value_fits_says_that_it_is_only_near(cast: Cast, teacher):
    assert "≈" not in text(teacher.get(to("desk", cast)))
    trill = note("C5", "half.", extra="<ornaments><trill-mark/></ornaments>")
    music = score([ATTRIBUTES + trill + BACK + note("Eb3", "half.", staff=2)], title="Trill")
    passage = make.passage(edition=make.edition(piece=cast.edition.piece, music=music))
    # Twenty-nine notes in three quarters: no reader counts a tuplet of 29.
    keep_ornament(passage=passage, note=passage.first_note, count=29, at=timezone.now())
    page = text(teacher.get(reverse("desk", kwargs={"pk": passage.pk})))
    assert "≈ is written as near as note values allow" in page
    # Nothing precedes it, so both placements are one.
    assert "≈ written out" in page
