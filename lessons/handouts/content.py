"""Everything that one handout says, gathered into one value.

The page on the screen and the PDF are drawn from it alone, and it is kept with a handout that was given: so it holds
finished words and pictures, no rows.
"""

from __future__ import annotations

from dataclasses import MISSING, asdict, dataclass, fields, is_dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import Any, TypeVar, get_args, get_type_hints

from django.utils.translation import gettext as _

Value = TypeVar("Value")

DAYS_IN_A_ROW = 7
LARGER = 1.2  # how far a passage that is narrower than the column may grow


@dataclass(frozen=True)
class Music:
    """One engraved system. `width` and `height` in points; `words` say it to those who do not see it."""

    svg: str
    width: float
    height: float
    words: str


@dataclass(frozen=True)
class Option:
    """A fingering that the student may play: its numeral, the hand, and the fingers as one types them."""

    numeral: str
    hand: str
    where: str
    fingers: str
    is_chosen: bool
    remark: str


@dataclass(frozen=True)
class Ornament:
    """An ornament and how it is played. `written` are its notes in words, one text for each way that is left open."""

    measure: str
    beat: str
    what: str
    placement: str
    remark: str
    written: tuple[str, ...] = ()

    @property
    def where(self) -> str:
        return _("measure %(measure)s, beat %(beat)s") % {"measure": self.measure, "beat": self.beat}


@dataclass(frozen=True)
class Stage:
    title: str
    instruction: str


@dataclass(frozen=True)
class Rhythm:
    """Two hands' rhythm: the grid as a picture (its `width` and `height` in points) and in words, and the stages."""

    where: str
    chart: str
    width: float
    height: float
    words: str
    order: str
    remark: str
    stages: tuple[Stage, ...]


@dataclass(frozen=True)
class Remark:
    """What the teacher wrote at a place. `measure` as printed."""

    measure: str
    text: str


@dataclass(frozen=True)
class Work:
    """One passage to practise. Tempos in quarters a minute; None where none was set."""

    number: int
    title: str
    composer: str
    edition: str
    where: str
    hands: str
    task: str
    music: tuple[Music, ...]
    trouble: str
    options: tuple[Option, ...]
    ornaments: tuple[Ornament, ...]
    rhythms: tuple[Rhythm, ...]
    remarks: tuple[Remark, ...]
    tempo_now: int | None
    tempo_goal: int | None
    ladder: tuple[int, ...]

    def growth(self, column: float) -> float:
        """By how much the music may be drawn larger, where it is narrower than the column (in points)."""
        widest = max((system.width for system in self.music), default=column)
        return max(1.0, min(LARGER, column / widest))

    @property
    def has_open_options(self) -> bool:
        """Whether some hand's fingering is left to the student."""
        return any(not option.is_chosen for option in self.options)

    @property
    def nothing_is_chosen(self) -> bool:
        return not any(option.is_chosen for option in self.options)

    @property
    def open_options(self) -> list[tuple[Option, str]]:
        """The fingerings that are not chosen, each with its place: the hand where both have some, the stretch where it
        is a part."""
        hands = {option.hand for option in self.options}
        return [
            (option, " · ".join(part for part in (option.hand if len(hands) > 1 else "", option.where) if part))
            for option in self.options
            if not option.is_chosen
        ]


@dataclass(frozen=True)
class Task:
    """A piece given as a whole, or what was said about a piece of which passages follow."""

    title: str
    composer: str
    remark: str


@dataclass(frozen=True)
class Content:
    """One handout. `day` is the lesson's, `until` the next one's; `url` leads to the student's page ("": none)."""

    studio: str
    student: str
    day: date
    until: date
    notes: str
    tasks: tuple[Task, ...]
    works: tuple[Work, ...]
    caution: str
    url: str
    paper: str
    large_print: bool
    language: str

    @cached_property
    def days(self) -> tuple[date, ...]:
        """The days of the practice table: from the lesson's to the one before the next lesson."""
        count = max(1, (self.until - self.day).days)
        return tuple(self.day + timedelta(days=number) for number in range(count))

    @cached_property
    def rows_of_days(self) -> tuple[tuple[date, ...], ...]:
        """The days in rows that fit the paper."""
        return tuple(self.days[start : start + DAYS_IN_A_ROW] for start in range(0, len(self.days), DAYS_IN_A_ROW))

    @property
    def is_bare(self) -> bool:
        """Nothing is given and nothing is said yet."""
        return not (self.notes or self.tasks or self.works)


def to_data(content: Content) -> dict[str, Any]:
    """As JSON-able data; `from_data` gives it back."""
    return asdict(content) | {"day": content.day.isoformat(), "until": content.until.isoformat()}


def from_data(data: dict[str, Any]) -> Content:
    """Content from JSON-able data. Raises `KeyError` where something is lacking."""
    return built(Content, data)


def built(kind: type[Value], data: dict[str, Any]) -> Value:
    """A value of a kind; what a handout of an earlier day does not have yet is as its kind has it by default."""
    hints = get_type_hints(kind)
    given = [field for field in fields(kind) if field.name in data or field.default is MISSING]  # type: ignore[arg-type]
    return kind(**{field.name: value_of(hints[field.name], data[field.name]) for field in given})


def value_of(hint: Any, found: Any) -> Any:
    if hint is date:
        return date.fromisoformat(found)
    if isinstance(found, list):
        return tuple(value_of(get_args(hint)[0], one) for one in found)
    if is_dataclass(hint):
        return built(hint, found)  # type: ignore[arg-type]
    return found
