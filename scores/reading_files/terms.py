"""What reading needs and gives: limits, the one exception, the result."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from scores.music.notation import Score

Params = dict[str, str | int]
Notice = tuple[str, Params]
Report = Callable[[str, int], None]


def marked(message: str) -> str:
    """Marks an English sentence for translation (imported as `_`, which the collector of messages looks for). The
    screens translate it; this room works without a web framework."""
    return message


@dataclass(frozen=True)
class Limits:
    """How large a score may be. `bytes` as sent, `unpacked` bytes of everything in a compressed file together, `tags`
    opening and closing tags of an XML file (what its tree costs in memory)."""

    bytes: int = 20 * 1024 * 1024
    unpacked: int = 100 * 1024 * 1024
    zip_entries: int = 200
    measures: int = 5000
    notes: int = 200_000
    tags: int = 6_000_000


class CannotRead(Exception):
    """The file is no score that can be used. `message` is an English sentence for people, with %(name)s places for
    `params`, marked for translation; `str()` fills it in."""

    def __init__(self, message: str, params: Params | None = None) -> None:
        # Both in `args`, so that the exception travels between processes as it is.
        super().__init__(message, dict(params or {}))
        self.message = message
        self.params: Params = dict(params or {})

    def __str__(self) -> str:
        return self.message % self.params


@dataclass(frozen=True)
class ReadEdition:
    """A score that came in. `music` is partwise MusicXML 4.0 in UTF-8 with one part of one or two staves, every <note>
    with an id; `score` the same for the engines; `notices` what the teacher should know, (msgid, params) each."""

    music: bytes
    score: Score
    format: str
    notices: tuple[Notice, ...] = ()
