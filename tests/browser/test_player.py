"""The player on the desk and on a family's page: what is pressed, what is marked, what is said when sound fails."""

import json
import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, expect

from scores.models import OrnamentChoice
from tests import make
from tests.people import Cast

pytestmark = pytest.mark.browser

# Keeps what the engine hands to its instrument: [when in seconds, key or "click", voice].
LISTEN = """async () => {
  const { Instrument } = await import(document.getElementById("sound").dataset.engine);
  window.struck = [];
  const { strike, click } = Instrument.prototype;
  Instrument.prototype.strike = function (key, how) {
    struck.push([how.time, key, how.voice]);
    strike.call(this, key, how);
  };
  Instrument.prototype.click = function (time, how) {
    struck.push([time, "click", how?.strong ?? false]);
    click.call(this, time, how);
  };
}"""
NO_SOUND = """
Object.defineProperty(BaseAudioContext.prototype, "state", { get: () => "suspended" });
AudioContext.prototype.resume = () => new Promise(() => {});
"""


@pytest.fixture
def passage(people: Cast):
    return make.passage(edition=people.edition, hands="both")


def open_desk(page: Page, people: Cast, passage, enter) -> Page:
    enter(page, people.teacher)
    page.goto(reverse("desk", kwargs={"pk": passage.pk}))
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    return page


@pytest.fixture
def desk(page: Page, people: Cast, passage, enter) -> Page:
    return open_desk(page, people, passage, enter)


def quickly(page: Page, **choices: str) -> None:
    """Sets the rarer choices of the player."""
    page.locator(".player summary").click()
    for name, value in choices.items():
        page.locator(f"[data-{name}]").select_option(value)


def play(page: Page) -> None:
    page.get_by_role("button", name="Play").click()


def said(page: Page):
    return page.locator("[data-said]").first


def struck(page: Page) -> list[list]:
    return page.evaluate("struck")


def ended(page: Page) -> None:
    expect(page.get_by_role("button", name="Play")).to_be_visible(timeout=30_000)


def test_every_note_is_struck_at_its_exact_distance_from_the_first(desk: Page, passage, people: Cast, client):
    client.force_login(people.teacher, backend="django.contrib.auth.backends.ModelBackend")
    data = json.loads(client.get(reverse("sounding", kwargs={"pk": passage.pk})).content)
    desk.evaluate(LISTEN)
    desk.locator("[data-tempo]").fill("200")
    desk.locator("[data-tempo]").press("Enter")
    quickly(desk, count="0")
    play(desk)
    expect(desk.get_by_role("button", name="Stop")).to_be_visible()
    ended(desk)
    heard = struck(desk)
    start = heard[0][0]

    def quarters(text: str) -> float:
        over, _, under = text.partition("/")
        return int(over) / int(under or 1)

    wanted = sorted(
        (quarters(at) * 60 / 200, key, "right" if hand == "r" else "left") for at, _, key, hand, *_ in data["notes"]
    )
    found = sorted((time - start + wanted[0][0], key, voice) for time, key, voice in heard)
    assert [one[1:] for one in found] == [one[1:] for one in wanted]
    assert [one[0] for one in found] == pytest.approx([one[0] for one in wanted], abs=0.001)


def test_a_mark_moves_over_the_engraved_notes_and_goes_with_the_sound(desk: Page):
    quickly(desk, count="0")
    desk.locator("[data-tempo]").fill("40")
    play(desk)
    marked = desk.locator("#desk-music g.note.sounding")
    expect(marked.first).to_be_visible()
    first = marked.first.get_attribute("data-note")
    expect(desk.locator(f'#desk-music g.note.sounding[data-note="{first}"]')).to_have_count(0)
    expect(marked.first).to_be_attached()
    desk.get_by_role("button", name="Stop").click()
    expect(marked).to_have_count(0)


# Keeps which heads of ossias are lit, in order: [ornament, placement, which of its notes].
WATCH_OSSIAS = """() => {
  window.lit = [];
  new MutationObserver((changes) => {
    for (const { target } of changes)
      if (target.matches(".ossia g.note.sounding[data-order]"))
        lit.push([target.dataset.ornament, target.dataset.ossia, Number(target.dataset.order)]);
  }).observe(document.getElementById("ornaments"), { subtree: true, attributeFilter: ["class"] });
}"""


def test_an_ornament_written_out_is_lit_as_it_falls(desk: Page, passage):
    grace = next(note.id for note in passage.edition.score.notes if note.is_grace)
    turn = next(note.id for note in passage.edition.score.notes if note.ornaments)
    desk.evaluate(WATCH_OSSIAS)
    quickly(desk, count="0")
    choice = desk.get_by_label(re.compile("grace note C5"))
    desk.locator("[data-tempo]").fill("60")  # slow enough for a busy machine to show every note
    expect(choice).to_have_value("on")
    play(desk)
    expect(desk.get_by_role("button", name="Stop")).to_be_visible()
    ended(desk)
    heard = desk.evaluate("lit")
    assert [one for one in heard if one[0] == grace] == [[grace, "on", 0], [grace, "on", 1]]
    assert [one for one in heard if one[0] == turn] == [[turn, "on", place] for place in range(4)]
    expect(desk.locator("g.note.sounding")).to_have_count(0)
    desk.evaluate("lit.length = 0")
    choice.select_option("before")
    play(desk)
    expect(desk.get_by_role("button", name="Stop")).to_be_visible()
    ended(desk)
    assert [one for one in desk.evaluate("lit") if one[0] == grace] == [[grace, "before", 0], [grace, "before", 1]]


def test_the_page_stays_where_the_ornaments_are_looked_at(desk: Page):
    system = desk.locator("#ornaments .system").first
    quickly(desk, count="0")
    desk.locator("[data-tempo]").fill("60")
    system.evaluate("(system) => system.scrollIntoView({ block: 'center' })")
    play(desk)
    expect(system.locator("g.note.sounding").first).to_be_attached()
    box = system.bounding_box()
    assert 0 <= box["y"] <= 900 - box["height"]
    desk.get_by_role("button", name="Stop").click()


def test_it_counts_in_and_clicks_as_chosen(desk: Page):
    desk.evaluate(LISTEN)
    desk.locator("[data-tempo]").fill("208")
    quickly(desk, count="1", click="measure", hands="0 1")
    play(desk)
    expect(desk.get_by_role("button", name="Stop")).to_be_visible()
    ended(desk)
    clicks = [(time, strong) for time, key, strong in struck(desk) if key == "click"]
    first_note = min(time for time, key, _ in struck(desk) if key != "click")
    lead = [strong for time, strong in clicks if time < first_note - 0.001]
    # The passage begins with a pick-up on the third beat of three: 1 2 3 1 2, then the music.
    assert lead == [True, False, False, True, False]
    # After that, the first of each of the four measures.
    assert [strong for time, strong in clicks if time > first_note] == [True] * 4


def test_one_hand_alone_lets_the_other_be_silent_and_unmarked(desk: Page):
    desk.locator("[data-hands]").select_option("0 1")
    quickly(desk, count="0")
    desk.locator("[data-tempo]").fill("40")
    play(desk)
    expect(desk.locator("#desk-music g.note.sounding").first).to_be_visible()
    levels = """async () => {
      const place = document.getElementById("sound").dataset;
      const sound = await (await import(place.engine)).open(place, {});
      return ["right", "left"].map((voice) => sound.instrument.levels.get(voice));
    }"""
    assert desk.evaluate(levels) == [0, 1]
    desk.locator("[data-hands]").select_option(".35 1")
    assert desk.evaluate(levels) == [0.35, 1]
    desk.get_by_role("button", name="Stop").click()


def test_both_placements_of_an_ornament_can_be_heard(desk: Page):
    desk.evaluate(LISTEN)
    quickly(desk, count="0")
    choice = desk.get_by_label(re.compile("grace note C5"))
    expect(choice).to_have_value("on")
    desk.locator("[data-tempo]").fill("60")

    def grace_to_main() -> tuple[float, float]:
        play(desk)
        expect(desk.locator("#desk-music g.note.sounding").first).to_be_attached()
        expect(desk.get_by_role("button", name="Stop")).to_be_visible()
        desk.wait_for_timeout(2200)
        desk.get_by_role("button", name="Stop").click()
        notes = [one for one in struck(desk) if one[2] == "right"]
        desk.evaluate("struck.length = 0")
        first = notes[0][0]
        place = next(place for place, one in enumerate(notes) if one[1] == 72)
        return notes[place][0] - first, notes[place + 1][0] - first

    grace, main = grace_to_main()
    assert grace == pytest.approx(1.5, abs=0.001)
    assert grace < main
    with desk.expect_response(re.compile(r"/sounding/\?before=")):
        choice.select_option("before")
    grace, main = grace_to_main()
    assert main == pytest.approx(1.5, abs=0.001)
    assert grace < main
    assert not OrnamentChoice.objects.exists()  # trying out is not choosing


def test_it_goes_round_until_the_loop_is_taken_off(desk: Page):
    desk.evaluate(LISTEN)
    desk.locator("[data-tempo]").fill("300")
    quickly(desk, count="0")
    desk.get_by_label("Again and again").check()
    play(desk)
    notes = len(
        json.loads(
            desk.evaluate("fetch(document.querySelector('[data-player]').dataset.sounding).then((a) => a.text())")
        )["notes"]
    )
    expect(desk.get_by_role("button", name="Stop")).to_be_visible()
    for _ in range(200):
        if len(struck(desk)) > notes:
            break
        desk.wait_for_timeout(100)
    desk.get_by_label("Again and again").uncheck()
    ended(desk)
    assert len(struck(desk)) >= 2 * notes
    assert len(struck(desk)) % notes == 0


def test_a_page_that_is_left_has_enough_to_go_on_with(desk: Page):
    """A tab that is not seen gets its turn once a second."""
    desk.evaluate(LISTEN)
    quickly(desk, count="0", click="beat")
    desk.locator("[data-tempo]").fill("100")
    desk.get_by_label("Again and again").check()
    play(desk)
    expect(desk.locator("#desk-music g.note.sounding").first).to_be_attached()
    ahead = desk.evaluate(
        """() => {
          Object.defineProperty(document, "hidden", { get: () => true });
          document.dispatchEvent(new Event("visibilitychange"));
          return Math.max(...struck.map(([time]) => time)) - Tone.getContext().currentTime;
        }"""
    )
    assert 1 < ahead < 1.7
    desk.get_by_role("button", name="Stop").click()


def test_tempo_steps_go_along_the_standard_marks(desk: Page):
    tempo = desk.locator("[data-tempo]")
    tempo.fill("61.5")
    for step, wanted in (("faster", "63"), ("faster", "66"), ("slower", "63"), ("slower", "60"), ("slower", "58")):
        desk.get_by_role("button", name=f"One mark {step}").click()
        expect(tempo).to_have_value(wanted)
    tempo.fill("208")
    desk.get_by_role("button", name="One mark faster").click()
    expect(tempo).to_have_value("216")
    tempo.fill("20")
    desk.get_by_role("button", name="One mark slower").click()
    expect(tempo).to_have_value("20")


@pytest.mark.parametrize("typed", ["0", "-5", "", "100000"])
def test_a_tempo_that_nobody_plays_at_is_answered_in_words(desk: Page, typed):
    desk.locator("[data-tempo]").fill(typed)
    play(desk)
    expect(said(desk)).to_have_text("A tempo lies between 20 and 300 beats a minute.")
    expect(desk.get_by_role("button", name="Play")).to_be_visible()
    desk.locator("[data-tempo]").fill("60")
    desk.locator("[data-tempo]").press("Enter")
    expect(said(desk)).to_have_text("")


def test_space_plays_and_stops_but_types_in_a_field(desk: Page):
    desk.locator("h1").click()
    desk.keyboard.press(" ")
    expect(desk.get_by_role("button", name="Stop")).to_be_visible()
    desk.keyboard.press(" ")
    expect(desk.get_by_role("button", name="Play")).to_be_visible()
    field = desk.get_by_label("Cue", exact=True)
    field.fill("slow")
    field.press(" ")
    expect(field).to_have_value("slow ")
    expect(desk.get_by_role("button", name="Play")).to_be_visible()
    desk.locator("h1").click()
    desk.keyboard.press("?")
    expect(desk.locator("#keys")).to_contain_text("Play the passage, stop it")


def test_nothing_of_the_sound_is_fetched_before_it_is_wanted(page: Page, people: Cast, passage, enter):
    fetched: list[str] = []
    page.on("request", lambda request: fetched.append(request.url))
    open_desk(page, people, passage, enter)
    page.wait_for_load_state("networkidle")
    heavy = [url for url in fetched if "Tone" in url or ".mp3" in url or "/sounding/" in url]
    assert heavy == []
    play(page)
    expect(page.locator("#desk-music g.note.sounding").first).to_be_attached(timeout=20_000)
    assert sum("Tone" in url for url in fetched) == 1
    # Keys 43 to 80 lie near a dozen recorded ones of thirty.
    assert 8 <= sum(".mp3" in url for url in fetched) <= 14
    page.get_by_role("button", name="Stop").click()
    before = len(fetched)
    play(page)
    expect(page.get_by_role("button", name="Stop")).to_be_visible()
    page.wait_for_timeout(300)
    assert len(fetched) == before


# What goes wrong


def blocked(page: Page, pattern: str) -> None:
    page.route(re.compile(pattern), lambda route: route.fulfill(status=404, body=""))


@pytest.mark.parametrize(
    ("pattern", "words"),
    [
        (r"/sound/piano/\d+\.mp3", "The recorded piano could not be fetched."),
        (r"/sound/piano/$", "The recorded piano could not be fetched."),
        (r"/sound/Tone", "The sound could not be fetched."),
        (r"/sounding/", "The notes could not be fetched."),
    ],
)
def test_what_could_not_be_fetched_is_said_and_can_be_tried_again(desk: Page, pattern, words):
    blocked(desk, pattern)
    play(desk)
    expect(said(desk)).to_contain_text(words)
    expect(desk.get_by_role("button", name="Play")).to_be_visible()
    desk.unroute(re.compile(pattern))
    play(desk)
    expect(desk.locator("#desk-music g.note.sounding").first).to_be_attached(timeout=20_000)
    expect(said(desk)).to_have_text("")
    desk.get_by_role("button", name="Stop").click()


def test_a_browser_that_lets_no_sound_out_is_answered_in_words(page: Page, people: Cast, passage, enter):
    page.add_init_script(NO_SOUND)
    open_desk(page, people, passage, enter)
    play(page)
    expect(said(page)).to_contain_text("The browser does not let sound out.")
    expect(page.get_by_role("button", name="Play")).to_be_visible()


def test_a_browser_without_audio_is_answered_in_words(page: Page, people: Cast, passage, enter):
    page.add_init_script("delete window.AudioContext; delete window.webkitAudioContext;")
    open_desk(page, people, passage, enter)
    play(page)
    expect(said(page)).to_contain_text("The browser does not let sound out.")


@pytest.mark.parametrize("part", ["sound", "schedule", "recordings"])
def test_an_engine_that_does_not_come_is_said_in_words(page: Page, people: Cast, passage, enter, part: str):
    blocked(page, rf"/scores/{part}\b")
    open_desk(page, people, passage, enter)
    play(page)
    expect(said(page)).to_contain_text("The sound could not be fetched.")
    expect(page.get_by_role("button", name="Play")).to_be_visible()


def test_a_press_while_the_piano_is_fetched_takes_the_first_one_back(desk: Page):
    waiting = []
    desk.route(re.compile(r"\.mp3"), lambda route: waiting.append(route))
    play(desk)
    expect(said(desk)).to_contain_text("Fetching the piano")
    expect(desk.get_by_role("progressbar", name="Fetching the piano")).to_be_visible()
    desk.get_by_role("button", name="Stop").click()
    expect(desk.get_by_role("button", name="Play")).to_be_visible()
    for route in waiting:
        route.continue_()
    desk.unroute(re.compile(r"\.mp3"))
    desk.wait_for_timeout(800)
    expect(desk.get_by_role("button", name="Play")).to_be_visible()
    expect(desk.locator("#desk-music g.note.sounding")).to_have_count(0)


# At home


@pytest.fixture
def week(people: Cast):
    """Two passages given to Oda."""
    notes = people.edition.score
    lesson = make.lesson(student=people.oda, starts_at=timezone.now() - timedelta(days=2))
    whole = make.passage(edition=people.edition, hands="both")
    part = make.passage(edition=people.edition, first=notes.in_measures(3, 3, "right")[0].id)
    return [make.assigned(lesson=lesson, passage=one) for one in (whole, part)]


def test_only_one_passage_sounds_at_a_time(page: Page, people: Cast, week, enter):
    enter(page, people.oda.user)
    page.goto("/this-week/")
    first, second = (page.locator(f"#passage-{row.pk}") for row in week)
    first.get_by_role("button", name="Play").click()
    expect(first.locator("g.note.sounding").first).to_be_attached(timeout=20_000)
    second.get_by_role("button", name="Play").click()
    expect(second.locator("g.note.sounding").first).to_be_attached(timeout=20_000)
    expect(first.get_by_role("button", name="Play")).to_be_visible()
    expect(first.locator("g.note.sounding")).to_have_count(0)
    second.get_by_role("button", name="Stop").click()


def test_on_a_phone_the_player_stays_under_the_thumb(phone: Page, people: Cast, week, enter, axe):
    enter(phone, people.birger.user)
    phone.goto(f"/children/{people.oda.pk}/")
    section = phone.locator(f"#passage-{week[0].pk}")
    section.locator("h2").scroll_into_view_if_needed()
    play_button = section.get_by_role("button", name="Play")
    box = play_button.bounding_box()
    assert box["y"] + box["height"] <= 844
    assert box["height"] >= 44
    axe(phone)
    section.locator(".player summary").tap()
    expect(section.get_by_label("Count in")).to_be_visible()
    expect(section.get_by_role("link", name="CC BY 3.0")).to_be_visible()
    axe(phone)
    section.locator(".player summary").tap()
    play_button.tap()
    expect(section.locator("g.note.sounding").first).to_be_attached(timeout=20_000)
    section.get_by_role("button", name="Stop").tap()


def apart(page: Page) -> bool:
    """Whether the bar that fingers are typed in and the player lie apart."""
    typing, player = page.locator("#typing").bounding_box(), page.locator(".player").bounding_box()
    return typing["y"] + typing["height"] <= player["y"] + 0.5 or player["y"] + player["height"] <= typing["y"] + 0.5


def test_the_bar_for_fingers_and_the_player_do_not_lie_on_each_other(page: Page, phone: Page, people: Cast, enter):
    line = make.fingering(passage=make.passage(edition=people.edition), fingers={})
    for one, wide in ((page, 1280), (phone, 390)):
        one.set_viewport_size({"width": wide, "height": 500})  # so low that both want to be at its foot
        enter(one, people.teacher)
        one.goto(reverse("desk", kwargs={"pk": line.passage_id}))
        expect(one.get_by_role("button", name="Play").first).to_be_visible()
        one.get_by_role("button", name="Type over the notes").or_(one.get_by_text("Type over the notes")).first.click()
        expect(one.locator(".typing-pad")).to_be_visible()
        one.evaluate("scrollTo(0, 0)")
        assert apart(one)
        one.evaluate("document.activeElement.blur()")
        one.evaluate("scrollTo(0, 0)")
        assert apart(one)
        one.locator("[data-tempo]").first.fill("0")
        one.locator("[data-tempo]").first.press("Enter")
        expect(said(one)).not_to_be_empty()
        one.evaluate("scrollTo(0, 0)")
        assert apart(one)


def test_the_desk_with_its_player_breaks_no_rule_of_access(desk: Page, axe):
    desk.locator(".player summary").click()
    expect(desk.get_by_label(re.compile("grace note C5"))).to_be_visible()
    axe(desk)


# The metronome by itself


@pytest.fixture
def metronome(phone: Page, people: Cast, enter) -> Page:
    enter(phone, people.oda.user)
    phone.goto("/metronome/")
    expect(phone.get_by_role("button", name="Start")).to_be_visible()
    return phone


def test_the_metronome_strikes_evenly_with_accents_and_smaller_beats(metronome: Page, axe):
    axe(metronome)
    metronome.evaluate(LISTEN)
    metronome.get_by_label("Tempo, beats a minute").fill("200")
    metronome.get_by_label("Beats to a measure").fill("3")
    metronome.get_by_label("Each beat in").select_option("2")
    metronome.get_by_role("button", name="Start").click()
    expect(metronome.locator(".metronome-beats li.now")).to_have_count(1)
    metronome.wait_for_timeout(2500)
    metronome.get_by_role("button", name="Stop").click()
    expect(metronome.locator(".metronome-beats li.now")).to_have_count(0)
    heard = struck(metronome)
    assert len(heard) > 12
    assert [strong for *_, strong in heard[:12]] == [True, *[False] * 5] * 2
    assert [time - heard[0][0] for time, *_ in heard] == pytest.approx(
        [place * 60 / 200 / 2 for place in range(len(heard))], abs=0.001
    )


def test_the_metronome_obeys_keys_and_taps(metronome: Page):
    tempo = metronome.get_by_label("Tempo, beats a minute")
    metronome.locator("h1").click()
    metronome.keyboard.press("ArrowUp")
    expect(tempo).to_have_value("63")
    metronome.keyboard.press("5")
    expect(metronome.locator(".metronome-beats li")).to_have_count(5)
    metronome.keyboard.press(" ")
    expect(metronome.get_by_role("button", name="Stop")).to_be_visible()
    metronome.keyboard.press(" ")
    expect(metronome.get_by_role("button", name="Start")).to_be_visible()
    for _ in range(4):
        metronome.keyboard.press("t")
        metronome.wait_for_timeout(500)
    expect(said(metronome)).to_contain_text("taps")
    assert 90 <= int(tempo.input_value()) <= 121


@pytest.mark.parametrize("typed", ["0", "500", ""])
def test_the_metronome_answers_a_tempo_it_does_not_have(metronome: Page, typed):
    metronome.get_by_label("Tempo, beats a minute").fill(typed)
    metronome.get_by_role("button", name="Start").click()
    expect(said(metronome)).to_have_text("A tempo lies between 20 and 208 beats a minute.")


def test_a_metronome_without_sound_says_so(metronome: Page):
    blocked(metronome, r"/sound/Tone")
    metronome.get_by_role("button", name="Start").click()
    expect(said(metronome)).to_contain_text("The sound could not be fetched.")
