"""What goes into the log: which page went wrong, never the secret that stands in its address."""

import logging
import re

# Links for calendars, invitations, offers and undo buttons are signed (parts joined by colons) or long and random.
SECRET = re.compile(r"(?<=/)(?:[^/\s?]*:[^/\s?]*|[^/\s?]{32,})")


def without_secrets(path: str) -> str:
    """A path with each part that can be a secret cut away: "/feeds/…"."""
    return path if path.startswith("/static/") else SECRET.sub("…", path)


class CutSecrets(logging.Filter):
    """Cuts the secrets out of the paths in a record; lets every record through."""

    def filter(self, record: logging.LogRecord) -> bool:
        if isinstance(record.args, tuple):
            record.args = tuple(
                without_secrets(one) if isinstance(one, str) and one.startswith("/") else one for one in record.args
            )
        return True
