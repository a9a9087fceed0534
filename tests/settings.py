"""The real settings, on one machine, with files of their own."""

import os
from pathlib import Path

os.environ.setdefault("PASSAGEWORK_LOCAL", "1")
os.environ.setdefault("PASSAGEWORK_VAR", str(Path(__file__).resolve().parent.parent / "var" / "test"))

from studio.settings import *  # noqa: F403
from studio.settings import DATABASES, VAR

EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
SECRET_KEY = "for tests"
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}

if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A file, as in real use: browser tests write from other threads, and WAL must be what is tested.
    DATABASES["default"]["TEST"] = {"NAME": VAR / "test.sqlite3"}
