"""What the settings promise, in production too: each in a process of its own with an environment of its own."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from tests.html import assert_clean

PRODUCTION = {
    "PASSAGEWORK_SECRET_KEY": "a long secret for this test alone, 0123456789 abcdefghijklmnop ÄÖÜ",
    "PASSAGEWORK_HOSTS": "studio.example.org",
    "PASSAGEWORK_URL": "https://studio.example.org",
    "PASSAGEWORK_SMTP_HOST": "mail.example.org",
    "PASSAGEWORK_MAIL_FROM": "studio@example.org",
}


def manage(*command: str, var: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """Runs one command of the site as a served site would, with nothing of this machine's settings."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith(("PASSAGEWORK_", "DJANGO_"))}
    return subprocess.run(
        [sys.executable, "manage.py", *command],
        cwd=settings.HOME,
        env=clean | {"PASSAGEWORK_VAR": str(var)} | environment,
        capture_output=True,
        text=True,
        timeout=180,
    )


@pytest.fixture(scope="module")
def served(tmp_path_factory) -> Path:
    """A place with its static files gathered."""
    var = tmp_path_factory.mktemp("var")
    gathered = manage("collectstatic", "--no-input", "-v0", var=var, **PRODUCTION)
    assert gathered.returncode == 0, gathered.stderr
    return var


def test_a_site_that_is_set_up_passes_every_check(served):
    checked = manage("check", "--deploy", "--fail-level", "WARNING", var=served, **PRODUCTION)
    assert checked.returncode == 0, checked.stderr


@pytest.mark.parametrize(
    ("left_out", "code"),
    [
        ("PASSAGEWORK_URL", "studio.W001"),
        ("PASSAGEWORK_SMTP_HOST", "studio.W003"),
        ("PASSAGEWORK_MAIL_FROM", "studio.W004"),
        ("PASSAGEWORK_HOSTS", "security.W020"),
    ],
)
def test_what_is_left_out_is_named(served, left_out, code):
    given = {name: value for name, value in PRODUCTION.items() if name != left_out}
    checked = manage("check", "--deploy", "--fail-level", "WARNING", var=served, **given)
    assert checked.returncode == 1
    assert code in checked.stderr


def test_static_files_that_are_not_gathered_are_named(tmp_path):
    checked = manage("check", "--deploy", "--fail-level", "WARNING", var=tmp_path, **PRODUCTION)
    assert "studio.W005" in checked.stderr


def test_a_served_site_without_a_secret_does_not_start(tmp_path):
    given = {name: value for name, value in PRODUCTION.items() if name != "PASSAGEWORK_SECRET_KEY"}
    checked = manage("check", var=tmp_path, **given)
    assert checked.returncode != 0
    assert "PASSAGEWORK_SECRET_KEY" in checked.stderr


LOOK = """
import json
from django.conf import settings
from django.test import Client
client = Client(headers={"host": "studio.example.org"})
page = client.get("/log-in/", secure=True)
plain = client.get("/log-in/")
names = ["SESSION_COOKIE_SECURE", "SESSION_COOKIE_HTTPONLY", "SESSION_COOKIE_SAMESITE", "CSRF_COOKIE_SECURE",
         "CSRF_COOKIE_SAMESITE", "DEBUG", "PASSWORD_HASHERS"]
print(json.dumps({
    "settings": {name: getattr(settings, name) for name in names},
    "headers": dict(page.headers),
    "status": page.status_code,
    "cookie": {name: value for name, value in page.cookies["csrftoken"].items() if value},
    "plain": [plain.status_code, plain.get("Location")],
    "page": page.content.decode(),
}))
"""


def test_a_served_page_is_safe(served):
    answer = manage("shell", "--no-imports", "-c", LOOK, var=served, **PRODUCTION)
    assert answer.returncode == 0, answer.stderr
    seen = json.loads(answer.stdout)
    assert seen["settings"] == {
        "SESSION_COOKIE_SECURE": True,
        "SESSION_COOKIE_HTTPONLY": True,
        "SESSION_COOKIE_SAMESITE": "Lax",
        "CSRF_COOKIE_SECURE": True,
        "CSRF_COOKIE_SAMESITE": "Lax",
        "DEBUG": False,
        "PASSWORD_HASHERS": ["studio.hashers.StudioArgon2PasswordHasher"],
    }
    assert seen["status"] == 200
    assert seen["cookie"]["secure"] is True
    assert seen["plain"] == [301, "https://studio.example.org/log-in/"]
    headers = seen["headers"]
    assert headers["Strict-Transport-Security"].startswith("max-age=31536000")
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert_clean(seen["page"])


STUDIO_PAGES = ("home", "start", "log-in", "forgotten", "forgotten-sent", "help")


@pytest.mark.django_db
@pytest.mark.parametrize("name", [*STUDIO_PAGES, "nowhere"])
def test_every_page_has_a_policy_for_its_contents(name):
    url = "/nowhere/" if name == "nowhere" else reverse(name)
    policy = Client().get(url)["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "style-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy


def test_every_page_of_the_studio_has_the_policy_for_those_who_are_in(cast, logged_in):
    for user in (cast.teacher, cast.oda.user, cast.birger.user):
        for url in ("/password/", "/help/care/", "/nowhere/"):
            assert "default-src 'none'" in logged_in(user).get(url)["Content-Security-Policy"]
