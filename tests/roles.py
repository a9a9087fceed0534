"""The words of the role tables. Every URL name has one row, kept in `tests/<room>/role_table.py`."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from tests.people import Cast

WHO = ("teacher", "student", "guardian", "other_student", "other_guardian", "other_teacher", "stranger")


@dataclass(frozen=True)
class Row:
    """What each of `WHO` gets, in that order: `get` and `post` are status codes (None: that method is not tried because
    the answer is the same 405 for all who may come here). `target` gives the URL's arguments and `data` what is posted.

    `other_student` is of the same studio but not the one whose row it is; `other_teacher` is of the studio next door.
    """

    get: tuple[int, ...]
    post: tuple[int, ...] | None = None
    target: Callable[[Cast], Mapping[str, Any]] = field(default=lambda cast: {})
    data: Callable[[Cast], Mapping[str, Any]] = field(default=lambda cast: {})


# Common rows. A stranger is sent to log in (302); whoever may not come finds nothing (404).
def teachers(own: int, *, next_door: int = 404) -> tuple[int, ...]:
    """Only the teacher. Another studio's teacher gets 404 for a row of this studio, `own` for a page of her own."""
    return (own, 404, 404, 404, 404, next_door, 302)


def open_to_all(status: int) -> tuple[int, ...]:
    return (status,) * len(WHO)
