"""What a handout gathers of a lesson."""

import json
from datetime import UTC, date, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from lxml import etree

from lessons.handouts.choices import choices_of
from lessons.handouts.content import Content, from_data, to_data
from lessons.handouts.gathering import gather
from lessons.models import AssignedPassage, PlacementChoice
from scores.models import OrnamentChoice
from scores.noting import plan_drill
from tests import make
from tests.people import Cast


def fingers_on(svg: str) -> dict[str, str]:
    """The fingers that stand on the notes of an engraved system."""
    return {
        element.get("data-note"): element.text
        for element in etree.fromstring(svg.encode()).iter("{http://www.w3.org/2000/svg}text")
        if element.get("class") == "finger"
    }


def lines_in(svg: str) -> list[str]:
    return [
        element.get("data-line")
        for element in etree.fromstring(svg.encode()).iter("{http://www.w3.org/2000/svg}g")
        if "finger-line" in (element.get("class") or "").split()
    ]


@pytest.fixture
def lines(cast: Cast):
    first = cast.passage.first_note
    return [
        make.fingering(passage=cast.passage, fingers={first: finger}, remark=f"Finger {finger}.") for finger in "12"
    ]


@pytest.fixture
def assigned(cast: Cast, lines) -> AssignedPassage:
    return make.assigned(lesson=cast.lesson, passage=cast.passage, fingerings=lines)


def gathered(cast: Cast, **given) -> Content:
    return gather(cast.lesson, **given)


def test_the_chosen_fingering_stands_on_the_notes(cast: Cast, assigned, lines):
    assigned.offered.filter(fingering=lines[1]).update(chosen_by="teacher")
    music = gathered(cast).works[0].music
    assert fingers_on(music[0].svg)[cast.passage.first_note] == "2"
    assert lines_in(music[0].svg) == []


def test_the_other_options_stand_above_where_the_teacher_wants_it(cast: Cast, assigned, lines):
    assigned.offered.filter(fingering=lines[1]).update(chosen_by="teacher")
    assigned.show_others = True
    assigned.save()
    work = gathered(cast).works[0]
    assert len(lines_in(work.music[0].svg)) == 1
    assert [(option.numeral, option.is_chosen) for option in work.options] == [("II", True), ("I", False)]


def test_what_is_left_open_stands_above_with_its_numerals(cast: Cast, assigned):
    work = gathered(cast).works[0]
    assert len(lines_in(work.music[0].svg)) == 2
    assert [option.numeral for option in work.options] == ["I", "II"]
    assert cast.passage.first_note not in [note for note, text in fingers_on(work.music[0].svg).items() if text == "1"]


def test_printed_fingers_stay_where_nothing_is_chosen(cast: Cast):
    make.assigned(lesson=cast.lesson, passage=cast.passage)
    printed = {note.id: note.printed for note in cast.edition.score.notes if note.printed}
    assert len(printed) == 2
    assert fingers_on(gathered(cast).works[0].music[0].svg) == printed


def test_page_paper_and_file_say_the_same_fingers(cast: Cast, assigned, lines, logged_in):
    assigned.offered.filter(fingering=lines[0]).update(chosen_by="student")
    on_paper = fingers_on(gathered(cast).works[0].music[0].svg)
    file = logged_in(cast.teacher).get(f"/assigned/{assigned.pk}/music/").content
    in_file = {
        note.get("id"): note.findtext("notations/technical/fingering")
        for note in etree.fromstring(file).iter("note")
        if note.findtext("notations/technical/fingering")
    }
    on_page = logged_in(cast.teacher).get(f"/lessons/{cast.lesson.pk}/handout/").content.decode()
    assert on_paper == in_file
    assert all(f'data-note="{note}"' in on_page for note in on_paper)


def test_the_music_is_said_in_words(cast: Cast, assigned, lines):
    assigned.offered.filter(fingering=lines[0]).update(chosen_by="teacher")
    words = gathered(cast).works[0].music[0].words
    assert "finger 1" in words
    assert "B flat 4" in words


def test_placements_are_said_with_their_remarks(cast: Cast, assigned):
    turn = next(note for note in cast.edition.score.notes if note.ornaments)
    OrnamentChoice.objects.create(
        studio=cast.studio, passage=cast.passage, note=turn.id, placement="on", remark="Unhurried."
    )
    PlacementChoice.objects.create(
        studio=cast.studio, assigned=assigned, note=turn.id, placement="before", chosen_by="teacher"
    )
    ornament = gathered(cast).works[0].ornaments[0]
    assert (ornament.measure, ornament.placement, ornament.remark) == ("3", "before the beat", "Unhurried.")


def test_a_drill_comes_with_its_grid_and_stages(cast: Cast):
    passage = make.passage(edition=cast.edition, hands="both")
    make.assigned(lesson=cast.lesson, passage=passage)
    start = cast.edition.score.measures[2].start
    plan_drill(passage=passage, start=start, end=start + 3, tempo_now=50, tempo_goal=60)
    rhythm = gathered(cast).works[0].rhythms[0]
    # Four against three: the least common multiple is 12, and six strokes fall, one of them together.
    assert "12" in rhythm.words
    assert len(rhythm.order.split(", ")) == 6
    assert rhythm.order.startswith("both")
    assert len(rhythm.stages) > 5
    # Each with its tempo and repetitions; the last with the standard marks from 50 to 60.
    assert rhythm.stages[0].instruction.endswith("50 quarters a minute, 5 times.")
    assert rhythm.stages[-1].instruction.endswith("Quarters a minute: 50, 52, 54, 56, 58, 60; 3 times each.")
    assert 'class="strip"' in rhythm.chart
    assert rhythm.width <= 500


def test_cues_stand_in_the_order_of_the_music(cast: Cast, assigned):
    for measure, text in ((3, "last"), (1, "first")):
        make.cue(passage=cast.passage, measure=measure, text=text)
    make.cue(passage=cast.passage, text="gone", removed_at=datetime(2020, 11, 1, tzinfo=UTC))
    remarks = gathered(cast).works[0].remarks
    assert [(remark.measure, remark.text) for remark in remarks] == [("1", "first"), ("3", "last")]


def test_the_ladder_leads_from_now_to_the_goal(cast: Cast):
    make.assigned(lesson=cast.lesson, passage=cast.passage, tempo_now=60, tempo_goal=208)
    ladder = gathered(cast).works[0].ladder
    assert (ladder[0], ladder[-1]) == (60, 208)
    assert len(ladder) <= 10


def test_the_next_lesson_ends_the_week(cast: Cast):
    make.lesson(student=cast.oda, starts_at=datetime(2020, 12, 3, 14, tzinfo=UTC))
    make.lesson(student=cast.ravi, starts_at=datetime(2020, 11, 25, 14, tzinfo=UTC))
    content = gathered(cast)
    assert (content.day, content.until) == (date(2020, 11, 23), date(2020, 12, 3))
    assert (content.days[0], content.days[-1], len(content.days)) == (date(2020, 11, 23), date(2020, 12, 2), 10)


def test_without_a_next_lesson_it_is_a_week(cast: Cast):
    assert gathered(cast).until == date(2020, 11, 30)


def test_a_whole_piece_is_a_task(cast: Cast):
    cast.lesson.assignments.create(studio=cast.studio, piece=make.piece(studio=cast.studio, title="Scales"))
    content = gathered(cast)
    assert [task.title for task in content.tasks] == ["Scales"]
    assert not content.works


def test_private_notes_are_nowhere_on_it(cast: Cast, assigned):
    cast.lesson.private_notes = "Worried about the recital."
    cast.lesson.save()
    assert "Worried" not in json.dumps(to_data(gathered(cast)))


def test_content_survives_json(cast: Cast, assigned):
    content = gathered(cast, paper="Letter", large_print=True)
    assert from_data(json.loads(json.dumps(to_data(content)))) == content


def test_another_paper_and_print_engrave_anew(cast: Cast, assigned):
    normal, large = gathered(cast).works[0].music, gathered(cast, large_print=True).works[0].music
    assert sum(system.height for system in large) > 1.2 * sum(system.height for system in normal)


def test_ten_more_passages_add_no_query(cast: Cast, assigned, django_assert_num_queries):
    with CaptureQueriesContext(connection) as first:
        gathered(cast)
    for number in range(10):
        passage = make.passage(edition=cast.edition, name=f"passage {number}")
        line = make.fingering(passage=passage, fingers={passage.first_note: "3"})
        make.assigned(lesson=cast.lesson, passage=passage, fingerings=[line])
    with django_assert_num_queries(len(first)):
        assert len(gathered(cast).works) == 11


def test_a_fingering_taken_off_the_desk_stays_with_whom_it_was_given(cast: Cast, assigned, lines):
    lines[0].removed_at = datetime(2020, 11, 24, tzinfo=UTC)
    lines[0].save()
    assigned = AssignedPassage.objects.get(pk=assigned.pk)
    assert [line.fingers[cast.passage.first_note] for line in choices_of(assigned).beside] == ["1", "2"]


def test_a_line_that_became_impossible_is_left_out(cast: Cast, assigned, lines):
    lines[0].fingers = {cast.passage.first_note: "7"}
    lines[0].save()
    assigned = AssignedPassage.objects.get(pk=assigned.pk)
    assert [line.numeral for line in choices_of(assigned).beside] == ["II"]
