"""Rhythm drills on the desk: planned, changed stage by stage, undone, copied, taken away."""

import pytest
from django.conf import settings
from django.urls import reverse

from scores import noting
from scores.models import RhythmDrill
from scores.rhythms import found_in, plan_of
from tests import make
from tests.people import Cast

HTMX = {"HX-Request": "true"}
NEW_STAGE = {"hands": "both", "tempo": 60, "repetitions": 5, "click": "beat", "heard": ""}


@pytest.fixture
def teacher(cast: Cast, logged_in):
    return logged_in(cast.teacher)


@pytest.fixture
def drill(cast: Cast) -> RhythmDrill:
    [span] = found_in(cast.passage, [])
    return noting.plan_drill(passage=cast.passage, start=span.start, end=span.end, tempo_now=60, tempo_goal=80)


def to(name: str, row) -> str:
    return reverse(name, kwargs={"pk": row.pk})


def text(response) -> str:
    return response.content.decode()


def test_a_found_span_is_planned_with_one_click(cast: Cast, teacher):
    [span] = found_in(cast.passage, [])
    data = {"start": str(span.start), "end": str(span.end), "tempo_now": "60", "tempo_goal": "88"}
    assert teacher.post(to("new-drill", cast.passage), data).status_code == 302
    page = text(teacher.get(to("desk", cast.passage)))
    assert 'class="crossrhythm"' in page
    assert "4 against 3" in page
    assert "pass the golden butter" in page
    # 12 parts in three quarters at 60 a minute: 3000 ms / 12 = 250 ms a part, by arithmetic.
    assert "2 with 2, 4 with 3. They lie 1 of 12 parts apart: 250 ms at ♩ = 60." in page


@pytest.mark.parametrize(
    "changed", [{"start": "9"}, {"end": "0"}, {"end": "1/7"}, {"tempo_now": "5"}, {"tempo_goal": ""}, {"start": ""}]
)
def test_a_span_that_makes_no_sense_is_refused_beside_its_field(cast: Cast, teacher, changed: dict):
    data = {"start": "4", "end": "7", "tempo_now": "60", "tempo_goal": "88"}
    response = teacher.post(to("new-drill", cast.passage), {**data, **changed})
    assert response.status_code == 422
    assert "errorlist" in text(response)
    assert not RhythmDrill.objects.exists()


def test_hands_that_fit_plainly_are_told_so(cast: Cast, teacher):
    data = {"start": "1", "end": "2", "tempo_now": "60", "tempo_goal": "88"}
    response = teacher.post(to("new-drill", cast.passage), data)
    assert response.status_code == 422
    assert "The hands fit plainly here" in text(response)


def plan_data(drill: RhythmDrill, **changes) -> dict:
    """The plan's form as the page sends it, with changes by field name."""
    shown = plan_of(drill)
    data = {"stage-TOTAL_FORMS": len(shown) + 1, "stage-INITIAL_FORMS": len(shown), "remark": ""}
    for place, one in enumerate(shown):
        fields = {
            "number": place,
            "title": one.title,
            "instruction": one.instruction,
            "hands": one.stage.hands,
            "tempo": one.stage.tempo,
            "repetitions": one.stage.repetitions,
            "click": one.stage.click,
            "heard": one.stage.heard or "",
            "ORDER": place + 1,
        }
        if one.stage.marks:
            fields["goal"] = one.stage.marks[-1]
        data |= {f"stage-{place}-{name}": value for name, value in fields.items()}
    last = len(shown)
    data |= {f"stage-{last}-{name}": value for name, value in NEW_STAGE.items()}
    return {**data, **changes}


def test_a_plan_that_nobody_touched_stays_as_it_was(teacher, drill):
    before = drill.stages
    assert teacher.post(to("keep-drill", drill), plan_data(drill)).status_code == 302
    drill.refresh_from_db()
    assert drill.stages == before


def test_stages_are_rewritten_moved_taken_out_and_added(teacher, drill):
    count = len(drill.stages)
    changes = {
        "stage-0-instruction": "50% of the tempo, eyes closed.",
        "stage-0-ORDER": 3,
        "stage-1-ORDER": 1,
        "stage-2-DELETE": "on",
        f"stage-{count}-title": "Sing the left hand",
        f"stage-{count}-instruction": "Play the right.",
        f"stage-{count}-ORDER": count + 1,
        "remark": "Not on two days running.",
    }
    teacher.post(to("keep-drill", drill), plan_data(drill, **changes))
    drill.refresh_from_db()
    plan = plan_of(drill)
    assert len(plan) == count
    assert plan[0].title == "Left hand alone"
    assert plan[1].instruction == "50% of the tempo, eyes closed."
    assert plan[-1].title == "Sing the left hand"
    assert drill.remark == "Not on two days running."


def test_a_stage_with_an_impossible_tempo_is_refused_and_nothing_is_lost(teacher, drill):
    before = drill.stages
    response = teacher.post(to("keep-drill", drill), plan_data(drill, **{"stage-0-tempo": 1000, "remark": "Slowly."}))
    assert response.status_code == 422
    assert 'value="1000"' in text(response)
    assert "Slowly." in text(response)
    drill.refresh_from_db()
    assert drill.stages == before


def test_a_drill_is_copied_taken_away_and_brought_back(cast: Cast, teacher, drill):
    twin = make.passage(edition=make.edition(piece=make.piece(studio=cast.studio, title="Twin")))
    assert teacher.post(to("copy-drill", drill), {"passage": twin.pk})["Location"] == to("desk", twin)
    teacher.post(to("remove-drill", drill))
    assert not cast.passage.drills.standing()
    teacher.post(to("restore-drill", drill))
    assert cast.passage.drills.standing().get() == drill


def test_the_ladder_leads_to_another_tempo_and_its_words_follow(teacher, drill):
    last = len(drill.stages) - 1
    changes = {f"stage-{last}-tempo": 80, f"stage-{last}-goal": 60}
    teacher.post(to("keep-drill", drill), plan_data(drill, **changes))
    drill.refresh_from_db()
    ladder = plan_of(drill)[-1]
    # The standard marks between 60 and 80, downwards.
    assert ladder.stage.marks == (80, 76, 72, 69, 66, 63, 60)
    assert ladder.title == "Down the ladder"
    assert "from 80 to 60" in ladder.instruction


def test_click_and_loudspeaker_of_a_stage_are_chosen(teacher, drill):
    teacher.post(to("keep-drill", drill), plan_data(drill, **{"stage-0-click": "cycle", "stage-0-heard": "left"}))
    drill.refresh_from_db()
    stage = plan_of(drill)[0].stage
    assert (stage.click, stage.heard, stage.hands) == ("cycle", "left", "right")


def test_a_change_is_undone_and_done_again(teacher, drill):
    before = drill.stages
    page = text(teacher.post(to("keep-drill", drill), plan_data(drill, remark="Slowly."), follow=True))
    assert to("undo-drill", drill) in page
    teacher.post(to("keep-drill", drill), plan_data(drill, **{"stage-0-tempo": 44, "remark": "Slowly."}))
    drill.refresh_from_db()
    changed = drill.stages
    assert changed != before
    for expected in (before, changed, before):
        teacher.post(to("undo-drill", drill))
        drill.refresh_from_db()
        assert (drill.stages, drill.remark) == (expected, "Slowly.")


def test_nothing_to_undo_is_said(teacher, drill):
    response = teacher.post(to("undo-drill", drill))
    assert response.status_code == 422
    assert "This plan has not been changed yet." in text(response)


def test_the_proposed_plan_comes_back_and_the_remark_stays(teacher, drill):
    proposed = drill.stages
    noting.keep_drill(drill=drill, plan=[], remark="Her own way.")
    page = text(teacher.post(to("propose-drill", drill), follow=True))
    drill.refresh_from_db()
    assert (drill.stages, drill.remark) == (proposed, "Her own way.")
    assert to("undo-drill", drill) in page


def test_a_drill_from_before_its_tempos_were_kept_goes_by_its_ladder(teacher, drill):
    RhythmDrill.objects.filter(pk=drill.pk).update(tempo_now=None, tempo_goal=None)
    noting.keep_drill(drill=drill, plan=[one.stage for one in plan_of(drill)][-1:], remark="")
    proposed = drill.stages
    teacher.post(to("propose-drill", drill))
    drill.refresh_from_db()
    assert drill.stages[-1] == proposed[-1]
    assert drill.stages[-1]["marks"][-1] == 80


def test_a_move_is_not_lost_when_something_else_is_wrong(teacher, drill):
    changes = {"stage-0-ORDER": 2, "stage-1-ORDER": 1, "stage-4-repetitions": 0}
    page = text(teacher.post(to("keep-drill", drill), plan_data(drill, **changes)))
    assert page.index('value="Left hand alone"') < page.index('value="Right hand alone"')


def test_two_stages_are_added_at_once(teacher, drill):
    count = len(drill.stages)
    changes = {"stage-TOTAL_FORMS": count + 2}
    for place, title in ((count, "Sing the left hand"), (count + 1, "Walk it")):
        changes |= {f"stage-{place}-{name}": value for name, value in NEW_STAGE.items()}
        changes |= {
            f"stage-{place}-title": title,
            f"stage-{place}-instruction": title,
            f"stage-{place}-ORDER": place + 1,
        }
    teacher.post(to("keep-drill", drill), plan_data(drill, **changes))
    drill.refresh_from_db()
    assert [one.title for one in plan_of(drill)[-2:]] == ["Sing the left hand", "Walk it"]


@pytest.mark.parametrize("changed", [{"tempo_now": "0"}, {"tempo_goal": "900"}])
def test_a_tempo_that_nobody_can_play_is_said_beside_its_field(cast: Cast, teacher, changed: dict):
    data = {"start": "4", "end": "7", "tempo_now": "60", "tempo_goal": "88"}
    page = text(teacher.post(to("new-drill", cast.passage), {**data, **changed}))
    assert "20" in page
    assert "errorlist" in page
    assert not RhythmDrill.objects.exists()


def test_a_chart_is_drawn_for_a_column(teacher, drill):
    for width in (340, 560):
        response = teacher.get(to("drill-chart", drill), {"width": width})
        assert response["Content-Type"] == "image/svg+xml"
        assert f'width="{width}"' in text(response)


def test_a_chart_is_drawn_where_the_drill_stands_too(cast: Cast, teacher, drill):
    response = teacher.get(to("drill-chart", drill), {"start": drill.start, "end": drill.end})
    assert 'data-parts="12"' in text(response)
    [first, second] = [measure.start for measure in cast.edition.score.measures[1:3]]
    other = teacher.get(to("drill-chart", drill), {"start": str(first), "end": str(second)})
    assert 'data-parts="12"' not in text(other)


@pytest.mark.parametrize("where", [{"start": "x"}, {"end": "1/0"}, {"start": "900", "end": "901"}, {"end": "0"}])
def test_no_chart_is_there_for_no_span(teacher, drill, where: dict):
    assert teacher.get(to("drill-chart", drill), where).status_code == 404


def test_a_figure_of_one_beat_has_its_slow_pulse_once_a_measure(cast: Cast, teacher):
    """The demo's study: three against two on each quarter of 4/4, so that a click comes every fourth time round."""
    music = (settings.HOME / "fixtures" / "scores" / "study-two-and-three.musicxml").read_text()
    edition = make.edition(piece=make.piece(studio=cast.studio, title="Study"), music=music, name="study.musicxml")
    passage = make.passage(edition=edition, hands="both")
    span = found_in(passage, [])[0]
    assert span.end - span.start == 1
    drill = noting.plan_drill(passage=passage, start=span.start, end=span.end, tempo_now=60, tempo_goal=80)
    pulses = [one.stage for one in plan_of(drill) if one.stage.kind == "pulse"]
    assert [stage.click for stage in pulses] == ["measure", "measure"]
    page = text(teacher.get(to("desk", passage)))
    assert "One click for the measure, 4 times round." in page
    assert '<option value="measure">once a measure</option>' in page
    assert '"figures": 4' in page
