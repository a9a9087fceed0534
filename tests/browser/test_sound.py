"""The sound engine against arithmetic: rendered offline into memory, and driven by a clock that stumbles."""

from fractions import Fraction

import pytest
from playwright.sync_api import Page

from tests.people import Cast

pytestmark = pytest.mark.browser

RATE = 44_100
MILLISECOND = 0.001

# Renders a schedule with the engine's own instrument into memory, handed over in small windows as while playing.
RENDER = """async ({ events, keys, seconds, how }) => {
  const place = document.getElementById("sound").dataset;
  const { open, Schedule, Instrument } = await import(place.engine);
  const live = await open(place, { keys });
  const context = new window.Tone.OfflineContext(1, seconds, 44100);
  const instrument = new Instrument(window.Tone, context, live.keys);
  const schedule = new Schedule({ events, ...how });
  for (let now = 0; now < seconds; now += 0.025)
    for (const due of schedule.take(Math.min(seconds, now + 0.2))) instrument.play(due);
  window.wave = (await context.render()).get().getChannelData(0);
}"""
# Where something begins after 30 ms of silence.
BEGINNINGS = """() => {
  const found = [];
  let last = -Infinity;
  for (let place = 0; place < wave.length; place += 1) {
    if (Math.abs(wave[place]) < 0.05) continue;
    if (place - last > 0.03 * 44100) found.push(place / 44100);
    last = place;
  }
  return found;
}"""
# Where a key that is struck about then reaches a fifth of its loudest.
STROKES = """(times) => times.map((time) => {
  const [from, until] = [Math.round((time - 0.1) * 44100), Math.round((time + 0.5) * 44100)];
  const part = wave.subarray(Math.max(0, from), until).map(Math.abs);
  const loudest = part.reduce((a, b) => Math.max(a, b), 0);
  return (Math.max(0, from) + part.findIndex((one) => one >= loudest / 5)) / 44100;
})"""


@pytest.fixture
def metronome(page: Page, people: Cast, enter) -> Page:
    enter(page, people.oda.user)
    page.goto("/metronome/")
    page.locator("#metronome").wait_for()
    return page


def render(page: Page, events: list[dict], seconds: float, *, keys: list[int] = (), **how) -> list[float]:
    """Where something begins, in seconds."""
    page.locator("h1").click()  # sound may come out only after a touch
    page.evaluate(RENDER, {"events": events, "keys": list(keys), "seconds": seconds, "how": how})
    return page.evaluate(BEGINNINGS)


def test_clicks_lie_within_a_millisecond_of_exact_for_five_minutes(metronome: Page):
    """Twenty-two thirds of a quarter go round at 97: nothing here is a whole number of samples."""
    places = [Fraction(0), Fraction(2, 3), Fraction(31, 7)]
    cycle, tempo, seconds = Fraction(22, 3), 97, 300
    heard = render(
        metronome,
        [{"at": str(place), "click": True, "strong": place == 0} for place in places],
        seconds,
        until=str(cycle),
        loop=True,
        tempo=tempo,
        start=0.5,
    )
    exact, turn = [], 0
    while True:
        times = [Fraction(1, 2) + (place + turn * cycle) * 60 / tempo for place in places]
        exact.extend(time for time in times if time < seconds)
        turn += 1
        if times[-1] >= seconds:
            break
    assert len(heard) == len(exact) > 190
    errors = [at - float(time) for at, time in zip(heard, exact, strict=True)]
    assert max(map(abs, errors)) < MILLISECOND
    # Rounding to a sample at most: the last minute is as exact as the first.
    assert max(map(abs, errors[-40:])) <= 1.5 / RATE
    assert max(map(abs, errors[:40])) <= 1.5 / RATE


def test_the_recorded_piano_is_struck_within_a_millisecond_of_exact(metronome: Page):
    """Keys that were recorded and keys between them, loud and soft: where each reaches a fifth of its loudest."""
    keys = [45, 52, 60, 61, 67, 72, 83, 90]
    events = [
        {"at": f"{7 * place}/3", "length": 1, "key": key, "velocity": 0.8 if place % 2 else 0.5}
        for place, key in enumerate(keys)
    ]
    render(metronome, events, 24, keys=keys, tempo=60, start=0.25)
    exact = [0.25 + 7 * place / 3 for place in range(len(keys))]
    heard = metronome.evaluate(STROKES, exact)
    assert heard == pytest.approx(exact, abs=MILLISECOND)


def test_a_change_of_tempo_inside_a_passage_is_kept(metronome: Page):
    clicks = [{"at": place, "click": True} for place in range(8)]
    heard = render(metronome, clicks, 8, tempo=60, start=0, tempos=[["0", 1], ["2", 2], ["9/2", 0.5]])
    # Two quarters at 60, two and a half at 120, the rest at 30.
    exact = [0, 1, 2, 2.5, 3, 4.25, 6.25]
    assert heard[:7] == pytest.approx(exact, abs=MILLISECOND)


STUMBLE = """async ({ events, how, seconds, steps }) => {
  const { Schedule } = await import(document.getElementById("sound").dataset.engine);
  const whole = new Schedule({ events, ...how }).take(seconds);
  const stumbling = new Schedule({ events, ...how });
  const found = [];
  let now = 0;
  for (let step = 0; now < seconds; step += 1) {
    now += steps[step % steps.length];
    found.push(...stumbling.take(Math.min(now, seconds)));
  }
  const told = (due) => [due.time, due.event.name, due.turn, due.seconds];
  return [whole.map(told), found.map(told)];
}"""


def test_a_clock_that_stumbles_loses_nothing_and_plays_nothing_twice(metronome: Page):
    events = [{"at": f"{place}/7", "length": "1/7", "name": str(place)} for place in range(14)]
    how = {"until": 2, "loop": True, "tempo": 111, "start": 0}
    given = {"events": events, "how": how, "seconds": 300, "steps": [0.025, 0.4, 0.001, 1.7, 0.02]}
    whole, stumbling = metronome.evaluate(STUMBLE, given)
    assert whole == stumbling
    for count, (time, name, turn, seconds) in enumerate(whole):
        assert (int(name), turn) == (count % 14, count // 14)
        assert time == pytest.approx(float(Fraction(count, 7) * 60 / 111), abs=1e-9)
        assert seconds == pytest.approx(60 / 111 / 7, abs=1e-9)
    assert len(whole) == -(-300 * 7 * 111 // 60)


def test_an_ornament_before_the_first_beat_sounds_at_the_end_of_the_turn_before(metronome: Page):
    told = metronome.evaluate(
        """async () => {
          const { Schedule } = await import(document.getElementById("sound").dataset.engine);
          const events = [{ at: "-1/8", name: "grace" }, { at: 0, name: "main" }, { at: 1, name: "last" }];
          const lead = [{ at: -2, name: "count" }, { at: -1, name: "count" }];
          const how = { events, from: 0, until: 2, tempo: 60, start: 10, loop: 2, lead };
          return new Schedule(how).take(100).map(({ time, event, turn }) => [time, event.name, turn]);
        }"""
    )
    assert told == [
        [10, "count", 0], [11, "count", 0], [11.875, "grace", 0], [12, "main", 0], [13, "last", 0],
        [13.875, "grace", 1], [14, "main", 1], [15, "last", 1],
    ]  # fmt: skip


def test_a_click_can_come_in_every_third_turn_alone(metronome: Page):
    told = metronome.evaluate(
        """async () => {
          const { Schedule } = await import(document.getElementById("sound").dataset.engine);
          const events = [{ at: 0, name: "click", every: 3 }, { at: "1/2", name: "note" }];
          const schedule = new Schedule({ events, until: 1, tempo: 60, start: 0, loop: 6 });
          return schedule.take(100).map(({ time, event }) => [time, event.name]);
        }"""
    )
    assert [time for time, name in told if name == "click"] == [0, 3]
    assert [time for time, name in told if name == "note"] == [0.5, 1.5, 2.5, 3.5, 4.5, 5.5]


def test_another_tempo_holds_from_its_moment_on(metronome: Page):
    told = metronome.evaluate(
        """async () => {
          const { Schedule } = await import(document.getElementById("sound").dataset.engine);
          const events = [0, 1, 2, 3].map((at) => ({ at }));
          const schedule = new Schedule({ events, until: 4, tempo: 60, start: 0, loop: true });
          const before = schedule.take(2.5).map(({ time }) => time);
          schedule.retime(120, 2.5);
          return [before, schedule.take(5).map(({ time }) => time), schedule.at(2.75)];
        }"""
    )
    assert told == [[0, 1, 2], [2.75, 3.25, 3.75, 4.25, 4.75], {"position": 3, "turn": 0}]


@pytest.mark.parametrize("tempo", [0, -60, "Infinity", "NaN"])
def test_a_tempo_of_nought_is_refused_and_not_waited_for(metronome: Page, tempo):
    told = metronome.evaluate(
        """async (tempo) => {
          const { Schedule } = await import(document.getElementById("sound").dataset.engine);
          try { new Schedule({ events: [], tempo: Number(tempo) }); } catch (wrong) { return wrong.code; }
        }""",
        tempo,
    )
    assert told == "tempo"


def test_only_the_recorded_keys_nearest_to_what_is_played_are_fetched(metronome: Page):
    fetched = []
    metronome.on("request", lambda request: fetched.append(request.url))
    metronome.locator("h1").click()
    metronome.evaluate(
        """async () => {
          const place = document.getElementById("sound").dataset;
          await (await import(place.engine)).open(place, { keys: [59, 60, 61, 62, 64] });
        }"""
    )
    recorded = sorted(url.split("/")[-1] for url in fetched if url.endswith(".mp3"))
    assert recorded == ["60.mp3", "63.mp3"]


# Taps: the median of the last gaps, slips left out


@pytest.mark.parametrize(
    ("moments", "tempo", "count"),
    [
        ([0, 500, 1000, 1500], 120, 4),
        ([0, 500, 1000, 1500, 2500, 3000], 120, 5),  # one tap was missed
        ([0, 600, 610, 1200, 1800, 2400], 100, 5),  # one bounced
        ([0, 500, 5000, 5750, 6500], 80, 3),  # begun anew after a pause
        ([0, 480, 1000, 1490, 2010], 118.8, 5),  # unsteady: 480, 520, 490, 520
    ],
)
def test_taps_give_the_tempo_that_was_meant(metronome: Page, moments, tempo, count):
    told = metronome.evaluate(
        "async (moments) => (await import(document.getElementById('metronome').dataset.taps)).tapped(moments)", moments
    )
    assert told["tempo"] == pytest.approx(tempo, rel=0.003)
    assert told["count"] == count


@pytest.mark.parametrize("moments", [[], [100], [0, 9000], [5, 5]])
def test_too_few_taps_are_no_tempo(metronome: Page, moments):
    told = metronome.evaluate(
        "async (moments) => (await import(document.getElementById('metronome').dataset.taps)).tapped(moments)", moments
    )
    assert told is None
