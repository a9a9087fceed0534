"""What an engine says when it cannot do what was asked: a sentence for people, left to the screens to translate."""

from __future__ import annotations

from collections.abc import Mapping


class Refusal(ValueError):
    """`msgid` is an English sentence with %(name)s places for `params`; `str()` fills them in."""

    def __init__(self, msgid: str, params: Mapping[str, str | int] | None = None) -> None:
        self.msgid = msgid
        self.params: dict[str, str | int] = dict(params or {})
        super().__init__(msgid % self.params if self.params else msgid)
