"""The house that is measured: the real settings, with a database, a cache and files of its own that are thrown away."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import django
from django.core.management import call_command


@contextmanager
def thrown_away() -> Iterator[Path]:
    """Django set up on an empty SQLite database, migrated; all is removed at the end. Nothing of the project that has
    models may be imported before."""
    home = Path(tempfile.mkdtemp(prefix="passagework-bench-"))
    os.environ.pop("DATABASE_URL", None)
    os.environ |= {
        "DJANGO_SETTINGS_MODULE": "studio.settings",
        "PASSAGEWORK_LOCAL": "1",
        "PASSAGEWORK_VAR": str(home),
        "PASSAGEWORK_LOG_LEVEL": "ERROR",
    }
    try:
        django.setup()
        call_command("migrate", verbosity=0)
        yield home
    finally:
        shutil.rmtree(home, ignore_errors=True)
