"""The ornaments of an assigned passage: open in both placements, decided in one."""

import json
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from lessons.families import newest_work, week_page
from lessons.handouts.content import from_data, to_data
from lessons.handouts.gathering import gather
from lessons.models import AssignedPassage, Lesson, PlacementChoice
from lessons.ornaments import given_ornaments, student_choices
from scores.ornamenting import keep_ornament
from tests.people import Cast

OSSIA = re.compile(r'class="(ossia[^"]*)"[^>]* data-ossia="(\w+)" data-ornament="([^"]+)"')


def ossias(svgs) -> list[tuple[str, str, str]]:
    return [(kind, key, placement) for svg in svgs for kind, placement, key in OSSIA.findall(svg)]


@pytest.fixture
def grace(cast: Cast) -> str:
    return next(note.id for note in cast.edition.score.notes if note.is_grace)


@pytest.fixture
def turn(cast: Cast) -> str:
    return next(note.id for note in cast.edition.score.notes if note.ornaments)


def say_placement(assigned: AssignedPassage, note: str, placement: str, by: str) -> None:
    PlacementChoice.objects.create(
        studio_id=assigned.studio_id, assigned=assigned, note=note, placement=placement, chosen_by=by
    )


def on_sheet(cast: Cast) -> list[tuple[str, str, str]]:
    return ossias(music.svg for work in gather(cast.lesson).works for music in work.music)


def on_page(cast: Cast) -> list[tuple[str, str, str]]:
    lesson = newest_work(Lesson.objects.filter(student=cast.oda), at=timezone.now())
    return ossias(music.svg for given in week_page(lesson, width=700).given for music in given.work.music)


def test_an_open_placement_stands_on_the_sheet_in_both_ways(cast: Cast, grace: str):
    say_placement(cast.assigned, grace, "", "")
    assert on_sheet(cast) == [("ossia", grace, "on"), ("ossia", grace, "before")]
    [ornament] = gather(cast.lesson).works[0].ornaments
    assert len(ornament.written) == 2
    assert ornament.written[0].startswith("B♭4 ")
    assert ornament.written[1].startswith("C5 ")


@pytest.mark.parametrize("by", ["teacher", "student"])
@pytest.mark.parametrize("placement", ["before", "on"])
def test_a_decided_placement_stands_alone_on_the_sheet(cast: Cast, grace: str, placement: str, by: str):
    say_placement(cast.assigned, grace, placement, by)
    assert on_sheet(cast) == [("ossia", grace, placement)]


def test_what_she_chose_is_marked_on_her_page_and_the_other_way_stays(cast: Cast, grace: str):
    say_placement(cast.assigned, grace, "before", "student")
    assert on_page(cast) == [("ossia", grace, "on"), ("ossia chosen", grace, "before")]


def test_what_the_teacher_chose_is_not_asked_on_her_page(cast: Cast, grace: str):
    say_placement(cast.assigned, grace, "before", "teacher")
    assert on_page(cast) == [("ossia", grace, "before")]


def test_an_ornament_of_which_nothing_is_said_stays_a_sign(cast: Cast, grace: str, turn: str):
    assert cast.assigned
    assert on_sheet(cast) == []
    say_placement(cast.assigned, grace, "on", "teacher")
    assert [key for _, key, _ in on_sheet(cast)] == [grace]


def test_the_teachers_way_of_playing_it_goes_with_the_students_placement(cast: Cast, turn: str):
    keep_ornament(passage=cast.passage, note=turn, start="main", placement="on", at=timezone.now())
    say_placement(cast.assigned, turn, "before", "student")
    assert (student_choices(cast.assigned)[turn].start, student_choices(cast.assigned)[turn].placement) == (
        "main",
        "before",
    )
    [ornament] = given_ornaments(cast.assigned).ornaments
    # From the main note a turn has five notes (C. P. E. Bach's sign with a small note before; common practice).
    [(placement, words)] = ornament.written
    assert placement == "before"
    assert [word.split()[0] for word in words.split(", ")][1:] == ["F5", "G5", "F5", "E♭5", "F5"]


def test_a_sheet_of_an_earlier_day_can_still_be_read(cast: Cast, grace: str):
    say_placement(cast.assigned, grace, "", "")
    content = gather(cast.lesson)
    kept = json.loads(json.dumps(to_data(content)))
    assert from_data(kept) == content
    for work in kept["works"]:
        for ornament in work["ornaments"]:
            del ornament["written"]
    [old] = from_data(kept).works[0].ornaments
    assert (old.what, old.written) == ("grace note C5", ())


def test_she_chooses_by_the_button_that_a_tap_on_the_line_presses(cast: Cast, logged_in, grace: str):
    say_placement(cast.assigned, grace, "", "")
    client = logged_in(cast.oda.user)
    page = client.get(reverse("this-week")).content.decode()
    assert f'data-ossia-choice="{grace} before"' in page
    client.post(reverse("choose", args=[cast.assigned.pk]), {"note": grace, "placement": "before"})
    assert PlacementChoice.objects.get().placement == "before"
    assert ("ossia chosen", grace, "before") in on_page(cast)


def test_the_music_says_its_ornaments_to_those_who_do_not_see_it(cast: Cast, grace: str):
    say_placement(cast.assigned, grace, "on", "teacher")
    words = " ".join(music.words for music in gather(cast.lesson).works[0].music)
    assert "Measure 1, beat 1½, ornament on the beat: C5 " in words


def test_the_teacher_sees_what_is_given_on_the_page_of_the_passage(cast: Cast, logged_in, grace: str):
    say_placement(cast.assigned, grace, "on", "teacher")
    page = logged_in(cast.teacher).get(reverse("assigned", args=[cast.assigned.pk])).content.decode()
    assert ossias([page]) == [("ossia", grace, "on")]


def test_more_ornaments_add_no_query(cast: Cast, grace: str, turn: str):
    assert cast.assigned

    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            on_page(cast)
        return len(asked)

    on_page(cast)
    before = queries()
    for note in (grace, turn):
        keep_ornament(passage=cast.passage, note=note, count=4, at=timezone.now())
        say_placement(cast.assigned, note, "", "")
    assert queries() == before
