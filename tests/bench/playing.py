"""What is heard: what the player weighs before it is pressed, how soon it sounds, and the notes of a piece as data."""

from __future__ import annotations

import gzip
import json
import os
import re
import shutil
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from statistics import median

from django.conf import settings
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse
from playwright.sync_api import sync_playwright

from scores.music.sounding import to_data, whole
from scores.reading_files.reading import read
from scores.writing_midi import midi
from tests.bench import bare
from tests.bench.material import polonaise
from tests.bench.measure import Row, lib, medians
from tests.bench.memory import free_port, web_process
from tests.bench.queries import demo

LIGHT = 25.0  # kilobytes, compressed
SOON = 100.0  # milliseconds
PRESSES = 9
OURS = re.compile(r'<(?:script|link)[^>]+?(?:src|href)="/static/(scores/(?:player|sound|schedule|recordings)\b[^"]*)"')
PRESS_TO_SOUND = "performance.getEntriesByName('passage: press to first sound').map((one) => one.duration)"


def rows() -> Iterator[Row]:
    yield weight_row()
    yield from data_rows()
    yield sound_row()


def weight_row() -> Row:
    """Everything of the player that a page brings along before it is pressed."""
    client = logged_in()
    page = client.get(desk()).content.decode()
    section = page[page.index('<section class="player"') : page.rindex("</noscript>")]
    files = [Path(finders.find(name)).read_bytes() for name in OURS.findall(page)]
    weight = sum(len(gzip.compress(part)) for part in [*files, section.encode()]) / 1000
    return Row("the player on a page, before it is pressed", weight, "limit", LIGHT, 1, unit="kB")


def data_rows() -> Iterator[Row]:
    path = polonaise(3)
    score = read(path.name, path.read_bytes()).score
    parse, told, written = medians(
        partial(bare.parse, path), lambda: json.dumps(to_data(whole(score))), lambda: midi(whole(score)), times=5
    )
    peer = f"{lib('music21')} parse of the same piece"
    yield Row("the notes of Polonaise 3 as data for the player", told, peer, parse, 1 / 4)
    yield Row("Polonaise 3 as a MIDI file", written, peer, parse, 1 / 4)
    size = len(gzip.compress(json.dumps(to_data(whole(score))).encode())) / 1000
    yield Row("the size of these data, compressed", size, "limit", LIGHT, 1, unit="kB")


def sound_row() -> Row:
    """From the press to what is at the loudspeaker, as the browser tells it, once everything is there."""
    port = free_port()
    executable = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, ("chromium", "google-chrome"))))
    session = logged_in().cookies[settings.SESSION_COOKIE_NAME]
    with web_process(port), sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=executable, args=["--no-sandbox"])
        page = browser.new_page()
        home = f"http://localhost:{port}"
        page.context.add_cookies([{"name": session.key, "value": session.value, "url": home}])
        page.goto(home + desk(), wait_until="networkidle")
        for press in range(2 * (PRESSES + 1)):
            page.locator("[data-play]").click()
            if press == 0:
                page.locator("g.note.sounding").first.wait_for(state="attached", timeout=60_000)
            page.wait_for_timeout(150)
        found = page.evaluate(PRESS_TO_SOUND)
        browser.close()
    return Row("press to first sound, once loaded", median(found[1:]), "limit", SOON, 1)


def desk() -> str:
    return reverse("desk", kwargs={"pk": demo().passage.pk})


def logged_in() -> Client:
    client = Client(headers={"host": "localhost"})
    client.force_login(demo().users["teacher"], backend="django.contrib.auth.backends.ModelBackend")
    return client
