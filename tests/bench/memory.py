"""The memory of a web process, started as `make run` starts it, after 200 requests of all kinds."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
import tomllib
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from functools import partial
from http.cookiejar import CookieJar
from io import BytesIO
from itertools import count, cycle
from pathlib import Path
from urllib.error import HTTPError
from urllib.request import HTTPCookieProcessor, Request, build_opener

from django.db import connection
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart
from django.urls import reverse

from lessons.demo import HOME
from tests.bench.material import polonaise
from tests.bench.measure import Row
from tests.bench.queries import demo, walk

AT_MOST = 400  # megabytes
REQUESTS = 200
BROWSERS = ("teacher", "teacher", "student", "guardian")  # at the same time

Act = tuple[str, str, dict]  # method, address, data


# The web process


def free_port() -> int:
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        return door.getsockname()[1]


@contextmanager
def web_process(port: int) -> Iterator[int]:
    """A gunicorn with one worker on the house's database; gives the worker's process id."""
    command = [sys.executable, "-m", "gunicorn", "studio.wsgi", "--bind", f"127.0.0.1:{port}", "--workers", "1"]
    command += ["--threads", "4", "--timeout", "120", "--no-control-socket", "--log-level", "error"]
    master = subprocess.Popen(command, env=os.environ | {"PASSAGEWORK_URL": f"http://localhost:{port}"})
    try:
        wait_for(port)
        yield children(master.pid)[0]
    finally:
        master.terminate()
        with suppress(subprocess.TimeoutExpired):
            master.wait(timeout=10)


def wait_for(port: int) -> None:
    """Until it answers. Raises `HTTPError` when the answer is that it is broken."""
    for _ in range(300):
        try:
            build_opener().open(f"http://localhost:{port}/log-in/").close()
            return
        except HTTPError:
            raise
        except OSError:
            time.sleep(0.1)
    raise RuntimeError("the web process does not answer")


def children(pid: int) -> list[int]:
    tasks = Path(f"/proc/{pid}/task").iterdir()
    return [int(child) for task in tasks for child in (task / "children").read_text().split()]


def megabytes(pid: int, name: str) -> float:
    """VmRSS (now) or VmHWM (the most so far) of a process."""
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith(name)).split()[1]) / 1024


def forget_most(pid: int) -> None:
    """Lets VmHWM begin anew."""
    Path(f"/proc/{pid}/clear_refs").write_text("5")


# Who asks


class Browser:
    """One person's cookies, what that person asks for, and how often each status was the answer."""

    def __init__(self, port: int, who: str, number: int) -> None:
        self.home = f"http://localhost:{port}"
        self.cookies = CookieJar()
        self.opener = build_opener(HTTPCookieProcessor(self.cookies))
        self.answers: Counter[int] = Counter()
        password = tomllib.loads((HOME / "demo.toml").read_text())["password"]
        self.ask("GET", reverse("log-in"), {})
        self.ask("POST", reverse("log-in"), {"email": demo().users[who].email, "password": password})
        self.acts = teachers_acts(number) if who == "teacher" else cycle(pages_of(who))

    def ask(self, method: str, address: str, data: dict) -> None:
        request = Request(self.home + address, method=method)
        if method == "POST":
            token = next(cookie.value for cookie in self.cookies if cookie.name == "csrftoken")
            request.data = encode_multipart(BOUNDARY, {**data, "csrfmiddlewaretoken": token})
            request.add_header("Content-Type", MULTIPART_CONTENT)
        try:
            with self.opener.open(request) as answer:
                answer.read()
                self.answers[answer.status] += 1
        except HTTPError as error:
            self.answers[error.code] += 1

    def go_on(self, requests: int) -> None:
        for _ in range(requests):
            self.ask(*next(self.acts))


def pages_of(who: str) -> list[Act]:
    return [("GET", page.url, {}) for page in walk(demo())[0] if page.who == who]


def file_of(number: int) -> BytesIO:
    path = polonaise(1 + number % 4)
    file = BytesIO(path.read_bytes())
    file.name = path.name
    return file


def teachers_acts(start: int) -> Iterator[Act]:
    """What a teacher does, round and round: pages, uploads, engravings of many widths, handouts and their PDFs."""
    focus, pages = demo(), cycle(pages_of("teacher"))
    edition, passage, lesson = ([row.pk] for row in (focus.passage.edition, focus.passage, focus.lesson))
    for turn in count(start):
        width = 320 + 370 * turn % 900
        yield "POST", reverse("new-piece"), {"title": f"Sent {turn}", "file": file_of(turn)}
        yield next(pages)
        yield "GET", f"{reverse('edition', args=edition)}?width={width}", {}
        yield "GET", f"{reverse('desk-music', args=passage)}?width={width}", {}
        yield next(pages)
        yield "GET", reverse("handout-draft", args=lesson) + ("?paper=Letter", "?large_print=on", "")[turn % 3], {}
        yield "POST", reverse("give-handout", args=lesson), {"paper": "A4"}
        yield next(pages)


def rows() -> Iterator[Row]:
    pages_of("teacher")
    connection.close()
    port = free_port()
    with web_process(port) as worker, ThreadPoolExecutor(len(BROWSERS)) as threads:
        browsers = list(threads.map(partial(Browser, port), BROWSERS, range(0, 100, 25)))
        sizes, log_ins = [megabytes(worker, "VmRSS")], megabytes(worker, "VmHWM")
        forget_most(worker)
        asked = sum(sum(browser.answers.values()) for browser in browsers)
        for part in ((REQUESTS - asked) // 2, REQUESTS - asked - (REQUESTS - asked) // 2):
            shares = [part // len(browsers) + (place < part % len(browsers)) for place in range(len(browsers))]
            list(threads.map(Browser.go_on, browsers, shares))
            sizes.append(megabytes(worker, "VmRSS"))
        most = megabytes(worker, "VmHWM")
        porters = [megabytes(child, "VmRSS") for child in children(worker)]
    answers = sum((browser.answers for browser in browsers), Counter())
    note = (
        f"most at any moment; {sizes[0]:.0f} MB after the log-ins, {sizes[1]:.0f} half-way, {sizes[2]:.0f} at the end; "
        f"the workshop's porter beside it {', '.join(f'{size:.0f}' for size in porters) or 'none'} MB; "
        f"{answers.total()} requests answered "
        + ", ".join(f"{status} {many} times" for status, many in sorted(answers.items()))
    )
    note_of_log_ins = "most at any moment: a password's hash takes its memory for a moment, by design"
    yield Row("a web process, four log-ins at once", log_ins, "limit", AT_MOST, 1, "MB", note_of_log_ins)
    is_broken = any(status >= 400 for status in answers)
    yield Row("a web process, 200 mixed requests", most, "limit", AT_MOST, 1, "MB", note, is_broken)
