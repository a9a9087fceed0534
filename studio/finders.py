"""Single files out of npm packages, as static files under names of our own.

A package's folder often holds thousands of files that no page needs, and names that an address cannot carry as they
are ("F#4v10.mp3": what follows the sharp would be a fragment). `settings.PACKAGE_FILES` names the few that are served.
"""

from collections.abc import Iterable, Iterator
from typing import Any

from django.conf import settings
from django.contrib.staticfiles import utils
from django.contrib.staticfiles.finders import BaseFinder
from django.core.checks import CheckMessage
from django.core.files.storage import FileSystemStorage, Storage


class NamedFiles(FileSystemStorage):
    """Files by served name, wherever they lie."""

    prefix = ""

    def path(self, name: str) -> str:
        return str(settings.PACKAGE_FILES[name])


class PackageFileFinder(BaseFinder):
    """Finds what `settings.PACKAGE_FILES` names: served name -> path of the file."""

    storage = NamedFiles()

    def check(self, **kwargs: Any) -> list[CheckMessage]:
        """Missing packages are named by `studio.checks.check_faces`."""
        return []

    def find(self, path: str, find_all: bool = False) -> str | list[str]:
        """The file's path, in a list with `find_all`; an empty list where none has this name."""
        found = [str(settings.PACKAGE_FILES[path])] if path in settings.PACKAGE_FILES else []
        return found if find_all or not found else found[0]

    def list(self, ignore_patterns: Iterable[str] | None) -> Iterator[tuple[str, Storage]]:
        for name in settings.PACKAGE_FILES:
            if not utils.matches_patterns(name, ignore_patterns or []):
                yield name, self.storage
