"""A real Chromium at the live site: on a desk and on a phone."""

import os
import shutil
from collections.abc import Callable, Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from studio.models import User
from tests.people import Cast, gather

# The driver keeps an event loop in the test's thread; the tests' own database work there is plain all the same.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]
DESK = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all tests of a process."""
    names = ("chromium", "chromium-browser", "google-chrome")  # as tests/system_packages.sh looks for it
    executable = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, names)), None)
    if not executable:
        pytest.fail("No Chromium: install it, or say in CHROMIUM where it is.")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=executable, args=ARGUMENTS)
        yield chromium
        chromium.close()


def watched(context: BrowserContext) -> Iterator[Page]:
    """A page whose errors, those of the content policy among them, fail the test."""
    page = context.new_page()
    page.set_default_timeout(15_000)
    wrongs: list[str] = []
    page.on("pageerror", lambda error: wrongs.append(str(error)))
    page.on("console", lambda told: wrongs.append(told.text) if is_wrong(told.type, told.text) else None)
    yield page
    context.close()
    assert not wrongs


def is_wrong(kind: str, text: str) -> bool:
    """The browser also reports every answer with a status of 400 and more as an error: those are answers here."""
    return kind == "error" and "the server responded with a status of" not in text


@pytest.fixture
def page(browser: Browser, live_server) -> Iterator[Page]:
    """A page on a desk."""
    yield from watched(browser.new_context(base_url=live_server.url, viewport=DESK, reduced_motion="reduce"))


@pytest.fixture
def phone(browser: Browser, live_server) -> Iterator[Page]:
    """A page on a phone."""
    yield from watched(
        browser.new_context(
            base_url=live_server.url, viewport=PHONE, has_touch=True, is_mobile=True, reduced_motion="reduce"
        )
    )


@pytest.fixture
def people(live_server) -> Cast:
    """The cast, where the live site sees it."""
    return gather()


@pytest.fixture
def enter(live_server) -> Callable[[Page, User], None]:
    """Logs a page in, without the form."""

    def log_in(page: Page, user: User) -> None:
        client = Client()
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        session = client.cookies[settings.SESSION_COOKIE_NAME]
        page.context.add_cookies([{"name": session.key, "value": session.value, "url": live_server.url}])

    return log_in


@pytest.fixture
def axe() -> Callable[[Page], None]:
    """Asserts that a page breaks no rule of WCAG 2.2 AA that a machine can see, and does not scroll sideways."""

    def look(page: Page) -> None:
        found = Axe().run(page, options={"runOnly": {"type": "tag", "values": RULES}, "resultTypes": ["violations"]})
        wrongs = [
            f"{one['id']}: {one['help']}: {[node['html'][:160] for node in one['nodes'][:4]]}"
            for one in found.response["violations"]
        ]
        assert not wrongs, "\n".join(wrongs)
        wider = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wider <= 0, f"{page.url} scrolls sideways by {wider} pixels"

    return look
