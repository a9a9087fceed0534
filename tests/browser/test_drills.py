"""Rhythm drills in a real Chromium: played, tried, judged; the judging against numpy and scipy."""

import json
import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from django.templatetags.static import static
from django.urls import reverse
from playwright.sync_api import Page, expect
from scipy.optimize import linear_sum_assignment

from lessons.models import PracticeEntry
from scores.noting import plan_drill
from scores.rhythms import found_in
from tests import make
from tests.people import Cast

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

EIGHT_AGAINST_THREE = {"right": [0, 3, 6, 9, 12, 15, 18, 21], "left": [0, 8, 16]}
PART = 0.1  # seconds


@pytest.fixture
def timing(page: Page, live_server) -> Callable[[str, Any], Any]:
    """Calls a function of the judging module in the browser."""
    page.goto("/log-in/")

    def call(name: str, *given: Any) -> Any:
        script = "async ([url, name, given]) => (await import(url))[name](...given)"
        return page.evaluate(script, [static("scores/timing.js"), name, list(given)])

    return call


def asked(turns: int, hands: dict[str, list[int]] = EIGHT_AGAINST_THREE) -> list[dict]:
    """The strokes of 8 against 3, turn after turn."""
    return [
        {"hand": hand, "part": part, "turn": turn, "time": 10 + (turn * 24 + part) * PART}
        for turn in range(turns)
        for hand, parts in hands.items()
        for part in parts
    ]


def with_errors(expected: list[dict], errors: np.ndarray, delay: float = 0.0) -> list[dict]:
    return [
        {"hand": one["hand"], "time": one["time"] + float(error) + delay}
        for one, error in zip(expected, errors, strict=True)
    ]


@pytest.mark.parametrize("delay", [0.0, 0.083, -0.02, 0.21])
def test_errors_that_are_known_come_out_as_numpy_says(timing, delay: float):
    expected = asked(6)
    errors = np.random.default_rng(83).normal(0, 0.018, len(expected))
    errors[[0, 4]] += (-0.03, 0.03)
    judged = timing("judge", {"expected": expected, "played": with_errors(expected, errors, delay)})
    raw = (errors + delay) * 1000
    offset = np.median(raw)
    assert judged["offset"] == pytest.approx(offset, abs=1e-6)
    left = raw - offset
    assert judged["all"]["mean"] == pytest.approx(left.mean(), abs=1e-6)
    assert judged["all"]["spread"] == pytest.approx(left.std(ddof=1), abs=1e-6)
    for attack in judged["attacks"]:
        mine = [
            error
            for one, error in zip(expected, left, strict=True)
            if (one["hand"], one["part"]) == (attack["hand"], attack["part"])
        ]
        assert attack["errors"] == pytest.approx(mine, abs=1e-6)
        assert attack["mean"] == pytest.approx(np.mean(mine), abs=1e-6)
        assert attack["spread"] == pytest.approx(np.std(mine, ddof=1), abs=1e-6)
    sizes = {(one["hand"], one["part"]): np.mean(np.abs(one["errors"])) for one in judged["attacks"]}
    assert (judged["worst"]["hand"], judged["worst"]["part"]) == max(sizes, key=sizes.get)
    for hand in ("right", "left"):
        mine = [error for one, error in zip(expected, left, strict=True) if one["hand"] == hand]
        assert judged["hands"][hand]["mean"] == pytest.approx(np.mean(mine), abs=1e-6)
        assert judged["hands"][hand]["spread"] == pytest.approx(np.std(mine, ddof=1), abs=1e-6)
    assert judged["missed"] == judged["extra"] == []
    clean = [np.all(np.abs(left[[one["turn"] == turn for one in expected]]) <= 50) for turn in range(6)]
    assert (judged["clean"], judged["turns"]) == (sum(clean), 6)


def test_without_calibration_nothing_is_taken_off(timing):
    expected = asked(2)
    played = with_errors(expected, np.full(len(expected), 0.03))
    judged = timing("judge", {"expected": expected, "played": played, "calibrated": False})
    assert judged["offset"] == 0
    assert judged["all"]["mean"] == pytest.approx(30)
    assert judged["all"]["spread"] == pytest.approx(0, abs=1e-6)


def test_missed_and_superfluous_strokes_are_named(timing):
    expected = asked(3)
    played = with_errors(expected, np.zeros(len(expected)))
    gone = next(
        place for place, one in enumerate(expected) if (one["hand"], one["part"], one["turn"]) == ("left", 8, 1)
    )
    del played[gone]
    # The right hand strikes once more, half way between its strokes on 12 and 15 in the third turn.
    played.append({"hand": "right", "time": 10 + (2 * 24 + 13.5) * PART})
    judged = timing("judge", {"expected": expected, "played": played})
    assert judged["missed"] == [{"hand": "left", "part": 8, "turn": 1}]
    assert judged["extra"] == [{"hand": "right", "after": 12, "turn": 2}]
    assert judged["clean"] == 1
    assert [one["missed"] for one in judged["attacks"] if (one["hand"], one["part"]) == ("left", 8)] == [1]


def test_the_hands_are_matched_apart(timing):
    expected = asked(2, {"right": [0], "left": [12]})
    judged = timing("judge", {"expected": expected, "played": [{"hand": "right", "time": 10 + 12 * PART}]})
    # A right-hand stroke where the left hand's was asked for is none of the left hand's.
    assert {one["hand"] for one in judged["missed"]} >= {"left"}
    assert judged["hands"]["left"]["count"] == 0


def test_no_stroke_at_all_is_all_missed(timing):
    judged = timing("judge", {"expected": asked(1), "played": []})
    assert len(judged["missed"]) == 11
    assert (judged["worst"], judged["clean"], judged["all"]["mean"]) == (None, 0, None)


def test_strokes_are_matched_as_the_best_assignment_would(timing):
    # Scipy's assignment knows no order; on one line the best one keeps it.
    random = np.random.default_rng(7)
    reach = 0.35
    for _ in range(25):
        wanted = np.sort(random.uniform(0, 4, random.integers(1, 14)))
        given = np.sort(random.uniform(0, 4, random.integers(1, 14)))
        gain = np.maximum(0, 2 * reach - np.abs(wanted[:, None] - given[None, :]))
        gain[np.abs(wanted[:, None] - given[None, :]) > reach] = 0
        rows, columns = linear_sum_assignment(gain, maximize=True)
        found = timing("matched", wanted.tolist(), given.tolist(), reach)
        ours = sum(2 * reach - abs(wanted[a] - given[b]) for a, b in found)
        assert ours == pytest.approx(gain[rows, columns].sum())
        assert found == sorted(found)
        assert len({a for a, _ in found}) == len({b for _, b in found}) == len(found)


# On the desk


def open_desk(page: Page, people: Cast, enter) -> Any:
    passage = make.passage(edition=people.edition, hands="both")
    [span] = found_in(passage, [])
    drill = plan_drill(passage=passage, start=span.start, end=span.end, tempo_now=160, tempo_goal=176)
    enter(page, people.teacher)
    page.goto(reverse("desk", kwargs={"pk": passage.pk}))
    return drill


def player(page: Page):
    return page.locator(".drill-player").first


def test_a_stage_is_played_and_its_mark_moves(page: Page, people: Cast, enter):
    open_desk(page, people, enter)
    page.emulate_media(reduced_motion="no-preference")
    bar = player(page)
    bar.locator("[data-stage]").select_option(label="8 · Both hands")
    expect(bar.get_by_label("right hand sounds")).to_be_checked()
    expect(bar.get_by_label("left hand sounds")).to_be_checked()
    bar.get_by_role("button", name="Play").click()
    expect(bar.locator("[data-said]")).to_contain_text("Both hands: 1 of 5.", timeout=15_000)
    expect(page.locator(".crossrhythm .now")).to_have_count(1)
    expect(page.locator(".crossrhythm .sounding").first).to_be_attached()
    expect(bar.locator("[data-said]")).to_contain_text("Both hands: 2 of 5.", timeout=15_000)
    bar.get_by_role("button", name="Stop").first.click()
    expect(bar.locator("[data-said]")).to_have_text("Stopped.")
    expect(page.locator(".crossrhythm .now")).to_have_count(0)


def test_each_stage_sounds_what_it_says(page: Page, people: Cast, enter):
    open_desk(page, people, enter)
    bar = player(page)
    expected = {
        "1 · Right hand alone": (True, False, "beat"),
        "3 · Count the grid": (True, True, "part"),
        "4 · Right hand against a slow pulse": (True, False, "cycle"),
        "9 · Play the right hand, hear the left": (False, True, "beat"),
    }
    for stage, (right, left, click) in expected.items():
        bar.locator("[data-stage]").select_option(label=stage)
        assert bar.get_by_label("right hand sounds").is_checked() == right
        assert bar.get_by_label("left hand sounds").is_checked() == left
        expect(bar.get_by_label("Click")).to_have_value(click)
    # Four against three in three quarters: twelve parts a quarter of a quarter long each, by arithmetic.
    events = page.evaluate(
        """() => { const { drill } = document.querySelector(".drill-player");
        drill.find("stage").value = "6"; drill.choose();
        return { strokes: drill.strokes(), clicks: drill.clicks(), lead: drill.countIn(), pace: drill.pace }; }"""
    )
    # The seventh stage is the skeleton: 2 against 3 on every second note.
    assert sorted({(one["side"], one["at"]) for one in events["strokes"]}) == [
        ("left", 0),
        ("left", 1),
        ("left", 2),
        ("right", 0),
        ("right", 1.5),
    ]
    kinds: dict[str, list[float]] = {}
    for one in events["clicks"]:
        kinds.setdefault(one["voice"], []).append(one["at"])
    assert kinds["drill-click-beat"] == [0, 1, 2]
    assert kinds["drill-click-cycle"] == [0]
    # The figure fills the measure, so nobody is offered one click for several of them.
    expect(bar.locator("[data-click] option[value=measure]")).to_have_count(0)
    assert kinds["drill-click-part"] == pytest.approx([number / 4 for number in range(12)])
    assert [one["at"] for one in events["lead"]] == [-3, -2, -1]


def test_the_ladder_goes_from_mark_to_mark_by_itself(page: Page, people: Cast, enter):
    drill = open_desk(page, people, enter)
    drill.stages = [{**drill.stages[-1], "repetitions": 1, "tempo": 200, "marks": [200, 208]}]
    drill.save()
    page.reload()
    bar = player(page)
    bar.get_by_label("count-in").uncheck()
    bar.get_by_role("button", name="Play").click()
    expect(bar.locator("[data-tempo-shown]")).to_have_text("♩ = 208", timeout=20_000)
    expect(bar.locator("[data-said]")).to_contain_text("Done.", timeout=20_000)


def test_a_desk_put_in_place_anew_falls_silent(page: Page, people: Cast, enter):
    open_desk(page, people, enter)
    bar = player(page)
    bar.get_by_label("over and over").check()
    bar.get_by_role("button", name="Play").click()
    expect(bar.locator("[data-said]")).to_contain_text("Right hand alone: time 1.", timeout=15_000)
    page.evaluate("window.before = document.querySelector('.drill-player').drill")
    page.locator(".desk-drill").get_by_role("button", name="Take the drill").click()
    expect(page.locator(".desk-drill")).to_have_count(0)
    page.get_by_role("button", name="Undo").click()
    expect(player(page).get_by_role("button", name="Play")).to_be_visible()
    assert page.evaluate("window.before.run") is None


def test_the_tempo_is_changed_by_standard_marks(page: Page, people: Cast, enter):
    open_desk(page, people, enter)
    bar = player(page)
    shown = bar.locator("[data-tempo-shown]")
    # Three quarters of 160 is 120, a standard mark; its neighbours are 116 and 126.
    expect(shown).to_have_text("♩ = 120")
    bar.get_by_role("button", name="faster").click()
    expect(shown).to_have_text("♩ = 126")
    for _ in range(2):
        bar.get_by_role("button", name="slower").click()
    expect(shown).to_have_text("♩ = 116")


def test_without_sound_a_clear_word_is_said(page: Page, people: Cast, enter):
    open_desk(page, people, enter)
    page.route(re.compile(r"/sound/"), lambda route: route.fulfill(status=503))
    page.route(re.compile(r"Tone"), lambda route: route.fulfill(status=503))
    bar = player(page)
    bar.get_by_role("button", name="Play").click()
    expect(bar.locator("[data-said]")).to_contain_text(re.compile("could not be fetched"))


# Tried

# Sends strokes with stamps of their own: the judging goes by the stamp of a key, not by when the page hears of it.
STRIKE = """([errors, kind]) => {
  const { trying } = document.querySelector(".drill-player").drill;
  const codes = { right: "KeyJ", left: "KeyF" };
  trying.expected.forEach((one, place) => {
    const stamp = trying.sound.stampOf(one.time + errors[place]);
    if (kind === "midi") {
      const [input] = trying.access.inputs.values();
      const key = one.hand === "left" ? 40 : 90;
      input.onmidimessage({ data: [0x90, key, 80], timeStamp: stamp });
      input.onmidimessage({ data: [0x80, key, 0], timeStamp: stamp + 20 });
      return;
    }
    const event = new KeyboardEvent("keydown", { code: codes[one.hand], bubbles: true, cancelable: true });
    Object.defineProperty(event, "timeStamp", { value: stamp });
    document.body.dispatchEvent(event);
  });
  return trying.expected;
}"""


def try_with(page: Page, errors_of: Callable[[int], np.ndarray], kind: str = "keys") -> tuple[list[dict], np.ndarray]:
    bar = player(page)
    bar.get_by_label("Times round").select_option("2")
    bar.get_by_role("button", name="Begin").click()
    expect(bar.locator("[data-try-said]")).to_contain_text("One count-in")
    count = page.evaluate("document.querySelector('.drill-player').drill.trying.expected.length")
    errors = errors_of(count)
    expected = page.evaluate(STRIKE, [errors.tolist(), kind])
    expect(bar.locator("[data-result]")).to_be_visible(timeout=20_000)
    return expected, errors


def open_try(page: Page) -> None:
    player(page).get_by_text("Try it", exact=True).click()
    expect(player(page).locator('[data-pad="left"] kbd')).to_have_text("F")


def shown_rows(page: Page) -> dict[tuple[str, int], list[int]]:
    player(page).get_by_text("The numbers").click()
    found = {}
    for row in player(page).locator("[data-result] tbody tr").all():
        hand, cells = row.locator("th").inner_text(), row.locator("td").all_inner_texts()
        found[hand, int(cells[0])] = [int(number.replace("−", "-")) for number in cells[3].split()]
    return found


def known(count: int) -> np.ndarray:
    errors = np.random.default_rng(5).normal(0, 0.012, count)
    errors[3] = 0.042
    return errors


@pytest.mark.parametrize("kind", ["keys", "midi"])
def test_known_errors_are_shown_stroke_by_stroke(page: Page, people: Cast, enter, axe, kind: str):
    if kind == "midi":
        page.add_init_script(
            """navigator.requestMIDIAccess = async () => ({ inputs: new Map([["one", { name: "Stage piano" }]]) });"""
        )
    open_desk(page, people, enter)
    open_try(page)
    if kind == "midi":
        player(page).get_by_role("button", name="Use a MIDI keyboard").click()
        expect(player(page).locator("[data-try-said]")).to_have_text("Listening to Stage piano.")
    expected, errors = try_with(page, known, kind)
    rows = shown_rows(page)
    left = (errors - np.median(errors)) * 1000
    for (hand, count), shown in rows.items():
        mine = [
            error
            for one, error in zip(expected, left, strict=True)
            if one["hand"] == hand.split()[0].lower() and one["part"] + 1 == count
        ]
        # Rounded to milliseconds, and the two clocks are read at different moments.
        assert shown == pytest.approx(mine, abs=4)
    assert sum(map(len, rows.values())) == len(expected)
    expect(player(page).locator("[data-result] .dot")).to_have_count(len(expected))
    expect(player(page).locator("[data-result]")).to_contain_text("2 of 2 times every stroke lay within 50 ms.")
    axe(page)


def test_a_browser_without_midi_says_so(page: Page, people: Cast, enter):
    page.add_init_script("Object.defineProperty(navigator, 'requestMIDIAccess', { value: undefined });")
    open_desk(page, people, enter)
    open_try(page)
    player(page).get_by_role("button", name="Use a MIDI keyboard").click()
    expect(player(page).locator("[data-try-said]")).to_contain_text("does not let a page hear a MIDI keyboard")


def test_the_keys_are_changed_and_remembered(page: Page, people: Cast, enter):
    open_desk(page, people, enter)
    open_try(page)
    player(page).get_by_role("button", name="Another key for the left hand").click()
    page.keyboard.press("j")
    expect(player(page).locator("[data-try-said]")).to_contain_text("other hand’s already")
    page.keyboard.press("d")
    expect(player(page).locator('[data-pad="left"] kbd')).to_have_text("D")
    page.reload()
    player(page).get_by_text("Try it", exact=True).click()
    expect(player(page).locator('[data-pad="left"] kbd')).to_have_text("D")


def test_nothing_heard_is_said(page: Page, people: Cast, enter):
    open_desk(page, people, enter)
    open_try(page)
    bar = player(page)
    bar.get_by_label("Times round").select_option("2")
    bar.get_by_role("button", name="faster").click()
    bar.get_by_role("button", name="Begin").click()
    expect(bar.locator("[data-try-said]")).to_contain_text("Nothing was heard.", timeout=20_000)


def test_a_family_puts_a_try_into_todays_entry(phone: Page, people: Cast, enter, axe):
    passage = make.passage(edition=people.edition, hands="both")
    [span] = found_in(passage, [])
    plan_drill(passage=passage, start=span.start, end=span.end, tempo_now=160, tempo_goal=176)
    assigned = make.assigned(lesson=people.lesson, passage=passage)
    enter(phone, people.oda.user)
    phone.goto(reverse("this-week"))
    player(phone).get_by_text("Try it", exact=True).tap()
    expect(player(phone).locator('[data-pad="left"]')).to_be_visible()
    box = player(phone).locator('[data-pad="left"]').bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 88
    axe(phone)
    try_with(phone, lambda count: np.zeros(count))
    player(phone).get_by_role("button", name="Put it into today’s practice entry").tap()
    form = phone.locator("form.entry-form")
    expect(form.get_by_label("Minutes")).to_have_value("1")
    expect(form.get_by_label("Tempo")).to_have_value("120")
    expect(form.get_by_label("Passage")).to_have_value(str(assigned.pk))
    form.get_by_role("button", name="Write it down").tap()
    expect(phone.get_by_text("Written down")).to_be_visible()
    entry = PracticeEntry.objects.get()
    assert (entry.assigned, entry.tempo, entry.clean_runs, entry.tries, entry.minutes) == (assigned, 120, 2, 2, 1)


# Charts and plans


def test_a_chart_is_drawn_anew_for_a_phone(phone: Page, people: Cast, enter):
    open_desk(phone, people, enter)
    chart = phone.locator("svg.crossrhythm").first
    expect(chart).to_have_attribute("width", re.compile(r"^3[0-6]0$"))
    box = chart.bounding_box()
    assert box is not None
    assert box["x"] + box["width"] <= 390
    assert box["width"] == pytest.approx(float(chart.get_attribute("width") or 0), abs=1)


def test_a_plan_is_changed_by_keyboard_and_undone(page: Page, people: Cast, enter, axe):
    drill = open_desk(page, people, enter)
    page.get_by_role("link", name="Change the plan").click()
    second = page.locator(".desk-stage").nth(1).get_by_label("Stage")
    second.press("Alt+ArrowUp")
    expect(page.locator(".desk-stage").first.get_by_label("Stage")).to_have_value("Left hand alone")
    page.get_by_role("button", name="Add a stage").press("Enter")
    page.keyboard.type("Walk it")
    page.locator(".desk-stage").last.get_by_label("What to do").fill("Feet for the left hand.")
    axe(page)
    page.locator("#desk .desk-note button.main").press("Enter")
    expect(page.locator(".desk-stages li").first).to_contain_text("Left hand alone")
    expect(page.locator(".desk-stages li").last).to_contain_text("Feet for the left hand.")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".desk-stages li").first).to_contain_text("Right hand alone")
    # The desk was put in place anew: its player is there again.
    expect(player(page)).to_be_visible()
    before = drill.stages
    drill.refresh_from_db()
    assert json.dumps(drill.stages) == json.dumps(before)


def test_any_two_numbers_are_shown_and_played(page: Page, people: Cast, enter, axe):
    enter(page, people.oda.user)
    page.goto(reverse("cross-rhythm"))
    page.get_by_label("Right hand", exact=True).fill("8")
    page.get_by_label("Left hand", exact=True).fill("3")
    page.get_by_role("button", name="Show it").click()
    expect(page.locator("main")).to_contain_text("Grid of 24 parts.")
    axe(page)
    page.get_by_role("button", name="Play Both hands").click()
    expect(player(page).locator("[data-said]")).to_contain_text("Both hands: 1 of 5.", timeout=15_000)
