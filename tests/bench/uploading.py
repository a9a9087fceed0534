"""From a sent file to its first engraved page, and the same music engraved again."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

import verovio
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from scores import workshop
from scores.engraving import engrave_cached
from scores.reading_files.reading import read
from studio.models import Role
from tests import make
from tests.bench import bare
from tests.bench.material import polonaise
from tests.bench.measure import Row, lib, medians, milliseconds

RUNS = 7
AT_MOST = 2.0
AGAIN_AT_MOST = 1 / 20


def teacher() -> Client:
    """A teacher of a studio of her own, logged in."""
    user = make.user(studio=make.studio(), role=Role.TEACHER, email="bench@example.org", name="Ines Valtonen")
    client = Client(SERVER_NAME="localhost")
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def send(client: Client, path: Path) -> None:
    """Sends a file as a new piece and opens its page, which has the first systems on it."""
    with path.open("rb") as file:
        answer = client.post(reverse("new-piece"), {"file": file, "title": path.stem}, follow=True)
    if answer.status_code != 200 or b'class="engraving"' not in answer.content:
        raise RuntimeError(f"{path.name}: {answer.status_code}, and no engraved page")


def rows() -> Iterator[Row]:
    client, toolkit = teacher(), verovio.toolkit()
    workshop.close()
    cold = milliseconds(partial(send, client, polonaise(1)))
    for number in (1, 3):
        yield upload_row(client, toolkit, number, cold)
    yield cached_row()


def upload_row(client: Client, toolkit: verovio.toolkit, number: int, cold: float) -> Row:
    path = polonaise(number)
    works = (partial(send, client, path), partial(bare.parse, path), partial(bare.render, toolkit, path))
    medians(*works, times=1, before=cache.clear)
    ours, parse, render = medians(*works, times=RUNS, before=cache.clear)
    note = f"survey and recurrences too; workshop warm; music21 {parse:.0f} ms, verovio: all pages {render:.0f} ms"
    if number == 1:
        note += f"; the very first upload, workshop started for it, {cold:.0f} ms"
    peers = f"{lib('music21')} parse + {lib('verovio')} render"
    return Row(f"upload to engraved page, Polonaise {number}", ours, peers, parse + render, AT_MOST, note=note)


def cached_row() -> Row:
    """Eight measures, asked for at first and asked for again."""
    music = read("polonaise.mxl", polonaise(1).read_bytes()).music
    ask = partial(engrave_cached, music, first=8, last=15, width=900, staff=38)
    medians(ask, times=1)
    [first] = medians(ask, times=RUNS, before=cache.clear)
    [again] = medians(ask, times=3 * RUNS)
    return Row("a passage engraved again", again, "the first time, workshop warm", first, AGAIN_AT_MOST)
